"""Passwords and short codes as argon2 hashes, a few at a time.

Each takes 100 MB while it is worked out; forty at once, which the counters against guessing let through, would take the
memory of a small computer.
"""

from __future__ import annotations

import threading

from django.contrib.auth.hashers import Argon2PasswordHasher

AT_ONCE = threading.BoundedSemaphore(2)


class Hasher(Argon2PasswordHasher):
    """The framework's own, with a queue before it."""

    def encode(self, password: str, salt: str) -> str:
        """A new hash."""
        with AT_ONCE:
            return super().encode(password, salt)

    def verify(self, password: str, encoded: str) -> bool:
        """Whether the password has this hash."""
        with AT_ONCE:
            return super().verify(password, encoded)
