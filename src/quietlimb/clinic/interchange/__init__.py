"""Sessions out of the clinic and into it in open formats."""
