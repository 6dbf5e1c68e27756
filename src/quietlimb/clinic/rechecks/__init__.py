"""Telling owners that it is time: what came of it, and the letter."""
