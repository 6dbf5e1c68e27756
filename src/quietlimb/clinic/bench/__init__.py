"""Checks of instruments and cuffs at the bench, when the next is due, and the sessions that a failed one holds in
doubt."""
