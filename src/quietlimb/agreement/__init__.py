"""A method beside its reference: bias, limits, criteria. Statistics on pairs; no files, no sentences, no pictures."""
