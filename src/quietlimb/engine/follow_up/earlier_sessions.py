"""From a history to the earlier sessions that an interpretation may rest on."""

from __future__ import annotations

from quietlimb.engine.follow_up.history import History, TreatmentEvent
from quietlimb.engine.interpretation.background import EarlierSession


def earlier_sessions(history: History, day: int) -> tuple[EarlierSession, ...]:
    """The sessions before a day, as charted then: no conversion is applied.

    Treatment begun or changed on the day of a session counts from the session after it.
    """
    found = []
    since = 0
    for session in history.sessions:
        if session.day >= day:
            break
        around = session.circumstances
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
        since = session.day
    return tuple(found)


def is_moved(events: tuple[TreatmentEvent, ...], since: int, day: int) -> bool:
    """Whether treatment was begun, changed or stopped from the session of one day on until that of another."""
    return any(since <= event.day < day for event in events)
