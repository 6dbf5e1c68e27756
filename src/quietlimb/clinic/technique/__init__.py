"""How the practice measures: protocol kept, readings a session, what is discarded, last digits, minutes to level."""
