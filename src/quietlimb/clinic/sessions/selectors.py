"""Fetching what belongs to a session, and what the engine says of it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import F

from quietlimb.clinic.animals.models import Animal, OrganFinding
from quietlimb.clinic.charting import Organs, Told, engine_series, told
from quietlimb.clinic.sessions.entry import QUANTITIES, SoFar
from quietlimb.clinic.sessions.models import LateReading, Reading, Series, Session
from quietlimb.engine.errors import QuietlimbError
from quietlimb.engine.interpretation.urgency import Urgency, need, urgency_of
from quietlimb.engine.session.charted import ChartedPressure

# Organ states count for so long: what was seen of an eye months ago says little of today's. [invented]
ORGANS_COUNT_FOR_DAYS = 30
# Eyes are often looked at only once the pressure is known; seen so soon after, it belongs to the session. [invented]
ORGANS_COUNT_AFTER_DAYS = 7


def told_of(series: Series, readings: list[Reading] | None = None, *, organs: Organs | None = None) -> Told | None:
    """What the engine says of a series by the practice's rule set; None where no reading counts."""
    rows = list(series.readings.all()) if readings is None else readings
    vocabulary = engine_series(series, rows)
    return None if vocabulary is None else told(vocabulary, rules=series.session.practice.rules, organs=organs)


@dataclass(frozen=True, slots=True, kw_only=True)
class Height:
    """How high a session's series were charted.

    systolic_mmhg : of the one that asks for more: a low one, otherwise the highest; None where nothing was charted
    urgency       : whether that is low or severely raised
    whole         : False where the engine could not chart one of them, which may have been higher
    """

    systolic_mmhg: float | None
    urgency: Urgency | None
    whole: bool


def height_of(session: Session) -> Height:
    """How high the series of a session were charted; one that cannot be charted leaves the others standing."""
    pressures: list[tuple[float, float | None]] = []
    whole = True
    for series in session.series.all():
        series.session = session  # so that the animal and the practice are not fetched again
        try:
            answer = told_of(series)
        except QuietlimbError:
            whole = False
            continue
        if answer is not None and answer.charted.systolic is not None:
            pressures.append(pressures_of(answer.charted))
    if not pressures:
        return Height(systolic_mmhg=None, urgency=None, whole=whole)
    worst = max(pressures, key=lambda each: need(*each))
    return Height(systolic_mmhg=worst[0], urgency=urgency_of(*worst), whole=whole)


def pressures_of(charted: ChartedPressure) -> tuple[float, float | None]:
    """Systolic pressure, which there must be, and mean, which there may be [mmHg]: what urgency is judged by."""
    assert charted.systolic is not None
    return charted.systolic.value, None if charted.mean is None else charted.mean.value


def organs_known(animal: Animal, on: date, *, after_days: int = 0) -> Organs:
    """The latest state of each organ, or eye, that was looked at shortly before a day, or up to some days after it."""
    found = _findings(animal, on, after_days)
    return {name: row.state for name, row in found.items()}  # type: ignore[misc]  # the columns have the engine's words


def eyes_seen_in_part(animal: Animal, on: date, *, after_days: int = 0) -> bool:
    """Whether an eye was called sound without a widened pupil or without the whole fundus."""
    return any(
        row.state == OrganFinding.State.ABSENT and not (row.dilated and row.view == OrganFinding.View.WHOLE)
        for row in _findings(animal, on, after_days).values()
        if row.organ == OrganFinding.Organ.EYES
    )


def _findings(animal: Animal, on: date, after_days: int) -> dict[str, OrganFinding]:
    found: dict[str, OrganFinding] = {}
    in_order = ("on", F("entered_at").asc(nulls_first=True), "id")
    for finding in animal.organ_findings.filter(on__lte=on + timedelta(days=after_days)).order_by(*in_order):
        if (on - finding.on).days <= ORGANS_COUNT_FOR_DAYS:
            found[f"{finding.side} eye" if finding.side else finding.organ] = finding
    if "left eye" in found or "right eye" in found:
        found.pop("eyes", None)
    return found


def so_far_of(series: Series) -> SoFar:
    """What an unlikely number of this series is held against."""
    session = series.session
    of_the_session = Reading.objects.filter(series__session=session)
    rows = list(of_the_session.values("taken_at", "series_id", "spoiled", "struck_at", *QUANTITIES))
    count = [row for row in rows if row["series_id"] == series.pk and not row["spoiled"] and row["struck_at"] is None]
    return SoFar(
        species=session.animal.species,
        taken_at=[row["taken_at"] for row in rows],
        values={name: [row[name] for row in count if row[name] is not None] for name in QUANTITIES},
    )


def late_readings_of(session: Session) -> list[LateReading]:
    """What came once the session was signed, in the order taken."""
    rows = LateReading.objects.filter(series__session=session)
    return list(rows.select_related("series", "saved_by", "typed_by", "looked_by").order_by("taken_at", "ordinal"))


def last_series_of(animal: Animal) -> Series | None:
    """The latest series of an animal measured here, from which the next session's circumstances are recalled."""
    found = Series.objects.filter(session__animal=animal, session__imported_id="").select_related(
        "session", "instrument", "cuff"
    )
    return found.order_by("-session__started_at", "-ordinal").first()
