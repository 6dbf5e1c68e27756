"""Comparisons of a method with a reference: a file of pairs is looked at, kept as it came, and shown with its figures.

The statistics are those of `quietlimb compare`; nothing is computed here. A comparison that was kept is never changed,
only retired.
"""
