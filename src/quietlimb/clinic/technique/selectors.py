"""Sessions of a period as plain values for the reckoning."""

from __future__ import annotations

from collections import defaultdict
from datetime import date, datetime, time, timedelta

from django.utils import timezone

from quietlimb.clinic.charting import described
from quietlimb.clinic.rights import Anyone, visible
from quietlimb.clinic.sessions.models import Ending, Reading, Series, Session
from quietlimb.clinic.sessions.selectors import told_of
from quietlimb.clinic.technique.reckoning import Measured, minutes_to_level
from quietlimb.engine.errors import QuietlimbError
from quietlimb.engine.standards.rule_sets import RULE_SETS, protocol_of

MOST_SESSIONS = 2_000
MOST_CHARTED = 200  # each takes about a hundredth of a second


def measured_between(person: Anyone, first: date, last: date) -> tuple[list[Measured], int]:
    """Ended sessions that started on these days, the newest first, and how many there were beyond the most.

    What was measured elsewhere and imported says nothing of the technique here and is left out. The newest are charted
    as well.
    """
    zone = timezone.get_current_timezone()
    found = (
        visible(person, Session)
        .exclude(ending="")
        .filter(
            imported_id="",
            started_at__gte=datetime.combine(first, time.min, zone),
            started_at__lt=datetime.combine(last + timedelta(days=1), time.min, zone),
        )
        .order_by("-started_at", "id")
    )
    rows = found.select_related("animal", "practice", "read_by").prefetch_related(
        "series__readings__recording", "series__instrument", "series__cuff"
    )[:MOST_SESSIONS]
    sessions = [_measured(session, charted=k < MOST_CHARTED) for k, session in enumerate(rows)]
    return sessions, max(0, found.count() - MOST_SESSIONS)


def readings_asked_for(rules: str) -> tuple[int, int]:
    """How many readings the protocol of a rule set asks for, with those that it drops, and how many it drops."""
    protocol = protocol_of(RULE_SETS[rules])
    return int(protocol.drop_first.value + protocol.keep_at_least.value), int(protocol.drop_first.value)


def _measured(session: Session, *, charted: bool) -> Measured:
    settled: list[float] = []
    counted = [0]
    spoiled: list[str] = []
    typed: dict[str, list[float]] = defaultdict(list)
    levelled: list[float | None] = []
    readings = struck = 0
    for series in session.series.all():
        series.session = session  # so that the animal and the practice are not fetched again
        rows = list(series.readings.all())
        standing = [row for row in rows if row.struck_at is None]
        struck += len(rows) - len(standing)
        readings += len(standing)
        spoiled += [row.spoiled for row in standing if row.spoiled]
        counted.append(sum(row.counts for row in standing))
        for row in standing:
            if row.recording_id is None and row.systolic is not None:
                typed[series.technique].append(row.systolic)
        if standing:
            minutes = described(series, min(standing, key=lambda row: row.taken_at)).acclimatisation_min
            settled += [] if minutes is None else [minutes]
        if charted:
            levelled += _levelled(series, rows)
    return Measured(
        reader=session.read_by.name if session.read_by else "",
        closed=session.ending == Ending.CLOSED,
        settled_min=min(settled, default=None),
        longest_counted=max(counted),
        readings=readings,
        struck=struck,
        spoiled=tuple(spoiled),
        typed_systolic={method: tuple(values) for method, values in typed.items()},
        levelled=tuple(levelled),
    )


def _levelled(series: Series, rows: list[Reading]) -> list[float | None]:
    """Minutes to level of one series; nothing where it cannot be charted."""
    try:
        answer = told_of(series, rows)
    except QuietlimbError:
        return []
    if answer is None:
        return []
    judged = [each for each in answer.charted.readings if each.systolic_expected is not None]
    expected = [each.systolic_expected for each in judged if each.systolic_expected is not None]
    if len(expected) < 2:
        return []
    if answer.charted.course in ("falling", "rising"):
        return [None]
    return [minutes_to_level([each.minute for each in judged], expected)]
