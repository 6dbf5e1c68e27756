"""A quarter of a year in the invented practice: ended sessions, somebody who is due, a competence that ends."""

from __future__ import annotations

import random
from datetime import datetime, timedelta
from pathlib import Path

from django.utils import timezone

from clinic.examples import Clinic, reading
from clinic.serving import filled_by
from quietlimb.clinic.animals.models import Animal, Owner, Recheck
from quietlimb.clinic.people.models import Competence
from quietlimb.clinic.sessions.models import Session

ADDRESS = "Hazel Lane 3\nInvented Town"
FILL = """
from django.utils import timezone
from clinic.examples import invented_clinic
from clinic.quarter import quarter_of
quarter_of(invented_clinic(timezone.now()))
"""


def filled_with_a_quarter(data: Path) -> None:
    """A data folder with it."""
    filled_by(data, FILL)


def quarter_of(clinic: Clinic) -> None:
    """Sixteen sessions of a dog by Doppler, read by two, one of whom likes zeros (seed 41)."""
    chance = random.Random(41)
    owner = Owner.objects.create(practice=clinic.practice, name="Mrs Invented", address=ADDRESS)
    animal = Animal.objects.create(practice=clinic.practice, name="Bramble", species="dog", owner=owner)
    for k in range(16):
        _session(clinic, animal, timezone.now() - timedelta(days=5 * k + 1), chance, rounds=bool(k % 2))
    today = timezone.localdate()
    Recheck.objects.create(
        practice=clinic.practice,
        animal=animal,
        since=today - timedelta(days=30),
        due_from=today - timedelta(days=9),
        due_by=today - timedelta(days=2),
        why="second session",
        last_charted=168.0,
    )
    Competence.objects.create(
        practice=clinic.practice,
        person=clinic.nurse,
        subject="Doppler",
        taught_by=clinic.veterinarian,
        observed_sessions=5,
        since=today - timedelta(days=700),
        until=today + timedelta(days=20),
    )


def _session(clinic: Clinic, animal: Animal, at: datetime, chance: random.Random, *, rounds: bool) -> None:
    session = Session.objects.create(
        practice=clinic.practice,
        animal=animal,
        started_at=at,
        started_by=clinic.nurse,
        read_by=clinic.colleague if rounds else clinic.nurse,
        acclimatised_since=None if rounds else at - timedelta(minutes=7),
        ending="closed",
        ended_at=at + timedelta(minutes=15),
        ended_by=clinic.nurse,
    )
    series = session.series.create(practice=clinic.practice, ordinal=1, technique="doppler", cuff=clinic.cuff)
    for k in range(7):
        systolic = 150 + 15 * 0.6**k + chance.gauss(0, 4)
        typed = round(systolic, -1) if rounds and chance.random() < 0.6 else round(systolic)
        spoiled = "moved" if chance.random() < 0.12 else ""
        taken_at = at + timedelta(minutes=2 * k)
        reading(clinic, 0, float(typed), series=series, taken_at=taken_at, saved_at=taken_at, spoiled=spoiled)
