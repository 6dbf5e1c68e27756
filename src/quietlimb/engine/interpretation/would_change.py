"""What would change the advice: each thing is tried, and told where other advice comes out of it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

from quietlimb.engine.interpretation.background import EarlierSession
from quietlimb.engine.interpretation.case import Case
from quietlimb.engine.interpretation.categories import exact
from quietlimb.engine.interpretation.decision import decide
from quietlimb.engine.interpretation.interpretation import OrganCheck, WouldChange
from quietlimb.engine.interpretation.organs import damaged, organ_damage
from quietlimb.engine.interpretation.status import animal_status, days_to_persist

# code -> the numbers that it carries
CHANGE_CODES: Mapping[str, tuple[str, ...]] = {
    "pressure-from": ("mmhg",),
    "pressure-under": ("mmhg",),
    "eyes-found-damaged": (),
    "kidneys-found-damaged": (),
    "sessions-agree": ("sessions",),
    "normal-at-home": ("mmhg",),
}
# Boundaries farther away than a usual change between two sessions say little about the next one.
NEAR_MMHG = 25.0
_JUST_UNDER = 1e-6


def would_change(case: Case) -> tuple[WouldChange, ...]:
    """What would bring other advice, each with the advice that would be new; none without a category."""
    if case.level is None or not case.awake:
        return ()
    now = {advice.code for advice in decide(case)}
    if "organ-check-first" in now:
        now.add("organs-still-unknown")  # asked for already, under the other name
    found = []
    for code, numbers, other in _tried(case):
        then = tuple(advice for advice in decide(other) if advice.code not in now)
        if then:
            found.append(WouldChange(code=code, numbers=numbers, then=then))
    return tuple(found)


def _tried(case: Case) -> Iterator[tuple[str, dict[str, float], Case]]:
    assert case.systolic is not None
    value = case.systolic.value
    edges = _edges(case)
    up = next((edge for edge in edges if value < edge <= value + NEAR_MMHG), None)
    down = next((edge for edge in reversed(edges) if value - NEAR_MMHG <= edge <= value), None)
    if up is not None:
        yield "pressure-from", {"mmhg": up}, _at(case, up)
    if down is not None:
        yield "pressure-under", {"mmhg": down}, _at(case, down - _JUST_UNDER)
    if case.level == 0:
        return
    if "eyes" not in damaged(case.organs):
        yield "eyes-found-damaged", {}, _with_damage(case, "eyes")
    if case.organ_damage != "present":
        yield "kidneys-found-damaged", {}, _with_damage(case, "kidneys")
    if not case.background.treated and not case.rules.old:
        yield from _further_sessions(case)


def _edges(case: Case) -> list[float]:
    """Pressures at which the advice may turn: categories and lines of treatment, under treatment the goals."""
    goals = case.rules.goals
    if case.background.treated:
        cited = (goals.ideal_below, goals.minimum_below, goals.too_low_below, goals.too_low_with_signs_below)
        return sorted({each.value for each in cited if each is not None})
    lines = (line.from_mmhg.value for line in case.rules.treatment)
    return sorted({*(edge.value for edge in case.rules.systolic_from), *lines})


def _further_sessions(case: Case) -> Iterator[tuple[str, dict[str, float], Case]]:
    """As many further sessions like today's as confirm, far enough apart; and a normal pressure at home."""
    assert case.systolic is not None
    value = case.systolic.value
    asked = [line.sessions.value for line in case.rules.treatment if line.reached(value)]
    if asked and case.status is not None and case.status.name == "suspected":
        apart = days_to_persist([case.today], case.rules) or 1.0
        for further in range(1, int(max(asked)) + 1):
            other = _after(case, further * apart, tuple(_again(case.today, apart * k) for k in range(1, further)))
            if other.status is not None and other.status.name == "confirmed":
                yield "sessions-agree", {"sessions": float(further)}, other
                break
    if case.high and case.organ_damage == "absent":
        normal = case.rules.systolic_from[0].value
        home = EarlierSession(days_ago=1.0, systolic_mmhg=normal - 1.0, place="home")
        background = replace(case.background, history=(*case.background.history, home))
        yield "normal-at-home", {"mmhg": normal}, _judged_anew(replace(case, background=background))


def _again(session: EarlierSession, days_ago: float) -> EarlierSession:
    return replace(session, days_ago=days_ago)


def _after(case: Case, days: float, between: tuple[EarlierSession, ...]) -> Case:
    """The case some days on, with a pressure as today's again, and sessions in between."""
    past = tuple(_again(session, session.days_ago + days) for session in case.sessions)
    return _judged_anew(replace(case, background=replace(case.background, history=(*past, *between))))


def _judged_anew(case: Case) -> Case:
    return replace(case, status=animal_status(case.sessions, rules=case.rules))


def _at(case: Case, systolic_mmhg: float) -> Case:
    other = replace(case, systolic=exact(systolic_mmhg), category=case.rules.category_of(systolic_mmhg))
    return _judged_anew(other)


def _with_damage(case: Case, organ: str) -> Case:
    checks = tuple(
        OrganCheck(organ=check.organ, state="present") if check.organ == organ else check for check in case.organs
    )
    other = replace(case, organs=checks, organ_damage=organ_damage(checks))
    return _judged_anew(other)
