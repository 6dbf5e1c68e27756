"""The inspection folder: what an inspector asks for, as it was on a day, with the means to check it."""
