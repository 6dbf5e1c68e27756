"""Target organs: what is known of each, and what that says together. Not examined is never taken for absent."""

from __future__ import annotations

from collections.abc import Mapping
from typing import get_args

from quietlimb.engine.errors import ParameterError
from quietlimb.engine.interpretation.interpretation import Organ, OrganCheck, OrganDamage, OrganState

ORGANS: tuple[Organ, ...] = get_args(Organ)
UNKNOWN_STATES: frozenset[OrganState] = frozenset({"unclear", "not examined"})


def organ_checks(organs: Mapping[Organ, OrganState] | None) -> tuple[OrganCheck, ...]:
    """All four organs in a fixed order, each with its state; one that is not named is not examined.

    Raises
    ------
    ParameterError : an organ or a state that does not exist.
    """
    told = {} if organs is None else dict(organs)
    for organ, state in told.items():
        if organ not in ORGANS:
            raise ParameterError("unknown-organ", f"organ {organ!r} is not known", f"use one of: {', '.join(ORGANS)}")
        if state not in get_args(OrganState):
            raise ParameterError(
                "unknown-organ-state", f"{organ} is {state!r}", f"use one of: {', '.join(get_args(OrganState))}"
            )
    return tuple(OrganCheck(organ=organ, state=told.get(organ, "not examined")) for organ in ORGANS)


def organ_damage(checks: tuple[OrganCheck, ...]) -> OrganDamage:
    """`present` when any organ is damaged, `absent` only when every organ is, otherwise `not examined`."""
    states = [check.state for check in checks]
    if "present" in states:
        return "present"
    return "absent" if all(state == "absent" for state in states) else "not examined"


def unknown_organs(checks: tuple[OrganCheck, ...]) -> tuple[Organ, ...]:
    """The organs of which nothing certain is known: not examined, or unclear."""
    return tuple(check.organ for check in checks if check.state in UNKNOWN_STATES)
