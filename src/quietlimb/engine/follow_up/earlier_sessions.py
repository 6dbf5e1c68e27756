"""From a history to what an interpretation may rest on: earlier sessions, and how far the animal varies."""

from __future__ import annotations

from collections.abc import Sequence

from quietlimb.engine.circumstances import Technique
from quietlimb.engine.errors import ParameterError
from quietlimb.engine.follow_up.change import least_change
from quietlimb.engine.follow_up.comparability import compare_sessions
from quietlimb.engine.follow_up.course import fit_course
from quietlimb.engine.follow_up.history import History, PastSession, TreatmentEvent
from quietlimb.engine.interpretation.background import EarlierSession


def earlier_sessions(history: History, day: int) -> tuple[EarlierSession, ...]:
    """The sessions before a day, as charted then: no conversion is applied.

    Treatment begun or changed on the day of a session counts from the session after it.
    """
    return _told(history, day, [session for session in history.sessions if session.day < day])


def sessions_up_to(history: History, day: int) -> tuple[EarlierSession, ...]:
    """The same with those of the day itself, 0 days ago: what was measured an hour before is not forgotten."""
    return _told(history, day, [session for session in history.sessions if session.day <= day])


def _told(history: History, day: int, sessions: Sequence[PastSession]) -> tuple[EarlierSession, ...]:
    found = []
    for session in sessions:
        around = session.circumstances
        since = max((other.day for other in sessions if other.day < session.day), default=0)
        found.append(
            EarlierSession(
                days_ago=float(day - session.day),
                systolic_mmhg=session.systolic_mmhg,
                place=around.place,
                treated=history.before(session.day - 1).treated,
                treatment_moved=is_moved(history.events, since, session.day),
                sedation=around.sedation,
                method=around.method,
                site=around.site,
            )
        )
    return tuple(found)


def is_moved(events: tuple[TreatmentEvent, ...], since: int, day: int) -> bool:
    """Whether treatment was begun, changed or stopped from the session of one day on until that of another."""
    return any(since <= event.day < day for event in events)


def day_to_day_sd(history: History, method: Technique) -> float | None:
    """From session to session by the latest comparable ones, with what is usual of any animal as prior. [mmHg]

    None where there are none by this method, or where they cannot be compared: `follow` says why, and an interpretation
    can do without.
    """
    try:
        stretches = compare_sessions(history).stretches
        if not stretches or stretches[-1].sessions[-1].circumstances.method != method:
            return None
        course = fit_course(stretches[-1], history.events)
    except ParameterError:
        return None
    return least_change(course, stretches[-1].last_day).between_sd.value
