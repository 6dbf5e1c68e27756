"""What the tests of the bench share: a reference manometer, checks on days, sessions on days."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

from django.utils import timezone

from clinic.examples import Clinic
from quietlimb.clinic.bench.services import check_add
from quietlimb.clinic.equipment.models import Check, Cuff, Instrument
from quietlimb.clinic.sessions.models import Session

LOOKED = {True: '{"cleaned":true,"condition":"sound"}', False: '{"cleaned":false,"condition":"unfit"}'}
SAID = {True: '{"outcome":"good"}', False: '{"outcome":"failed"}'}


def day(month: int, number: int, hour: int = 12) -> datetime:
    """A moment of the invented year 2024."""
    return datetime(2024, month, number, hour, tzinfo=UTC)


def reference(clinic: Clinic) -> Instrument:
    """A reference manometer."""
    return Instrument.objects.create(practice=clinic.practice, name="the standard", gauge="reference")


def checked(clinic: Clinic, at: datetime, good: bool, *, thing: Instrument | Cuff | None = None, **told: Any) -> Check:
    """A check that a person said the outcome of, kept as the pages keep it; a service certificate, unless told."""
    thing = thing or clinic.instrument
    kind = told.pop("kind", "certificate")
    told.setdefault("typed", LOOKED[good] if kind == "look" else SAID[good])
    named = {"cuff" if isinstance(thing, Cuff) else "instrument": thing}
    return check_add(
        clinic.nurse,
        check=Check(kind=kind, done_at=at, good=good, issuer="Invented Service", **named, **told),
        at=told.pop("entered_at", timezone.now()),
    )


def not_held(clinic: Clinic) -> Instrument:
    """The clinic's instrument, which cannot be held at a pressure here: its certificates count."""
    clinic.instrument.held_static = False
    clinic.instrument.save()
    return clinic.instrument


def measured(clinic: Clinic, at: datetime, **series: Any) -> Session:
    """An ended session with the clinic's instrument and cuff."""
    session = Session.objects.create(
        practice=clinic.practice,
        animal=clinic.animal,
        started_at=at,
        started_by=clinic.nurse,
        ending="closed",
        ended_at=at + timedelta(minutes=20),
    )
    told = {"technique": "oscillometric", "instrument": clinic.instrument, "cuff": clinic.cuff, **series}
    session.series.create(practice=clinic.practice, ordinal=1, **told)
    return session
