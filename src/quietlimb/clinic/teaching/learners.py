"""Who learns: in the store apart, a person with the key of the one who is signed in, in a practice of her own.

Nobody looks over her shoulder: two practices never see each other's rows, and each learner is one.
"""

from __future__ import annotations

from django.utils import timezone

from quietlimb.clinic.equipment.models import Cuff, Instrument, Technique
from quietlimb.clinic.people.models import Membership, Person, Practice, Role
from quietlimb.clinic.stores import TEACHING, together, working_in

ROLES = (Role.NURSE, Role.VETERINARIAN)
LIKE_THE_PRACTICE = ("name", "time_zone", "rules", "planned_readings", "telephone_day", "telephone_night", "preparing")
LIKE_THE_PERSON = ("name", "pressure_unit", "left_handed")
CUFF_WIDTHS_CM = (1.5, 2.0, 2.5, 3.2, 4.4, 5.2, 6.4, 8.0)
INSTRUMENTS = (("training cuff and sensor", Technique.OSCILLOMETRIC, ["systolic", "diastolic", "mean", "pulse_rate"]),)


def learner_of(person: Person) -> Person:
    """The person of the same key in the learners' store, made or brought up to date where that is needed."""
    with working_in(TEACHING):
        there = Person.objects.select_related("practice").filter(pk=person.pk).first()
        if there is None or not _is_like(there, person):
            there = _bring_up_to_date(person)
    return there


def _is_like(there: Person, here: Person) -> bool:
    same_practice = all(getattr(there.practice, name) == getattr(here.practice, name) for name in LIKE_THE_PRACTICE)
    return same_practice and all(getattr(there, name) == getattr(here, name) for name in LIKE_THE_PERSON)


@together()
def _bring_up_to_date(here: Person) -> Person:
    like = {name: getattr(here.practice, name) for name in LIKE_THE_PRACTICE}
    practice, new = Practice.objects.update_or_create(pk=here.pk, defaults={**like, "invented": True})
    if new:
        for name, technique, slots in INSTRUMENTS:
            Instrument.objects.create(practice=practice, name=name, technique=technique, slots=slots)
        for width in CUFF_WIDTHS_CM:
            Cuff.objects.create(practice=practice, name=f"cuff {width:g}", width_cm=width)
    # Nobody signs in there, so the name to sign in with is one that nobody has.
    own = {name: getattr(here, name) for name in LIKE_THE_PERSON}
    there, new = Person.objects.update_or_create(
        pk=here.pk, defaults={**own, "practice": practice, "username": str(here.pk)}
    )
    if new:
        there.set_unusable_password()
        there.save(update_fields=["password"])
        for role in ROLES:
            Membership.objects.create(practice=practice, person=there, role=role, since=timezone.localdate())
    return there
