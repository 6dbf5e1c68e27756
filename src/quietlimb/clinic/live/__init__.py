"""Cuff pressure while it falls, on the page of the table: one capture a series, on any number of screens."""
