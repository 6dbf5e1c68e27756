"""Everything that writes to animals and owners."""

from __future__ import annotations

from quietlimb.clinic.animals.models import Animal, Owner
from quietlimb.clinic.journal import writing as journal
from quietlimb.clinic.people.models import Person
from quietlimb.clinic.stores import together


@together()
def animal_add(by: Person, *, animal: Animal, owner_name: str) -> Animal:
    """Save a filled-in animal. An owner of exactly this name is taken for the same one only if there is just one."""
    animal.practice_id = by.practice_id
    animal.owner = _owner(by, owner_name.strip())
    animal.save(force_insert=True)
    journal.write(by, "animal added", animal)
    return animal


def _owner(by: Person, name: str) -> Owner | None:
    if not name:
        return None
    known = list(Owner.objects.filter(practice=by.practice_id, name__iexact=name)[:2])
    if len(known) == 1:
        return known[0]
    made = Owner.objects.create(practice_id=by.practice_id, name=name)
    journal.write(by, "owner added", made)
    return made
