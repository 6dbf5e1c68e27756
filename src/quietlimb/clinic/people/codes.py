"""Codes that are shown once, and with which somebody sets her own password."""

from __future__ import annotations

import secrets
from datetime import timedelta

from quietlimb.clinic.starting import CODE_LETTERS

CODE_LASTS = timedelta(days=3)  # a long weekend [invented]
CODE_LENGTH = 12


def new_code() -> str:
    """A code as it is shown, in groups."""
    letters = "".join(secrets.choice(CODE_LETTERS) for _ in range(CODE_LENGTH))
    return "-".join(letters[k : k + 4] for k in range(0, CODE_LENGTH, 4))


def plain(code: str) -> str:
    """A code as it is kept and compared: capitals, blanks and hyphens do not matter."""
    return "".join(letter for letter in code.upper() if letter.isalnum())
