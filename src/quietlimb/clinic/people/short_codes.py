"""Short codes: for coming back, or taking over, on a browser that is known."""

from __future__ import annotations

from quietlimb.clinic.journal import writing as journal
from quietlimb.clinic.people.models import Person
from quietlimb.clinic.stores import together


def people_with_one(here: Person) -> list[Person]:
    """The people of the practice who can change over by short code, who was here first."""
    people = Person.objects.filter(practice=here.practice_id, is_active=True).exclude(short_code="").order_by("name")
    return sorted(people, key=lambda person: person.pk != here.pk)


@together()
def short_code_set(person: Person, *, password: str, code: str) -> bool:
    """Keep a new short code, if the password is the person's."""
    if not person.check_password(password):
        return False
    person.set_short_code(code)
    person.save(update_fields=["short_code"])
    journal.write(person, "short code set", person)
    return True
