"""Cuffs and instruments: what to take, and whether it can be trusted."""
