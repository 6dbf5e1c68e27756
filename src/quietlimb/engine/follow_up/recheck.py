"""When the next session is due, by which rule, and from when in its window a session would tell something.

| last charted value, state of treatment                  | window                                             |
|---------------------------------------------------------|----------------------------------------------------|
| low                                                     | that day or the next                               |
| treatment begun, changed or stopped, not measured since | the rule set's after a change; at 180 mmHg and     |
|                                                         | over its one for severe pressure                   |
| treated, last session under a guard of the rule set     | that day or the next, as a low pressure            |
| treated, last session severely raised                   | the rule set's for severe pressure                 |
| treated, last session not at goal, or only that one is  | 7 to 14 days after the session                     |
| treated, the last two sessions at goal                  | the rule set's for stable pressure                 |
| untreated, raised                                       | the rule set's for the category, with or without   |
|                                                         | organ damage; with it, where it sets none, as      |
|                                                         | after a change, at its highest as for severe       |
| untreated, lower than before where high pressure is     | the rule set's for a high pressure, without organ  |
| suspected or established                                | damage                                             |
| untreated, normotensive with organ damage, once         | 7 to 14 days, for what is printed as soon          |
| untreated, normotensive at home, high at visits         | 90 to 180 days, as at risk                         |
| untreated, normotensive, at risk                        | 90 to 180 days                                     |
| untreated, normotensive, cat of an age that is screened | by `standards.screening`, at least once a year     |

Of several sessions of the last day each is taken for the last in turn, and the one that asks for the soonest stands: no
session is hidden by another of its day. An earlier day counts once, by its highest pressure. A session that brought no
valid value answers nothing: where it was the last, it is repeated, see `NOTHING_OBTAINED`.

Where sessions agree but lie too close together to establish high pressure, the window counts from the first of them,
unless the last is severely raised. Whether it is suspected, established or found at visits alone is the status of the
animal, as `interpretation.status` has it; so is whether the goal was reached in two sessions, of separate days and
measured alike.

Rules look at charted values, not at the underlying course. Where a rule set sets
no window, that of ACVIM 2018 stands in. No rule was found for other normotensive animals, nor for how soon
after stopping treatment to measure; the latter is taken as after beginning it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Literal, TypeVar

import numpy as np

from quietlimb.engine.follow_up import priors
from quietlimb.engine.follow_up.course import UnderlyingCourse
from quietlimb.engine.follow_up.earlier_sessions import earlier_sessions
from quietlimb.engine.follow_up.history import History, PastSession
from quietlimb.engine.interpretation.interpretation import AnimalStatus, Organ, OrganState
from quietlimb.engine.interpretation.organs import ORGANS
from quietlimb.engine.interpretation.status import (
    HIGH_LEVEL,
    LOWER_SESSIONS_THAT_UNDO,
    LOWER_THAN_BEFORE,
    animal_status,
    counts_from_the_first,
    too_low_under_treatment,
)
from quietlimb.engine.interpretation.urgency import need
from quietlimb.engine.standards import acvim_2018 as acvim
from quietlimb.engine.standards import low_pressure
from quietlimb.engine.standards.acvim_2018 import ACVIM_2018
from quietlimb.engine.standards.rule_set import RuleSet, Window
from quietlimb.engine.standards.screening import HIGH_AT_VISITS, screening
from quietlimb.engine.units import DAYS_PER_YEAR
from quietlimb.engine.values import Cited, Standing

DueState = Literal["not yet", "due", "overdue"]
RuleCode = Literal[
    "low-pressure",
    "too-low-under-treatment",
    "nothing-obtained",
    "after-treatment-step",
    "after-treatment-step-severe",
    "severe-under-treatment",
    "until-at-goal",
    "goal-to-be-confirmed",
    "at-goal",
    "severe",
    "severe-established",
    "severe-with-organ-damage",
    "raised",
    "raised-established",
    "raised-at-visits",
    "raised-with-organ-damage",
    "lower-than-before",
    "normal-with-organ-damage",
    "high-at-visits",
    "at-risk",
    "older-cat",
    "adult-cat",
]


def _window(earliest: float, latest: float, source: str, place: str, standing: Standing) -> Window:
    return Window(
        earliest=Cited(earliest, "day", source, place, standing), latest=Cited(latest, "day", source, place, standing)
    )


UNTIL_AT_GOAL = _window(7, 14, "practice", "until the goal is reached", "common practice")
CONFIRM_GOAL = _window(7, 14, "Quietlimb", "two sessions at goal before control is called reached", "invented")
SOON_WITH_DAMAGE = _window(7, 14, "Quietlimb", "soon, taken as at 140 to 159 mmHg with damage", "invented")
# A session is held for a reason, which an attempt does not answer.
NOTHING_OBTAINED = _window(1, 14, "Quietlimb", "a session without a valid value is repeated", "invented")
# Of ACVIM 2018, taken where the chosen rule set names none.
STAND_INS = (
    *(window for window in ACVIM_2018.repeat if window is not None),
    acvim.AFTER_A_CHANGE,
    acvim.RECHECK_SEVERE_WITH_DAMAGE,
    acvim.AT_GOAL_AND_STABLE,
)
LOW_PRESSURE = _window(0, 1, "practice", "low pressure, awake", "common practice")
TOO_LOW = _window(0, 1, "Quietlimb", "too low under treatment: as soon as a low pressure", "invented")


@dataclass(frozen=True, slots=True, kw_only=True)
class Recheck:
    """When to measure again, and why.

    since_day               : the session or event that the window counts from
    earliest_day, latest_day: the window
    worth_day               : the first day in it on which a session would narrow the interval of the level by a fifth;
                              the last day where none would; None where there is no course
    damaged_days            : the window with organ damage, where the history does not tell whether there is any, and it
                              would be another; None otherwise
    stands_in               : the rule set names no window for this, and that of ACVIM 2018 is taken
    state, overdue_days     : on the day asked about
    """

    rule: RuleCode
    since_day: int
    earliest_day: int
    latest_day: int
    worth_day: int | None
    window: Window
    damaged_days: tuple[int, int] | None
    stands_in: bool
    state: DueState
    overdue_days: int


def recheck(
    history: History,
    on_day: int,
    course: UnderlyingCourse | None = None,
    *,
    rules: RuleSet = ACVIM_2018,
    tried_day: int | None = None,
) -> Recheck | None:
    """The recheck that the rules ask for, seen on a day; None without a session awake, or where no rule applies.

    course    : for the day that is worth a session
    tried_day : of the latest session that brought no valid value, where there is one; it stands in no history
    """
    found = _soonest([each for each in (_rule(history, rules), _tried(history, tried_day)) if each is not None])
    if found is None:
        return None
    rule, window, since = found
    earliest, latest = (since + round(days) for days in window.days)
    state: DueState = "not yet" if on_day < earliest else "due" if on_day <= latest else "overdue"
    return Recheck(
        rule=rule,
        since_day=since,
        earliest_day=earliest,
        latest_day=latest,
        worth_day=None if course is None else _first_day_worth(course, earliest, latest),
        window=window,
        damaged_days=_with_damage(history, rules, window),
        stands_in=rules.key != ACVIM_2018.key and window in STAND_INS,
        state=state,
        overdue_days=max(0, on_day - latest),
    )


def _with_damage(history: History, rules: RuleSet, window: Window) -> tuple[int, int] | None:
    if history.organ_damage != "not examined":
        return None
    found = _rule(replace(history, organ_damage="present"), rules)
    if found is None or found[1].days == window.days:
        return None
    earliest, latest = (found[2] + round(days) for days in found[1].days)
    return earliest, latest


Name = TypeVar("Name")


def in_order_of_need(rechecks: Iterable[tuple[Name, Recheck]]) -> list[tuple[Name, Recheck]]:
    """The recheck list: overdue first, the longest overdue against the length of its own window at the top; then by
    the last day of the window."""

    def key(entry: tuple[Name, Recheck]) -> tuple[int, float, int]:
        told = entry[1]
        order = {"overdue": 0, "due": 1, "not yet": 2}[told.state]
        # A week too late is much for a recheck after three days and little for one after half a year.
        lateness = told.overdue_days / max(1, told.latest_day - told.since_day)
        return order, -lateness, told.latest_day

    return sorted(rechecks, key=key)


Found = tuple[RuleCode, Window, int]


def _tried(history: History, tried_day: int | None) -> Found | None:
    """The repetition of a session without a valid value; None where the animal was measured since."""
    if tried_day is None or any(session.awake and session.day > tried_day for session in history.sessions):
        return None
    return "nothing-obtained", NOTHING_OBTAINED, tried_day


def _soonest(found: Sequence[Found]) -> Found | None:
    """What is to be done first; of equals the first."""
    return min(found, key=lambda each: (each[2] + each[1].latest.value, each[2] + each[1].earliest.value), default=None)


def _rule(history: History, rules: RuleSet) -> Found | None:
    """By each session of the last day as if it alone had been its last; the one that asks for the soonest stands."""
    awake = [session for session in history.sessions if session.awake]
    if not awake:
        return None
    of_the_day = sorted((each for each in awake if each.day == awake[-1].day), key=_need, reverse=True)
    found = [_rule_by(history, last, rules) for last in of_the_day]
    return _soonest([each for each in found if each is not None])


def _need(session: PastSession) -> tuple[bool, float]:
    return need(session.systolic_mmhg)


def _rule_by(history: History, last: PastSession, rules: RuleSet) -> Found | None:
    if last.systolic_mmhg < low_pressure.SYSTOLIC_BELOW.value:
        return "low-pressure", LOW_PRESSURE, last.day
    if history.events:
        event = history.events[-1]
        if event.step != "stopped" and last.day > event.day and _too_low(last.systolic_mmhg, rules):
            return "too-low-under-treatment", TOO_LOW, last.day
        severe = last.systolic_mmhg >= acvim.SEVERELY_HYPERTENSIVE_FROM.value and event.step != "stopped"
        window = _severe(rules) if severe else _after_a_change(rules)
        # An early look does not stand for the one that the rule asks for.
        if last.day < event.day + window.earliest.value:
            return "after-treatment-step-severe" if severe else "after-treatment-step", window, event.day
        if event.step != "stopped":
            return _treated(history, last, rules)
    return _untreated(history, last, rules)


def _too_low(systolic_mmhg: float, rules: RuleSet) -> bool:
    """Under a guard that holds whatever the signs; a history tells no signs."""
    return too_low_under_treatment(systolic_mmhg, weak=False, rules=rules) is not None


def _after_a_change(rules: RuleSet) -> Window:
    return rules.goals.after_a_change or acvim.AFTER_A_CHANGE


def _severe(rules: RuleSet) -> Window:
    return rules.goals.severe or acvim.RECHECK_SEVERE_WITH_DAMAGE


def _treated(history: History, last: PastSession, rules: RuleSet) -> Found:
    systolic_mmhg, last_day = last.systolic_mmhg, last.day
    goal = (rules.goals.minimum_below or acvim.MINIMUM_GOAL_BELOW).value
    if systolic_mmhg >= acvim.SEVERELY_HYPERTENSIVE_FROM.value:
        return "severe-under-treatment", _severe(rules), last_day
    if systolic_mmhg >= goal:
        return "until-at-goal", UNTIL_AT_GOAL, last_day
    status = _status(history, last, ACVIM_2018 if rules.old else rules)
    if status is None or status.name != "treated, at target":
        return "goal-to-be-confirmed", CONFIRM_GOAL, last_day
    return "at-goal", rules.goals.stable or acvim.AT_GOAL_AND_STABLE, last_day


def _untreated(history: History, last: PastSession, rules: RuleSet) -> Found | None:
    systolic_mmhg, last_day = last.systolic_mmhg, last.day
    damage = history.organ_damage == "present"
    level = rules.level(systolic_mmhg)
    severe = level == len(rules.categories) - 1
    if level > 0 and damage:
        # Where damage and pressure together call for a decision at once, the look after that decision is the next.
        if severe:
            return "severe-with-organ-damage", rules.repeat_damaged[level] or _severe(rules), last_day
        return "raised-with-organ-damage", rules.repeat_damaged[level] or _after_a_change(rules), last_day
    status = _status(history, last, rules)
    if level > 0 and (repeat := rules.repeat[level] or ACVIM_2018.repeat[ACVIM_2018.level(systolic_mmhg)]):
        return _raised(status, severe, repeat, last_day)
    if status is not None and status.reason in LOWER_THAN_BEFORE:
        return "lower-than-before", rules.repeat[HIGH_LEVEL] or acvim.REPEAT_HYPERTENSIVE, last_day
    if damage and _normal_once(history, last, rules):
        return "normal-with-organ-damage", SOON_WITH_DAMAGE, last_day
    if status is not None and status.name == "situational":
        return "high-at-visits", HIGH_AT_VISITS, last_day
    born = history.born_day
    years = None if born is None else (last_day - born) / DAYS_PER_YEAR
    found = screening(history.species, rules.source, years=years, at_risk=history.at_risk or damage)
    if found is None or found.window is None or found.code == "young-dog":
        return None
    return found.code, found.window, last_day


def _normal_once(history: History, last: PastSession, rules: RuleSet) -> bool:
    """Whether the last day with a session is the only one of normal pressure since the one before it was raised."""
    by_day = [*_highest_of_each_day(history, last.day), last.systolic_mmhg]
    return len(by_day) < LOWER_SESSIONS_THAT_UNDO or any(
        rules.level(value) > 0 for value in by_day[-LOWER_SESSIONS_THAT_UNDO:]
    )


def _highest_of_each_day(history: History, before: int) -> list[float]:
    """The charted pressures of the days before another, one each, in order of time. [mmHg]"""
    highest: dict[int, float] = {}
    for session in history.sessions:
        if session.awake and session.day < before:
            highest[session.day] = max(session.systolic_mmhg, highest.get(session.day, 0.0))
    return list(highest.values())


def _raised(status: AnimalStatus | None, severe: bool, repeat: Window, last_day: int) -> Found:
    """A raised pressure without known damage: to be confirmed, established already, or found at visits alone."""
    if status is not None and status.name == "situational" and not severe:
        return "raised-at-visits", repeat, last_day
    if status is not None and status.name == "confirmed":
        return "severe-established" if severe else "raised-established", repeat, last_day
    since = last_day
    if status is not None and not severe and counts_from_the_first(status, repeat):
        since -= round(status.numbers["days"])
    return "severe" if severe else "raised", repeat, since


def _status(history: History, last: PastSession, rules: RuleSet) -> AnimalStatus | None:
    """Of the animal at its last session; that every organ was examined and sound counts for that session."""
    told = earlier_sessions(history, last.day + 1)
    pairs = [each for each in zip(history.sessions, told, strict=False) if each[0] != last]
    final = next(each for session, each in zip(history.sessions, told, strict=False) if session == last)
    if history.organ_damage == "absent":
        sound: dict[Organ, OrganState] = dict.fromkeys(ORGANS, "absent")
        final = replace(final, organs=sound)
    return animal_status((*(each for _session, each in pairs), final), rules=rules)


def _first_day_worth(course: UnderlyingCourse, earliest: int, latest: int) -> int:
    own = course.stretch.middle_own_sd
    noise = course.between_sd**2 + own**2
    first = max(earliest, course.stretch.last_day)
    days = np.arange(first, max(latest, first) + 1, dtype=np.float64)
    for chunk in np.array_split(days, max(1, days.size // 30)):
        mean, covariance = course.levels(chunk)
        before = np.diagonal(covariance, axis1=1, axis2=2)
        after = before * noise[:, None] / (before + noise[:, None])
        # What the components disagree about would not be settled by one session.
        apart = course.weight @ (mean - course.weight @ mean) ** 2
        ratio = np.sqrt((course.weight @ after + apart) / (course.weight @ before + apart))
        worth = np.flatnonzero(ratio <= 1.0 - priors.WORTH_NARROWING.value)
        if worth.size:
            return int(chunk[worth[0]])
    return max(latest, first)
