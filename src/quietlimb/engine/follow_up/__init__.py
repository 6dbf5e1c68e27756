"""Sessions over months: underlying pressure, change, target, and who is due. Codes and numbers, no sentences."""
