"""The clinic's own hasher at the least that argon2 asks for: nobody has to be kept out of the tests' practice."""

from __future__ import annotations

from quietlimb.clinic.people import hashing


class Hasher(hashing.Hasher):
    """A thousand tests sign somebody in, and what a password costs whoever guesses would be half of their time."""

    time_cost = 1
    memory_cost = 8  # KiB
    parallelism = 1
