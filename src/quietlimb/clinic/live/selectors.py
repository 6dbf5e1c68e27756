"""What is listened to in a session, for pages that ask again and again."""

from __future__ import annotations

from quietlimb.clinic.live.running import CAPTURES
from quietlimb.clinic.sessions.models import Series


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
