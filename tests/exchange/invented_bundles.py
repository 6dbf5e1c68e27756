"""An invented animal with two sessions, as plain values. Nobody in it exists."""

from __future__ import annotations

import uuid
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta, timezone
from typing import Any

from quietlimb.engine.circumstances import Circumstances
from quietlimb.exchange.fhir_bundle import sessions_bundle
from quietlimb.exchange.fhir_sessions import BundleAnimal, BundleChange, BundleReading, BundleSession, BundleValue

START = datetime(2031, 2, 4, 10, 30, tzinfo=timezone(timedelta(hours=1)))
MADE_AT = datetime(2031, 3, 1, 8, 0, 0, 250_000, tzinfo=UTC)


def key(n: int) -> str:
    """A UUID that is the same each time."""
    return str(uuid.UUID(int=n))


ANIMAL = BundleAnimal(
    key=key(1),
    species="cat",
    name="Bramble Þorn",
    breed="invented longhair",
    sex="female neutered",
    born=date(2019, 3, 31),
    number="A-17",
)
AROUND = Circumstances(
    species="cat",
    animal=ANIMAL.name,
    breed=ANIMAL.breed,
    site="hindlimb",
    side="left",
    position="on-lap",
    place="carrier",
    instrument="grey box",
    cuff="the small one",
    cuff_width_cm=2.5,
    limb_circumference_cm=6.9,
    cuff_below_heart_cm=-3.0,
    acclimatisation_min=7.3333333333333,
    sedation="awake",
    read_by="Wren",
    held_by="Heron",
    started_at=START.isoformat(),
    remarks="bites\nsometimes",
)


def reading(n: int, minute: float, systolic: float | None, **told: Any) -> BundleReading:
    """One reading of the first session."""
    given: dict[str, Any] = {"circumstances": AROUND, "series": 1, **told}
    return BundleReading(key=key(n), taken_at=START + timedelta(minutes=minute), systolic=systolic, **given)


DOPPLER = replace(AROUND, method="doppler", instrument="probe", site="tail", side=None, cuff=None, cuff_width_cm=None)
OWN = ("place", "sedation", "held_by", "remarks", "started_at", "animal", "breed")
FIRST = BundleSession(
    key=key(10),
    started_at=START,
    ended_at=START + timedelta(minutes=20),
    circumstances=Circumstances(species="cat", **{name: getattr(AROUND, name) for name in OWN}),
    readings=(
        reading(11, 1, 171.0, mean=131.0, diastolic=111.0, pulse_rate=182.0),
        reading(12, 2.5, 163.3, mean=128.1, diastolic=107.0),
        reading(13, 4, None, set_aside="moved"),
        reading(14, 5, 260.0, struck=True),
        reading(15, 7.123456, 0.1 + 162.2, circumstances=DOPPLER, series=2),
    ),
    value=BundleValue(
        systolic=162.125,
        mean=127.5,
        rule="level that the readings reached, engine 0.1.0, acvim-2018",
        used=(key(11), key(12)),
        signed=BundleChange(by="Heron", at=START + timedelta(hours=1), why="second cuff is too wide"),
        amended=(BundleChange(by="Heron", at=START + timedelta(days=1), why="a slip"),),
    ),
)
NOTHING = BundleSession(
    key=key(20),
    started_at=START + timedelta(days=14),
    ended_at=None,
    circumstances=Circumstances(
        species="cat", animal=ANIMAL.name, breed=ANIMAL.breed, started_at=(START + timedelta(days=14)).isoformat()
    ),
    readings=(),
    value=BundleValue(systolic=None, rule="no reading obtained", used=(), signed=BundleChange(by="Heron", at=START)),
)


def bundle(*sessions: BundleSession, invented: bool = False, animal: BundleAnimal = ANIMAL) -> dict[str, Any]:
    """The bundle of the invented animal."""
    return sessions_bundle(animal, sessions or (FIRST, NOTHING), made_at=MADE_AT, invented=invented)
