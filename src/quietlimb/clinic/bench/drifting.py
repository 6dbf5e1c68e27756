"""The instruments of a practice that drift towards their limit, with the day before which to have each serviced."""

from __future__ import annotations

from datetime import date
from typing import Final

from django.db.models import Max
from django.utils import timezone

from quietlimb.clinic.bench.chart import drift_of
from quietlimb.clinic.equipment.models import Check, CheckKind
from quietlimb.clinic.people.models import Practice
from quietlimb.engine.values import Cited
from quietlimb.instruments.drift import LEAST_FOR_FORECAST
from quietlimb.instruments.schedule import DAYS

# A service has to be arranged, so it is told earlier than a check at the own bench.
SERVICE_SOON_DAYS: Final = Cited(60.0, DAYS, "Quietlimb", "warning before a service is wanted", "invented")


def service_of(practice: Practice, on: date) -> dict[object, date]:
    """By the key of each instrument in service whose day is near, or has passed: that day."""
    counting = Check.objects.filter(practice=practice, corrected_by=None, instrument__out_of_service=False)
    serviced = dict(
        counting.filter(kind=CheckKind.CERTIFICATE, good=True)
        .values_list("instrument")
        .annotate(last=Max("done_at"))
        .order_by()
    )
    rows: dict[object, list[Check]] = {}
    for row in counting.filter(kind=CheckKind.STATIC).order_by("done_at", "entered_at", "id"):
        rows.setdefault(row.instrument_id, []).append(row)
    found: dict[object, date] = {}
    for key, checks in rows.items():
        if len(checks) < LEAST_FOR_FORECAST:
            continue
        drift = drift_of(checks, timezone.localdate(serviced[key]) if key in serviced else None)
        by = None if drift is None else drift.forecast.service_by
        if by is not None and (by - on).days <= SERVICE_SOON_DAYS.value:
            found[key] = by
    return found
