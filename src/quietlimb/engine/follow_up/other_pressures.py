"""Mean and diastolic pressure over months, where sessions tell them: beside the systolic, which alone is judged.

The model is that of the systolic pressure with the middle of its prior moved and every spread of it taken times one
factor. That is the same as fitting it to (pressure - middle) / factor and carrying the answer back, which is done. What
a session's readings left open is told of the systolic alone and taken for the same here. Sessions joined by a
conversion are left out: it carries the systolic pressure only. The factors are ours; see `priors.py`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from quietlimb.engine.follow_up import priors
from quietlimb.engine.follow_up.change import Change, change_between, last_two
from quietlimb.engine.follow_up.comparability import Stretch
from quietlimb.engine.follow_up.course import UnderlyingCourse, fit_course
from quietlimb.engine.follow_up.history import PastSession, TreatmentEvent
from quietlimb.engine.follow_up.mixture import NormalMixture
from quietlimb.engine.values import Estimate

Pressure = Literal["mean", "diastolic"]
PRESSURES: tuple[Pressure, ...] = ("mean", "diastolic")


@dataclass(frozen=True, slots=True, kw_only=True)
class OtherPressure:
    """What the sessions say of another pressure on a day.

    sessions     : how many of the stretch tell it; `last_day` is that of the latest of them
    level        : underlying pressure on the day [mmHg]
    since_last   : change between its two latest sessions; None with one
    since_events : change from each treatment event to its latest session, where it has sessions on both sides
    """

    pressure: Pressure
    sessions: int
    last_day: int
    level: Estimate
    since_last: Change | None
    since_events: tuple[tuple[TreatmentEvent, Change], ...]


def other_pressures(
    stretch: Stretch, events: tuple[TreatmentEvent, ...], *, on_day: int, by_mmhg: float, certainty: float
) -> tuple[OtherPressure, ...]:
    """Mean and diastolic pressure of a stretch of comparable sessions, those that no session tells left out.

    by_mmhg, certainty : as for the systolic
    """
    found = []
    for pressure in PRESSURES:
        course = course_of(stretch, events, pressure)
        if course is None:
            continue
        found.append(_told(course, pressure, on_day=on_day, by_mmhg=by_mmhg, certainty=certainty))
    return tuple(found)


def course_of(stretch: Stretch, events: tuple[TreatmentEvent, ...], pressure: Pressure) -> UnderlyingCourse | None:
    """The course on the scale of the systolic prior; None where no session tells the pressure."""
    middle, factor = _scale(pressure)
    kept: list[int] = []
    sessions: list[PastSession] = []
    for k, session in enumerate(stretch.sessions):
        value = session.mean_mmhg if pressure == "mean" else session.diastolic_mmhg
        if value is None or session.conversion is not None:
            continue
        kept.append(k)
        scaled = priors.LEVEL_MEAN.value + (value - middle) / factor
        sessions.append(replace(session, systolic_mmhg=scaled, own_sd_mmhg=session.own_sd_mmhg / factor))
    if not sessions:
        return None
    part = replace(stretch, sessions=tuple(sessions), offsets=tuple(stretch.offsets[k] for k in kept))
    return fit_course(part, events)


def level_of(course: UnderlyingCourse, pressure: Pressure, day: float) -> NormalMixture:
    """The level of a pressure on a day, carried back from its course. [mmHg]"""
    middle, factor = _scale(pressure)
    law = course.level(day)
    mean = middle + factor * (law.mean - priors.LEVEL_MEAN.value)
    return NormalMixture(weight=law.weight, mean=mean, sd=factor * law.sd)


def _scale(pressure: Pressure) -> tuple[float, float]:
    middle, factor = priors.OTHER_PRESSURES[pressure]
    return middle.value, factor.value


def _told(
    course: UnderlyingCourse, pressure: Pressure, *, on_day: int, by_mmhg: float, certainty: float
) -> OtherPressure:
    factor = _scale(pressure)[1]
    sessions = course.stretch.sessions
    pair, last = last_two(sessions), sessions[-1].day

    def change(from_day: int) -> Change:
        found = change_between(course, from_day, last, by_mmhg=by_mmhg / factor, certainty=certainty)
        parts = {name: factor * getattr(found.change, name) for name in ("value", "low", "high", "own_sd")}
        return replace(found, by_mmhg=by_mmhg, change=replace(found.change, **parts))

    return OtherPressure(
        pressure=pressure,
        sessions=len(sessions),
        last_day=last,
        level=level_of(course, pressure, on_day).estimate(),
        since_last=None if pair is None else change(pair[0].day),
        since_events=tuple((event, change(event.day)) for event in course.events if event.day < last),
    )
