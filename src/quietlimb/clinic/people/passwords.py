"""A person's own password, changed by herself."""

from __future__ import annotations

from quietlimb.clinic.journal import writing as journal
from quietlimb.clinic.people.models import Person
from quietlimb.clinic.stores import together


@together()
def password_change(person: Person, *, old: str, new: str) -> bool:
    """Keep a new password, if the old one is the person's; a code for a forgotten one is void then."""
    if not person.check_password(old):
        return False
    person.set_password(new)
    person.first_code, person.first_code_until = "", None
    person.save(update_fields=["password", "first_code", "first_code_until"])
    journal.write(person, "password changed", person)
    return True
