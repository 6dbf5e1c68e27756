"""Recordings of cuff pressure: dropped at the table, read at once, kept as they came, read again by a newer engine."""
