"""Instruments and cuffs."""
