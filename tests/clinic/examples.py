"""An invented practice for tests. Nobody in it exists."""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cache

from django.contrib.auth.hashers import make_password

from quietlimb.clinic.animals.models import Animal, Owner
from quietlimb.clinic.equipment.models import Cuff, Instrument
from quietlimb.clinic.people.models import Membership, Person, Practice, Role
from quietlimb.clinic.sessions.models import Reading, Series, Session

PASSWORD = "a quiet limb is asked for"
SHORT_CODE = "4711"


@dataclass(frozen=True, kw_only=True)
class Clinic:
    """Everybody and everything that the tests look at."""

    practice: Practice
    nurse: Person
    colleague: Person
    veterinarian: Person
    lead: Person
    researcher: Person
    stranger: Person
    animal: Animal
    instrument: Instrument
    cuff: Cuff
    session: Session
    series: Series
    started_at: datetime


@cache
def hashed(text: str) -> str:
    """Hashing is slow on purpose, and the same here each time."""
    return make_password(text)


def person(practice: Practice, name: str, *roles: Role) -> Person:
    """Somebody with these roles."""
    made = Person.objects.create(
        practice=practice, username=name.lower(), name=name, password=hashed(PASSWORD), short_code=hashed(SHORT_CODE)
    )
    for role in roles:
        Membership.objects.create(practice=practice, person=made, role=role, since="2020-01-01")
    return made


def invented_clinic(started_at: datetime) -> Clinic:
    """Two practices; in the first an open session that the nurse has started."""
    practice = Practice.objects.create(name="Practice at the Mill Pond")
    elsewhere = Practice.objects.create(name="Practice on the Hill")
    nurse = person(practice, "Wren", Role.NURSE)
    owner = Owner.objects.create(practice=practice, name="Mr Invented")
    animal = Animal.objects.create(
        practice=practice, owner=owner, name="Thistle", species="cat", breed="invented breed"
    )
    instrument = Instrument.objects.create(
        practice=practice,
        name="grey box",
        technique="oscillometric",
        slots=["systolic", "mean", "diastolic", "pulse_rate"],
    )
    cuff = Cuff.objects.create(practice=practice, name="the small one", width_cm=3.0)
    session = Session.objects.create(
        practice=practice,
        animal=animal,
        started_at=started_at,
        started_by=nurse,
        read_by=nurse,
        acclimatised_since=started_at - timedelta(minutes=5),
        place="carrier",
    )
    series = Series.objects.create(
        practice=practice,
        session=session,
        ordinal=1,
        technique="oscillometric",
        instrument=instrument,
        cuff=cuff,
        site="forelimb",
        side="left",
        position="chest-down",
        limb_circumference_cm=8.7,
    )
    return Clinic(
        practice=practice,
        nurse=nurse,
        colleague=person(practice, "Linnet", Role.NURSE),
        veterinarian=person(practice, "Heron", Role.VETERINARIAN),
        lead=person(practice, "Alder", Role.LEAD),
        researcher=person(practice, "Sorrel", Role.RESEARCHER),
        stranger=person(elsewhere, "Magpie", Role.NURSE, Role.VETERINARIAN, Role.LEAD),
        animal=animal,
        instrument=instrument,
        cuff=cuff,
        session=session,
        series=series,
        started_at=started_at,
    )


def reading(
    clinic: Clinic,
    minute: float,
    systolic: float | None,
    mean: float | None = None,
    diastolic: float | None = None,
    **columns: object,
) -> Reading:
    """One reading of the clinic's series, typed."""
    taken_at = clinic.started_at + timedelta(minutes=minute)
    return Reading.objects.create(
        **{
            "practice": clinic.practice,
            "series": clinic.series,
            "client_id": uuid.uuid4(),
            "ordinal": clinic.series.readings.count() + 1,
            "taken_at": taken_at,
            "saved_at": taken_at,
            "saved_by": clinic.nurse,
            "systolic": systolic,
            "mean": mean,
            "diastolic": diastolic,
            **columns,
        }
    )
