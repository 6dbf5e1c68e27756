"""Bytes to vocabulary and back, one file an open format: recordings, typed sessions, folders, results as JSON."""
