"""Illnesses and classes of drugs in the record of an animal, as they stand on its page."""

from __future__ import annotations

from dataclasses import dataclass

from quietlimb.clinic.animals.models import Animal, Condition
from quietlimb.words.in_record import CONDITIONS, DRUGS
from quietlimb.words.language import _


def condition_names() -> dict[tuple[str, str], str]:
    """(kind, code) -> its name in the language spoken here."""
    return {
        **{(Condition.Kind.ILLNESS.value, code): _(text) for code, text in CONDITIONS.items()},
        **{(Condition.Kind.DRUG.value, code): _(text) for code, text in DRUGS.items()},
    }


@dataclass(frozen=True, slots=True, kw_only=True)
class Stands:
    """A row of the record with its name; one of a code that is not known any more has the code."""

    row: Condition
    name: str


def conditions_of(animal: Animal) -> list[Stands]:
    """What stands in the record, what has not ended first, then by name."""
    names = condition_names()
    found = [Stands(row=row, name=names.get((row.kind, row.code), row.code)) for row in animal.conditions.all()]
    return sorted(found, key=lambda each: (each.row.until is not None, each.row.kind, each.name.casefold()))
