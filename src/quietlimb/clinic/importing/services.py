"""Doing what was planned, a few rows at a time, so that nobody at the table waits for it."""

from __future__ import annotations

from collections.abc import Iterator
from uuid import UUID

from quietlimb.clinic.animals.models import Animal, Owner
from quietlimb.clinic.importing.lines import Agreed, Said, column
from quietlimb.clinic.importing.plan import Part, Plan, plan
from quietlimb.clinic.journal import writing as journal
from quietlimb.clinic.journal.changing import change
from quietlimb.clinic.people.models import Person
from quietlimb.clinic.stores import together

ROWS_AT_ONCE = 50  # other writers wait for about a tenth of a second


def import_apply(by: Person, *, said: Agreed, overwrite: bool, file_name: str) -> Plan:
    """Make and change what the plan says, and return what was done.

    Each handful of rows is one transaction, planned anew in it. Broken off in the middle, the rest is done by importing
    the same file again: what was done already changes nothing.
    """
    owners: list[Part] = []
    animals: list[Part] = []
    refused = list(said.refused)
    for few in _handfuls(said):
        with together():
            done = plan(by.practice_id, few, overwrite=overwrite)
            for part in done.parts:
                _apply(by, part, file_name)
        owners += done.owners
        animals += done.animals
        refused += done.refused
    return Plan(owners=tuple(owners), animals=tuple(animals), refused=tuple(refused))


def _handfuls(said: Agreed) -> Iterator[Agreed]:
    """An owner and all her animals stay together, for they are recognised by each other."""
    animals_of: dict[str, list[Said]] = {}
    for animal in said.animals:
        animals_of.setdefault(animal.owner, []).append(animal)
    groups: list[tuple[tuple[Said, ...], list[Said]]] = [
        ((owner,), animals_of.pop(owner.link_id, [])) for owner in said.owners
    ]
    groups += [((), [animal]) for left in animals_of.values() for animal in left]
    owners: list[Said] = []
    animals: list[Said] = []
    for owner, hers in groups:
        owners += owner
        animals += hers
        if len(owners) + len(animals) >= ROWS_AT_ONCE:
            yield Agreed(owners=tuple(owners), animals=tuple(animals), refused=())
            owners, animals = [], []
    yield Agreed(owners=tuple(owners), animals=tuple(animals), refused=())


def _apply(by: Person, part: Part, file_name: str) -> None:
    if not part.takes:
        return
    row, names = part.row, [each.name for each in part.takes]
    for each in part.takes:
        setattr(row, each.name, _value(row, each.name, each.file, by.practice_id))
    written = {each.name: each.file for each in part.takes if each.name != "link_id"}
    row.imported = {**row.imported, **written}
    if "born" in names and isinstance(row, Animal):
        row.born_about = False
        names.append("born_about")
    kind, why = row._meta.verbose_name, f"import of {file_name}, line {part.numbers[0]}"
    if part.new:
        row.save(force_insert=True)
        journal.write(by, f"{kind} added", row, why=why[:400])
    else:
        change(by, f"{kind} changed", row, fields=[*names, "imported"], why=why[:400])


def _value(row: Animal | Owner, name: str, text: str, practice_id: UUID) -> object:
    if name == "owner":
        return Owner.objects.get(practice=practice_id, link_id=text)
    return column(type(row), name).to_python(text)
