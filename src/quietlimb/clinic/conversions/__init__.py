"""Conversions that a practice chose: files of `quietlimb compare --conversion`, shown beside what was measured.

Nothing is converted unless the practice lead brought the file in, and nothing ever in place of the measured value. A
file that was brought is never changed, only withdrawn; what was signed keeps those of its day.
"""
