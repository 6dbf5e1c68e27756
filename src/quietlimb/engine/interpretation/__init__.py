"""What a charted pressure means: category, organs, next step, cautions. Codes and numbers, no sentences."""
