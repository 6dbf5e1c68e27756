"""Putting right what was entered of an animal: its data, its owner, doubles, a session of the wrong animal."""
