"""What a learner did: one inflation after the other, kept or thrown out, and why."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from quietlimb.engine.errors import ParameterError
from quietlimb.engine.reading import Reading
from quietlimb.simulator.training.choices import Choices


@dataclass(frozen=True, slots=True, kw_only=True)
class Attempt:
    """One inflation of a learner.

    minute : from the first inflation of the session [min]
    number : of the inflation, from 1
    kept   : whether its reading was kept for what is charted
    why    : why not, in the learner's own words
    opened_at_mmhg : at which the valve was opened before the end, so that the recording ends there; None where nobody
                     broke it off [mmHg]
    tape_cm        : the circumference of the limb as it was put down; None where it was not [cm]
    as_read        : the reading as it stood at the table; None where it is to be read anew
    """

    choices: Choices
    minute: float
    number: int
    kept: bool = True
    why: str | None = None
    opened_at_mmhg: float | None = None
    tape_cm: float | None = None
    as_read: Reading | None = None


def in_order(attempts: Sequence[Attempt]) -> tuple[Attempt, ...]:
    """The attempts, checked.

    Raises
    ------
    ParameterError : none at all, or numbers or minutes that do not rise.
    """
    if not attempts:
        raise ParameterError("no-attempt", "there is no inflation to look at", "inflate once at least")
    for before, after in pairwise(attempts):
        if after.number <= before.number or after.minute < before.minute:
            raise ParameterError(
                "attempts-out-of-order",
                f"inflation {after.number} at minute {after.minute:g} comes after "
                f"inflation {before.number} at minute {before.minute:g}",
                "give the inflations in the order taken, each number once",
            )
    return tuple(attempts)
