"""Clues for and against a rise of the pressure by the visit itself. They tell; nothing is subtracted or decided."""

from __future__ import annotations

from collections.abc import Mapping

from quietlimb.engine.interpretation.case import Case
from quietlimb.engine.interpretation.interpretation import Clue, Direction, Strength
from quietlimb.engine.standards.situational_rise import FALL_THROUGH_SESSION, FIRST_VISIT
from quietlimb.engine.values import Standing

# code -> the numbers that it carries
CLUE_CODES: Mapping[str, tuple[str, ...]] = {
    "nothing-found-to-explain": (),
    "fell-through-session": ("fall_mmhg",),
    "still-falling": (),
    "lower-at-home": ("home_mmhg",),
    "excited": (),
    "first-visit": (),
    "lower-at-later-visits": ("first_mmhg",),
    "young-and-healthy": (),
    "calm-and-level": (),
    "organ-damage": (),
}


def _clue(
    code: str,
    direction: Direction,
    strength: Strength,
    *,
    source: str = "practice",
    standing: Standing = "common practice",
    **numbers: float,
) -> Clue:
    return Clue(code=code, direction=direction, strength=strength, numbers=numbers, source=source, standing=standing)


def clues_for(case: Case) -> tuple[Clue, ...]:
    """The clues of a raised pressure in an awake animal, the strongest for it first; none otherwise."""
    if case.level is None or case.level == 0 or case.background.treated:
        return ()
    return (*_in_favour(case), *_against(case))


def _in_favour(case: Case) -> tuple[Clue, ...]:
    told = case.background
    found: list[Clue] = []
    if case.organ_damage == "absent" and told.conditions == () and told.drugs == ():
        found.append(_clue("nothing-found-to-explain", "for", "strong"))
    if case.fall_mmhg is not None and case.fall_mmhg >= FALL_THROUGH_SESSION.value:
        found.append(_clue("fell-through-session", "for", "strong", fall_mmhg=case.fall_mmhg))
    elif case.course == "falling":
        found.append(_clue("still-falling", "for", "strong"))
    found += _from_past_sessions(case)
    if told.excited:
        found.append(_clue("excited", "for", "moderate"))
    if told.first_visit:
        found.append(_clue("first-visit", "for", "moderate", source=FIRST_VISIT.source, standing=FIRST_VISIT.standing))
    if told.young:
        found.append(_clue("young-and-healthy", "for", "moderate"))
    return tuple(found)


def _from_past_sessions(case: Case) -> list[Clue]:
    """What earlier untreated sessions of the animal awake say: at home, and from the first on."""
    assert case.level is not None
    past = sorted(
        (session for session in case.background.history if session.counts and not session.treated),
        key=lambda session: -session.days_ago,
    )
    found: list[Clue] = []
    home = [session.systolic_mmhg for session in past if session.place == "home" and session.systolic_mmhg is not None]
    if home and all(case.rules.level(value) < case.level for value in home):
        found.append(_clue("lower-at-home", "for", "strong", home_mmhg=max(home)))
    first = past[0].systolic_mmhg if past else None
    moved = case.background.treatment_moved or any(
        session.treated or session.treatment_moved for session in case.background.history
    )
    # where treatment lies between, it may be what lowered the pressure
    if first is not None and not moved and case.rules.level(first) > case.level:
        found.append(
            _clue(
                "lower-at-later-visits",
                "for",
                "moderate",
                source=FIRST_VISIT.source,
                standing=FIRST_VISIT.standing,
                first_mmhg=first,
            )
        )
    return found


def _against(case: Case) -> tuple[Clue, ...]:
    found: list[Clue] = []
    if case.high and case.background.excited is False and case.course == "level":
        found.append(_clue("calm-and-level", "against", "moderate"))
    if case.organ_damage == "present":
        found.append(_clue("organ-damage", "against", "strong"))
    return tuple(found)
