"""Histories that several tests share. All invented."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from quietlimb.engine.circumstances import Circumstances
from quietlimb.engine.follow_up.comparability import Stretch, compare_sessions
from quietlimb.engine.follow_up.course import UnderlyingCourse, fit_course
from quietlimb.engine.follow_up.history import History, PastSession, TreatmentEvent, TreatmentStep

AROUND = Circumstances(species="cat", instrument="display 1", site="forelimb")


def session(day: int, systolic: float, *, own_sd: float = 4.0, **around: Any) -> PastSession:
    """A session of that day; `around` changes its circumstances."""
    return PastSession(day=day, systolic_mmhg=systolic, own_sd_mmhg=own_sd, circumstances=replace(AROUND, **around))


def history(
    sessions: Sequence[tuple[int, float] | PastSession], *events: tuple[int, TreatmentStep], **known: Any
) -> History:
    """A cat's history from (day, systolic) pairs and (day, step) events."""
    return History(
        species="cat",
        sessions=tuple(each if isinstance(each, PastSession) else session(*each) for each in sessions),
        events=tuple(TreatmentEvent(day=day, step=step) for day, step in events),
        **known,
    )


def stretch(sessions: Sequence[tuple[int, float] | PastSession]) -> Stretch:
    """The stretch of the latest session."""
    return compare_sessions(history(sessions)).stretches[-1]


def course(sessions: Sequence[tuple[int, float] | PastSession], *events: tuple[int, TreatmentStep]) -> UnderlyingCourse:
    """The fitted course."""
    return fit_course(stretch(sessions), [TreatmentEvent(day=day, step=step) for day, step in events])
