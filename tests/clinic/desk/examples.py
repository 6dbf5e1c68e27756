"""What the desk's tests share: a measured session, more of them, and signing what the page shows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta
from hashlib import sha256
from typing import Any

from django.test import Client
from django.utils import timezone

from clinic.examples import Clinic, reading
from quietlimb.clinic.desk.basis import basis_of
from quietlimb.clinic.desk.signing import value_sign
from quietlimb.clinic.people.models import Person
from quietlimb.clinic.sessions.models import Recording, Series, Session, SignedValue

HIGH = (178, 172, 170, 169, 168, 168)


def address(clinic: Clinic, what: str) -> str:
    """An address of the clinic's session."""
    return f"/sessions/{clinic.session.pk}/{what}"


def sign(browser: Client, clinic: Clinic, **told: Any) -> Any:
    """Sign what the page shows now."""
    session = Session.objects.get(pk=clinic.session.pk)
    basis = basis_of(session, Series.objects.select_related("session__animal").get(pk=clinic.series.pk))
    return browser.post(
        address(clinic, "sign"), {"value": "charted", "looked_at": basis.digest, "nothing_comes": "on", **told}
    )


def another(clinic: Clinic, days: int, systolic: Sequence[float] = HIGH, *, ending: str = "") -> Clinic:
    """The clinic with a session so many days later, measured as the first one was."""
    at = clinic.started_at + timedelta(days=days)
    session = Session.objects.create(
        practice=clinic.practice,
        animal=clinic.animal,
        started_at=at,
        started_by=clinic.nurse,
        place=clinic.session.place,
        read_by=clinic.nurse,
        ending=ending,
        ended_at=at + timedelta(minutes=20) if ending else None,
    )
    first = clinic.series
    series = session.series.create(
        practice=clinic.practice,
        ordinal=1,
        technique=first.technique,
        instrument=first.instrument,
        cuff=first.cuff,
        site=first.site,
        side=first.side,
        position=first.position,
    )
    for k, value in enumerate(systolic):
        reading(clinic, 0, value, series=series, taken_at=at + timedelta(minutes=1.5 * k))
    return replace(clinic, session=session, series=series)


def unread_recording(clinic: Clinic, minute: float) -> None:
    """A recording among the readings of the series, which no engine has read."""
    kept = Recording.objects.create(
        practice=clinic.practice, sha256=sha256(b"-").hexdigest(), name="one.csv", content=b"-"
    )
    reading(clinic, minute, None, recording=kept)


def signed_value(by: Person, session: Session, series: Series | None, **told: Any) -> SignedValue:
    """What the veterinarian signs who has seen the page as it is now."""
    told = {"chosen": None, "reason": "", "at": timezone.now(), **told}
    looked_at = basis_of(session, series).digest
    return value_sign(by, session=session, series=series, looked_at=looked_at, **told)
