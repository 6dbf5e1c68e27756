"""Pairs from sessions in which an animal was measured by both kinds of instrument, as a file that names nobody.

One pair a session: of each kind the first series with a reading that counts, and of that the mean of all readings that
count. They were taken one after the other, so what the pressure did between them is in the differences. Keys of animals
and instruments are drawn anew each time and kept nowhere; no date goes out.
"""

from __future__ import annotations

import secrets
from collections import defaultdict
from collections.abc import Sequence
from typing import Final

from django.utils.translation import gettext as _

from quietlimb.agreement.pair_rows import QUANTITIES, PairRow, PairRows, Pressures
from quietlimb.clinic.comparisons.reckoning import MOST_ROWS, ComparisonError
from quietlimb.clinic.equipment.models import Technique
from quietlimb.clinic.people.models import Practice
from quietlimb.clinic.sessions.models import Reading, Series, Session
from quietlimb.clinic.sessions.results import values_of
from quietlimb.exchange.pairs_csv import CUFF_PERCENT

NAMES: Final = {Technique.OSCILLOMETRIC: "oscillometric", Technique.DOPPLER: "Doppler"}
# In the order of `values_of`.
PLACES: Final = ("systolic", "mean", "diastolic")


def pairs_of_sessions(practice: Practice, *, tested: Technique) -> PairRows:
    """The pairs of all ended sessions that were measured here, the other kind being the reference.

    Raises ComparisonError where there are none, or more than one comparison takes.
    """
    reference = next(each for each in Technique if each != tested)
    sessions = Session.objects.filter(practice=practice, imported_id="", series__technique=tested).exclude(ending="")
    sessions = sessions.filter(pk__in=Series.objects.filter(practice=practice, technique=reference).values("session"))
    found = sessions.distinct().order_by("started_at", "id").select_related("animal")
    keys: defaultdict[object, str] = defaultdict(lambda: secrets.token_hex(4))
    occasions: defaultdict[object, int] = defaultdict(int)
    rows = []
    for session in found.prefetch_related("series__readings__recording", "series__cuff"):
        pair = [_first_that_counts(session, kind) for kind in (tested, reference)]
        if pair[0] is None or pair[1] is None:
            continue
        occasions[session.animal_id] += 1
        instrument = keys[pair[0][0].instrument_id] if pair[0][0].instrument_id else None
        rows.append(_row(session, pair[0], pair[1], keys[session.animal_id], occasions[session.animal_id], instrument))
    if not rows:
        raise ComparisonError(
            "no-pairs",
            _("No ended session has readings by both kinds of instrument"),
            _("measure an animal by both in one session, each in a series of its own"),
        )
    if len(rows) > MOST_ROWS:
        raise ComparisonError(
            "too-many", _("There are more than {most} pairs").format(most=MOST_ROWS), _("take the export instead")
        )
    return PairRows(
        rows=tuple(sorted(rows, key=lambda row: (row.animal, int(row.occasion or 0)))),
        truth="single" if max(occasions.values()) == 1 else "changing",
        tested_name=NAMES[tested],
        reference_name=NAMES[reference],
        reference_is="indirect",
        invented=practice.invented,
    )


Taken = tuple[Series, Sequence[Reading]]


def _first_that_counts(session: Session, kind: Technique) -> Taken | None:
    """A series with its readings that count and have a systolic pressure, in the order taken."""
    for series in session.series.all():
        if series.technique == kind:
            rows = [row for row in series.readings.all() if row.counts and values_of(row)[0] is not None]
            if rows:
                return series, rows
    return None


def _row(session: Session, tested: Taken, reference: Taken, key: str, occasion: int, instrument: str | None) -> PairRow:
    sites = {tested[0].site, reference[0].site}
    return PairRow(
        animal=key,
        occasion=str(occasion),
        species=session.animal.species,  # type: ignore[arg-type]
        site=(sites.pop() or None) if len(sites) == 1 else None,
        condition=session.sedation or None,
        first="tested" if tested[1][0].taken_at <= reference[1][0].taken_at else "reference",
        tested=_means(tested[1]),
        reference=_means(reference[1]),
        instrument=instrument,
        cuff_percent=_cuff_percent(tested[0]),
    )


def _cuff_percent(series: Series) -> float | None:
    """Width of the cuff in percent of the limb, where both are told and a table of pairs may hold it."""
    limb = series.limb_circumference_cm
    percent = None if series.cuff is None or not limb else round(100.0 * series.cuff.width_cm / limb, 1)
    return percent if percent is not None and CUFF_PERCENT[0] <= percent <= CUFF_PERCENT[1] else None


def _means(readings: Sequence[Reading]) -> Pressures:
    """Of each pressure the mean, where every reading has it. [mmHg]"""
    told = dict(zip(PLACES, zip(*(values_of(row)[:3] for row in readings), strict=True), strict=True))
    means = {}
    for name in QUANTITIES:
        values = [value for value in told[name] if value is not None]
        means[name] = round(sum(values) / len(values), 1) if len(values) == len(readings) else None
    return Pressures(**means)
