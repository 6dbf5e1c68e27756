"""From a history to all that is said of the months: the room's one entrance."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from quietlimb.engine.errors import ParameterError
from quietlimb.engine.follow_up import priors
from quietlimb.engine.follow_up.change import (
    Change,
    HighDay,
    LeastChange,
    change_between,
    high_day,
    last_two,
    least_change,
)
from quietlimb.engine.follow_up.comparability import Comparison, Stretch, compare_sessions
from quietlimb.engine.follow_up.course import UnderlyingCourse, fit_course
from quietlimb.engine.follow_up.days import Dated, day_of
from quietlimb.engine.follow_up.history import History, PastSession, TreatmentEvent
from quietlimb.engine.follow_up.other_pressures import OtherPressure, other_pressures
from quietlimb.engine.follow_up.recheck import Recheck, recheck
from quietlimb.engine.follow_up.target import TargetProbability, boundary_probabilities, target_probabilities
from quietlimb.engine.interpretation.status import too_low_under_treatment
from quietlimb.engine.standards import acvim_2018 as acvim
from quietlimb.engine.standards.acvim_2018 import ACVIM_2018
from quietlimb.engine.standards.rule_set import RuleSet
from quietlimb.engine.standards.rule_sets import rule_set
from quietlimb.engine.values import Cited, Estimate


@dataclass(frozen=True, slots=True, kw_only=True)
class SessionInCourse:
    """One session beside the underlying level on its day.

    odd : probability that it does not belong to the others
    """

    session: PastSession
    level: Estimate
    odd: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeSinceEvent:
    """The change from before an event to the latest session, and how high the session before it stood."""

    event: TreatmentEvent
    change: Change
    high_day: HighDay | None


@dataclass(frozen=True, slots=True, kw_only=True)
class UntoldStep:
    """The level stepped although no event was told, most likely between these two sessions.

    probability : of an untold step anywhere
    """

    from_day: int
    to_day: int
    probability: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FittedStretch:
    """A stretch of comparable sessions with its course."""

    stretch: Stretch
    course: UnderlyingCourse
    sessions: tuple[SessionInCourse, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FollowUp:
    """What the sessions of an animal say on a day. Everything but `earlier` is of the stretch with the latest session.

    level          : underlying systolic pressure on the day, under the usual circumstances, by this way of measuring
    since_last     : the change between the two latest sessions; None with one
    since_first    : the change from the first session to the latest; None with fewer than three
    between_days   : the change from a day that was asked about, or from the first session where that is later, to
                     another day, or to the latest session where no other was asked about; None where none was, and
                     where no time lies between
    since_events   : for each event that has a comparable session before and after it
    rule_set       : name of the rules whose goals and windows are used
    targets        : goals and guards of a treated animal, the boundaries of the categories of an untreated one, and low
    untold_step    : None where it is less likely than not
    others         : mean and diastolic pressure where sessions tell them; no rule looks at them
    treated        : whether treatment was last begun or changed, not stopped
    recheck        : None where no rule asks for one
    limits         : of the cautions that rest on a figure in print or of our own, by their code
    parameters     : what was asked, as text: day, amount, certainty, rules; part of the fingerprint
    """

    history: History
    on_day: int
    rule_set: str
    comparison: Comparison
    earlier: tuple[FittedStretch, ...]
    latest: FittedStretch | None
    level: Estimate | None
    targets: tuple[TargetProbability, ...]
    since_last: Change | None
    since_first: Change | None
    between_days: Change | None
    since_events: tuple[ChangeSinceEvent, ...]
    untold_step: UntoldStep | None
    least: LeastChange | None
    others: tuple[OtherPressure, ...]
    treated: bool
    recheck: Recheck | None
    cautions: tuple[str, ...]
    limits: Mapping[str, Cited]
    parameters: Mapping[str, str]

    @property
    def fingerprint(self) -> str:
        """Of the history up to the day, and of what was asked; see `History.fingerprint_with`."""
        return self.history.fingerprint_with(self.parameters)


CAUTION_CODES = (
    "low-may-be",
    "latest-severe",
    "latest-too-low",
    "low-if-weak",
    "break",
    "converted",
    "marked-differences",
    "odd-session",
    "latest-unsettled",
    "untold-step",
    "not-measured-since-treatment",
    "begun-on-a-high-day",
    "low-on-the-day-of-treatment",
    "asked-before-first-session",
    "nothing-in-the-time-asked",
    "one-session",
    "few-sessions",
    "long-ago",
    "sedated-left-out",
    "this-method-only",
    "veterinarian-decides",
    "not-a-certified-device",
)
FEW_SESSIONS = 4  # fewer, and what is usual of any animal counts for more than its own sessions
LONG_AGO = Cited(183.0, "day", "Quietlimb", "half a year", "invented")
ODD_FROM = 0.5
STEP_FROM = 0.5
UNSETTLED_FROM = 0.15  # in a stable animal one session in ten gets there; see validation/follow_up.txt [invented]
LOW_FROM = 0.05
_LOW_TARGETS = frozenset({"reassess", "reassess-with-signs", "low"})
# What has to be told before everything else: no course may talk such a session away.
URGENT_CODES = frozenset({"low-may-be", "latest-severe", "latest-too-low", "low-if-weak"})


def follow(
    history: History,
    *,
    on_day: int | Dated,
    by_mmhg: float = priors.CHANGE_WORTH_TELLING.value,
    certainty: float = priors.CERTAINTY.value,
    rules: RuleSet | str = ACVIM_2018,
    since_day: int | Dated | None = None,
    until_day: int | Dated | None = None,
) -> FollowUp:
    """What a history says on a day; later entries are left out, so that an old day is seen as it was then.

    Parameters
    ----------
    on_day    : a `datetime.date`, or its number as in the history; the same holds for the other days
    by_mmhg   : how large a change is asked about [mmHg]
    certainty : probability from which it is called one
    rules     : whose goals and windows; a rule set, or the key of one
    since_day : a day from which the change is asked about as well; the first session that can be compared where it lies
                before that
    until_day : and up to which; the latest session if left out

    Raises
    ------
    ParameterError : those of `compare_sessions`, `fit_course`, `change_between` and `rule_set`; nothing up to the day
                     (`no-session-yet`); an end of the change without its beginning (`until-without-since`) or after
                     the day judged from (`until-after-today`); a day that is none (`not-a-day`).
    """
    on_day = day_of(on_day, "on_day")
    since_day = None if since_day is None else day_of(since_day, "since_day")
    until_day = None if until_day is None else day_of(until_day, "until_day")
    _check_until(since_day, until_day, on_day)
    if isinstance(rules, str):
        rules = rule_set(rules, history.species)
    known = history.before(on_day)
    if not known.sessions:
        raise ParameterError("no-session-yet", "there is no session up to that day", "give a later day")
    comparison = compare_sessions(known)
    fitted = tuple(_fitted(stretch, known) for stretch in comparison.stretches)
    latest = fitted[-1] if fitted else None
    parameters = {
        "on_day": str(on_day),
        "by": str(float(by_mmhg)),
        "certainty": str(float(certainty)),
        "rules": rules.key,
    }
    if since_day is not None:
        parameters["since_day"] = str(since_day)
    if until_day is not None:
        parameters["until_day"] = str(until_day)
    if latest is None:
        return FollowUp(
            history=known,
            on_day=on_day,
            rule_set=rules.name,
            comparison=comparison,
            earlier=(),
            latest=None,
            level=None,
            targets=(),
            since_last=None,
            since_first=None,
            between_days=None,
            since_events=(),
            untold_step=None,
            least=None,
            others=(),
            treated=known.treated,
            recheck=None,
            cautions=("sedated-left-out", "veterinarian-decides", "not-a-certified-device"),
            limits={},
            parameters=parameters,
        )
    course, sessions = latest.course, latest.stretch.sessions
    level = course.level(on_day)
    pair = last_two(sessions)
    first, last = sessions[0].day, sessions[-1].day

    def change(from_day: int, to_day: int = last) -> Change:
        return change_between(course, from_day, to_day, by_mmhg=by_mmhg, certainty=certainty)

    events = tuple(
        ChangeSinceEvent(event=event, change=change(event.day), high_day=high_day(course, event))
        for event in course.events
        if event.day < last
    )
    between = None
    asked: list[str] = []
    if since_day is not None:
        until = last if until_day is None else until_day
        if since_day < first:
            asked.append("asked-before-first-session" if first < until else "nothing-in-the-time-asked")
        if since_day >= first or first < until:
            between = change(max(since_day, first), until)

    targets = target_probabilities(level, rules) if known.treated else boundary_probabilities(level, rules)
    untold_step = _untold_step(course)
    cautions = _cautions(known, comparison, latest, events, targets, untold_step is not None, asked, on_day, rules)
    limits = _limits(min(_of_the_last_day(known, latest), key=_systolic), targets, rules)
    return FollowUp(
        history=known,
        on_day=on_day,
        rule_set=rules.name,
        comparison=comparison,
        earlier=fitted[:-1],
        latest=latest,
        level=level.estimate(),
        targets=targets,
        since_last=None if pair is None else change(pair[0].day),
        since_first=None if pair is None or pair[0].day == first else change(first),
        between_days=between,
        since_events=events,
        untold_step=untold_step,
        least=least_change(course, on_day),
        others=other_pressures(latest.stretch, course.events, on_day=on_day, by_mmhg=by_mmhg, certainty=certainty),
        treated=known.treated,
        recheck=recheck(known, on_day, course, rules=rules),
        cautions=cautions,
        limits={code: limits[code] for code in cautions if code in limits},
        parameters=parameters,
    )


def _check_until(since_day: int | None, until_day: int | None, on_day: int) -> None:
    if until_day is None:
        return
    if since_day is None:
        raise ParameterError(
            "until-without-since",
            "the change asked about has an end but no beginning",
            "give the day it begins as well",
        )
    if until_day > on_day:
        raise ParameterError(
            "until-after-today", "the change asked about ends after the day judged from", "give an earlier day"
        )


def _fitted(stretch: Stretch, history: History) -> FittedStretch:
    course = fit_course(stretch, history.events)
    odd = course.odd_probability()
    return FittedStretch(
        stretch=stretch,
        course=course,
        sessions=tuple(
            SessionInCourse(session=session, level=course.level(session.day).estimate(), odd=float(odd[k]))
            for k, session in enumerate(stretch.sessions)
        ),
    )


def _untold_step(course: UnderlyingCourse) -> UntoldStep | None:
    steps = course.step_probability()
    probability = min(1.0, sum(steps.values()))
    if probability < STEP_FROM:
        return None
    day = max(steps, key=lambda each: steps[each])
    after = min(session.day for session in course.stretch.sessions if session.day > day)
    return UntoldStep(from_day=int(day), to_day=after, probability=probability)


def _highest_low_limit(targets: tuple[TargetProbability, ...]) -> Cited:
    return max((each.below for each in targets if each.code in _LOW_TARGETS), key=lambda limit: limit.value)


def _low_on_the_day_of_treatment(history: History, targets: tuple[TargetProbability, ...]) -> bool:
    """Whether a session on a day on which treatment was begun or changed lies under a limit of low pressure."""
    limit = _highest_low_limit(targets).value
    days = {event.day for event in history.events if event.step != "stopped"}
    return any(session.awake and session.day in days and session.systolic_mmhg < limit for session in history.sessions)


def _of_the_last_day(history: History, latest: FittedStretch) -> list[PastSession]:
    """By all ways of measuring: a session that cannot be compared is no less urgent for that."""
    return [each for each in history.sessions if each.awake and each.day == latest.stretch.last_day]


def _systolic(session: PastSession) -> float:
    return session.systolic_mmhg


def _under_a_guard(history: History, lowest: PastSession, *, weak: bool, rules: RuleSet) -> bool:
    """Whether the lowest session of the last day lies under a guard of treatment that was begun or changed before that
    day, in an animal that is weak or not."""
    last = history.events[-1] if history.events else None
    if last is None or last.step == "stopped" or lowest.day <= last.day:
        return False
    return too_low_under_treatment(lowest.systolic_mmhg, weak=weak, rules=rules) is not None


def _limits(lowest: PastSession, targets: tuple[TargetProbability, ...], rules: RuleSet) -> dict[str, Cited]:
    """The figure that each caution would rest on, as far as it rests on one."""
    found = {
        "low-may-be": next(target.below for target in targets if target.code == "low"),
        "latest-severe": acvim.SEVERELY_HYPERTENSIVE_FROM,
        "low-on-the-day-of-treatment": _highest_low_limit(targets),
        "long-ago": LONG_AGO,
    }
    for code, weak in (("low-if-weak", True), ("latest-too-low", False)):
        guard = too_low_under_treatment(lowest.systolic_mmhg, weak=weak, rules=rules)
        if guard is not None:
            found[code] = guard
    return found


def _cautions(
    history: History,
    comparison: Comparison,
    latest: FittedStretch,
    events: tuple[ChangeSinceEvent, ...],
    targets: tuple[TargetProbability, ...],
    stepped: bool,
    asked: list[str],
    on_day: int,
    rules: RuleSet,
) -> tuple[str, ...]:
    offsets = {offset.circumstance for session in latest.stretch.offsets for offset in session}
    sessions = latest.sessions
    of_the_day = _of_the_last_day(history, latest)
    lowest = min(of_the_day, key=_systolic)
    low = next(target for target in targets if target.code == "low")
    too_low, if_weak = (_under_a_guard(history, lowest, weak=weak, rules=rules) for weak in (False, True))
    begun = [since.high_day for since in events if since.event.step != "stopped" and since.high_day is not None]
    applies = {
        "low-may-be": low.probability >= LOW_FROM or lowest.systolic_mmhg < low.below.value,
        "latest-severe": max(each.systolic_mmhg for each in of_the_day) >= acvim.SEVERELY_HYPERTENSIVE_FROM.value,
        "latest-too-low": too_low,
        "low-if-weak": if_weak and not too_low,
        "break": len(comparison.stretches) > 1,
        "converted": "converted" in offsets,
        "marked-differences": bool(offsets - {"converted"}),
        "odd-session": any(session.odd >= ODD_FROM for session in sessions),
        "latest-unsettled": not stepped and latest.course.unsettled_probability() >= UNSETTLED_FROM,
        "untold-step": stepped,
        "not-measured-since-treatment": any(
            latest.stretch.last_day <= event.day < on_day for event in latest.course.events
        ),
        "begun-on-a-high-day": any(found.high for found in begun),
        "low-on-the-day-of-treatment": _low_on_the_day_of_treatment(history, targets),
        "asked-before-first-session": "asked-before-first-session" in asked,
        "nothing-in-the-time-asked": "nothing-in-the-time-asked" in asked,
        "one-session": len(sessions) == 1,
        "few-sessions": 1 < len(sessions) < FEW_SESSIONS,
        "long-ago": on_day - latest.stretch.last_day > LONG_AGO.value,
        "sedated-left-out": bool(comparison.left_out),
        "this-method-only": True,
        "veterinarian-decides": True,
        "not-a-certified-device": True,
    }
    return tuple(code for code in CAUTION_CODES if applies[code])
