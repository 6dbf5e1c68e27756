"""Findings, advice and cautions as sentences: short, kind, exact, translatable."""
