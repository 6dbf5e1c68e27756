"""Owners, animals and what happened to them."""
