"""Signed sessions as plain values for a bundle, and the sessions of an animal as a table."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime
from typing import Any

from django.utils import timezone

from quietlimb.clinic.animals.models import Animal
from quietlimb.clinic.charting import described
from quietlimb.clinic.desk.basis import Basis, thawed
from quietlimb.clinic.desk.months import history_of, value_of
from quietlimb.clinic.sessions.models import Reading, Series, SignedValue
from quietlimb.clinic.sessions.results import QUANTITIES, values_of
from quietlimb.engine.circumstances import Circumstances
from quietlimb.engine.session.series import Series as EngineSeries
from quietlimb.engine.standards.rule_sets import RULE_SETS
from quietlimb.exchange.fhir_bundle import bundle_text, sessions_bundle
from quietlimb.exchange.fhir_codes import INVENTED_NAME
from quietlimb.exchange.fhir_sessions import BundleAnimal, BundleChange, BundleReading, BundleSession, BundleValue
from quietlimb.exchange.history_csv import history_text
from quietlimb.exchange.json_values import number_or_null

OF_ANIMAL_AND_SESSION = ("animal", "breed", "place", "sedation", "held_by", "remarks", "started_at")


def bundle_of(animal: Animal, signed: Iterable[SignedValue], *, at: datetime) -> str:
    """The text of a bundle of signed sessions, the oldest first."""
    made = sessions_bundle(
        _animal(animal), [_session(each) for each in signed], made_at=at, invented=animal.practice.invented
    )
    return bundle_text(made)


def table_of(animal: Animal) -> str:
    """Ended sessions with a pressure, as signed and amended or as charted, and events, as `quietlimb follow` reads
    them; times by the practice's clock.
    """
    history = history_of(animal)
    sessions = tuple(
        replace(each, circumstances=replace(each.circumstances, started_at=_local(each.circumstances.started_at)))
        for each in history.sessions
    )
    return history_text(replace(history, sessions=sessions))


def _local(started_at: str | None) -> str | None:
    return started_at and timezone.localtime(datetime.fromisoformat(started_at)).isoformat()


def _animal(animal: Animal) -> BundleAnimal:
    return BundleAnimal(
        key=str(animal.pk),
        species=animal.species,  # type: ignore[arg-type]  # the choices of the column are the engine's words
        name=f"{INVENTED_NAME}{animal.name}" if animal.practice.invented else animal.name,
        breed=animal.breed or None,
        sex=animal.sex or None,
        born=None if animal.born_about else animal.born,  # a bundle would tell it as the day
        number=animal.link_id or None,
    )


def _session(signed: SignedValue) -> BundleSession:
    session, basis = signed.session, thawed(signed)
    every = list(session.series.select_related("instrument", "cuff", "session__animal", "session__practice"))
    readings: list[BundleReading] = []
    used: list[str] = []
    around: Circumstances | None = None
    for series in every:
        rows = list(series.readings.select_related("recording").order_by("taken_at", "ordinal", "id"))
        is_signed = series.pk == signed.series_id
        frozen = basis.series if is_signed else None
        here = described(series, next((row for row in rows if row.struck_at is None), None))
        here = here if frozen is None else frozen.circumstances
        around = here if around is None or is_signed else around
        readings += _readings(series, rows, frozen, here)
        used += _used(rows, basis) if is_signed else []
    whole = Circumstances(species=session.animal.species, started_at=session.started_at.isoformat())  # type: ignore[arg-type]
    if around is not None:
        whole = Circumstances(species=whole.species, **{name: getattr(around, name) for name in OF_ANIMAL_AND_SESSION})
    return BundleSession(
        key=str(session.pk),
        started_at=session.started_at,
        ended_at=session.ended_at,
        circumstances=whole,
        readings=tuple(sorted(readings, key=lambda each: each.taken_at)),
        value=_value(signed, basis, tuple(used)),
    )


def _readings(
    series: Series, rows: list[Reading], frozen: EngineSeries | None, around: Circumstances
) -> Iterable[BundleReading]:
    """The rows of a series; where it is the signed one, with the numbers as they were signed."""
    signed: list[dict[str, Any]] = []
    if frozen is not None:
        columns = [getattr(frozen, name).tolist() for name in QUANTITIES]
        signed = [_numbers(values) for values in zip(*columns, strict=True)]
    stand = iter(signed)
    for row in rows:
        numbers = _numbers(values_of(row))
        if row.struck_at is None:
            numbers = next(stand, numbers)
        yield BundleReading(
            key=str(row.pk),
            taken_at=row.taken_at,
            circumstances=around,
            series=series.ordinal,
            set_aside=row.spoiled,
            struck=row.struck_at is not None,
            **numbers,
        )


def _numbers(values: Iterable[float | None]) -> dict[str, Any]:
    found = dict(zip(QUANTITIES, values, strict=True))
    return {name: None if value is None or math.isnan(value) else value for name, value in found.items()}


def _used(rows: list[Reading], basis: Basis) -> Iterable[str]:
    """Keys of the readings with any weight in the charted pressure."""
    if basis.charted is None:
        return
    stand = [row for row in rows if row.struck_at is None]
    for row, judged in zip(stand, basis.charted.readings, strict=False):
        if judged.systolic_weight:
            yield str(row.pk)


def _value(signed: SignedValue, basis: Basis, used: tuple[str, ...]) -> BundleValue:
    stands, charted = value_of(signed), basis.charted
    as_charted = charted if stands is not None and stands == signed.charted else None
    by = f"Quietlimb engine {signed.engine}, rule set {RULE_SETS[signed.rules].name}"
    if stands is None:
        rule = f"no value stands; {by}"
    elif as_charted is not None:
        rule = f"level that the readings had reached, charted by {by}"
    else:
        rule = f"chosen by who signed or amended it, in place of the charted pressure; {by}"
    return BundleValue(
        systolic=number_or_null(stands),
        mean=_rounded(as_charted and as_charted.mean),
        diastolic=_rounded(as_charted and as_charted.diastolic),
        rule=rule,
        used=used,
        signed=BundleChange(by=signed.signed_by.name, at=signed.signed_at, why=signed.reason),
        amended=tuple(
            BundleChange(by=each.by.name, at=each.at, why="; ".join(filter(None, (each.why, each.text.strip()))))
            for each in signed.amendments.all()
        ),
        beside=basis.converted.for_the_record,
    )


def _rounded(estimate: Any) -> float | None:
    return None if estimate is None else number_or_null(estimate.value)
