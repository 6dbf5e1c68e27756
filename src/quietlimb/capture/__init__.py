"""Cuff pressure while it is measured: where it comes from, and how it is kept."""
