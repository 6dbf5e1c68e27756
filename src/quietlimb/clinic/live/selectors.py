"""What is listened to in a session, for pages that ask again and again."""

from __future__ import annotations

from quietlimb.clinic.live import left
from quietlimb.clinic.live.running import CAPTURES
from quietlimb.clinic.sessions.models import Series, Session


def listened_to_elsewhere(series: Series) -> int | None:
    """The number of another series of the same session that is listened to; None where there is none.

    Where nobody listens to anything the database is not asked.
    """
    keys = CAPTURES.alive() - {series.pk}
    if not keys:
        return None
    found: int | None = (
        Series.objects.filter(session=series.session_id, pk__in=keys).values_list("ordinal", flat=True).last()
    )
    return found


def full_cuff_of(session: Session) -> float | None:
    """What a cuff of this session that is listened to holds now [mmHg]; None where it is empty, or nobody knows."""
    keys = CAPTURES.alive()
    if not keys:
        return None
    held = [
        running.now_mmhg
        for key in Series.objects.filter(session=session, pk__in=keys).values_list("pk", flat=True)
        if (running := CAPTURES.of(key)) is not None and running.is_full and running.now_mmhg is not None
    ]
    return max(held, default=None)


def air_in_the_cuff(series: Series) -> str:
    """What to say first where a capture of the series ended with a full cuff, or was cut off with one; else empty.

    A capture of this run of the program that has seen the cuff knows better than what an earlier one left.
    """
    running = CAPTURES.of(series.pk)
    if running is not None and (running.is_alive or running.air or running.now_mmhg is not None):
        return "" if running.is_alive else running.air
    return left.air_left(series)
