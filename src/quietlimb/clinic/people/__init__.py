"""Practices, the people in them, what they may do, how they sign in."""
