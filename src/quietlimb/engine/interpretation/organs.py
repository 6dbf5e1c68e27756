"""Target organs: what is known of each, and what that says together.

Not examined is never taken for absent, and each eye counts by itself. Kidney disease that was known before and does not
progress is no damage by the pressure, and the organ counts as examined.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import get_args

from quietlimb.engine.errors import ParameterError
from quietlimb.engine.interpretation.interpretation import Eye, Organ, OrganCheck, OrganDamage, OrganState

ORGANS: tuple[Organ, ...] = get_args(Organ)
EYES: tuple[Eye, ...] = get_args(Eye)
UNKNOWN_STATES: frozenset[OrganState] = frozenset({"unclear", "not examined"})
# Of both eyes together the first of these that either has.
_WORST_FIRST: tuple[OrganState, ...] = ("present", "unclear", "not examined", "absent")


def organ_checks(
    organs: Mapping[Organ | Eye, OrganState] | Mapping[Organ, OrganState] | None,
) -> tuple[OrganCheck, ...]:
    """All four organs in a fixed order, each with its state; one that is not named is not examined.

    The eyes may be told together or one by one; an eye that is not named while the other is was not examined.

    Raises
    ------
    ParameterError : an organ or a state that does not exist, known disease of another organ than the kidneys, or eyes
                     told both ways.
    """
    told: dict[str, OrganState] = {} if organs is None else {str(organ): state for organ, state in organs.items()}
    for organ, state in told.items():
        _refuse_unknown(organ, state)
    if "eyes" in told and any(eye in told for eye in EYES):
        raise ParameterError(
            "eyes-told-twice", "the eyes are told together and one by one", "tell them together, or each eye by itself"
        )
    return tuple(
        _eyes(told)
        if organ == "eyes" and any(eye in told for eye in EYES)
        else OrganCheck(organ=organ, state=told.get(organ, "not examined"))
        for organ in ORGANS
    )


def _refuse_unknown(organ: str, state: OrganState) -> None:
    if organ not in ORGANS and organ not in EYES:
        raise ParameterError(
            "unknown-organ", f"organ {organ!r} is not known", f"use one of: {', '.join((*ORGANS, *EYES))}"
        )
    if state not in get_args(OrganState):
        raise ParameterError(
            "unknown-organ-state", f"{organ} is {state!r}", f"use one of: {', '.join(get_args(OrganState))}"
        )
    if state == "known disease" and organ != "kidneys":
        raise ParameterError(
            "known-disease-of-another-organ",
            f"{organ} is {state!r}",
            "only of the kidneys is disease known before told apart; say present, absent or unclear",
        )


def _eyes(told: Mapping[str, OrganState]) -> OrganCheck:
    each = tuple((eye, told.get(eye, "not examined")) for eye in EYES)
    states = {state for _, state in each}
    together: OrganState = next(state for state in _WORST_FIRST if state in states)
    return OrganCheck(organ="eyes", state=together, eyes=each)


def organ_damage(checks: tuple[OrganCheck, ...]) -> OrganDamage:
    """`present` when any organ is newly or progressively damaged, `absent` only when every organ was examined and none
    is, otherwise `not examined`."""
    states = [check.state for check in checks]
    if "present" in states:
        return "present"
    searched = {check.organ for check in checks if check.state not in UNKNOWN_STATES} == set(ORGANS)
    return "absent" if searched else "not examined"


def damaged(checks: tuple[OrganCheck, ...]) -> frozenset[Organ]:
    """The organs with new or progressing damage."""
    return frozenset(check.organ for check in checks if check.state == "present")


def unknown_organs(checks: tuple[OrganCheck, ...]) -> tuple[Organ, ...]:
    """The organs of which nothing certain is known: not examined, or unclear."""
    return tuple(check.organ for check in checks if check.state in UNKNOWN_STATES)
