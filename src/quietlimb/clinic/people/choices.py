"""A person's own choices for the pages that she works with."""

from __future__ import annotations

from quietlimb.clinic.journal.changing import change
from quietlimb.clinic.people.models import Person


def own_choices_set(by: Person, *, pressure_unit: str, left_handed: bool) -> bool:
    """Keep them; returns whether anything was different."""
    row = Person.objects.get(pk=by.pk)
    row.pressure_unit, row.left_handed = pressure_unit, left_handed
    return change(by, "own choices changed", row, fields=("pressure_unit", "left_handed"))
