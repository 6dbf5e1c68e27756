"""Cells as what they mean, one line after the other, and whether the lines agree with each other."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.core.exceptions import ValidationError
from django.db.models import Field
from django.utils.translation import gettext as _

from quietlimb.clinic.animals.models import Animal, Owner
from quietlimb.clinic.importing.table import OF_ANIMAL, OF_OWNER, Line, Refused

SPECIES = {"cat": "cat", "feline": "cat", "dog": "dog", "canine": "dog"}
SEXES = {
    "female": "female",
    "f": "female",
    "female neutered": "female neutered",
    "neutered female": "female neutered",
    "spayed": "female neutered",
    "fn": "female neutered",
    "male": "male",
    "m": "male",
    "male neutered": "male neutered",
    "neutered male": "male neutered",
    "castrated": "male neutered",
    "mn": "male neutered",
}
LONGEST_CELL = 1_000
_DOTTED = re.compile(r"\A(\d{1,2})\.(\d{1,2})\.(\d{4})\Z")


class _CellError(Exception):
    def __init__(self, says: str, remedy: str) -> None:
        super().__init__(says)
        self.says, self.remedy = says, remedy


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """What the file says of one animal or owner: its number, its fields by the names of our columns, as text.

    numbers : lines of the file
    owner   : number of the animal's owner, if told
    """

    numbers: tuple[int, ...]
    link_id: str
    fields: Mapping[str, str]
    owner: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Agreed:
    """All that the lines say, without those that are refused."""

    owners: tuple[Said, ...]
    animals: tuple[Said, ...]
    refused: tuple[Refused, ...]


def agreed(lines: Iterable[Line], *, today: date) -> Agreed:
    """What the lines say together. A line that contradicts an earlier one is refused, and says nothing."""
    owners: dict[str, tuple[list[int], dict[str, str]]] = {}
    animals: dict[str, Said] = {}
    refused: list[Refused] = []
    for line in lines:
        try:
            animal = _said(line, OF_ANIMAL, Animal, today)
            owner = _said(line, OF_OWNER, Owner, today)
            if "link_id" not in animal and "link_id" not in owner:
                raise _CellError(_("no number"), _("give animal_id, or owner_id for an owner alone"))
            _refuse_contradiction(line, animal, owner, animals, owners)
        except _CellError as error:
            refused.append(Refused(number=line.number, says=error.says, remedy=error.remedy))
            continue
        owner_id = owner.pop("link_id", "")
        if owner_id:
            numbers, fields = owners.setdefault(owner_id, ([], {}))
            numbers.append(line.number)
            fields.update(owner)
        animal_id = animal.pop("link_id", "")
        if animal_id:
            animals[animal_id] = Said(numbers=(line.number,), link_id=animal_id, fields=animal, owner=owner_id)
    return Agreed(
        owners=tuple(
            Said(numbers=tuple(numbers), link_id=link_id, fields=fields)
            for link_id, (numbers, fields) in owners.items()
        ),
        animals=tuple(animals.values()),
        refused=tuple(refused),
    )


def _said(line: Line, headers: Mapping[str, str], model: type[Animal | Owner], today: date) -> dict[str, str]:
    """Fields of the model by name, each as its text would be written again."""
    found: dict[str, str] = {}
    for header, name in headers.items():
        cell = line.cells.get(header)
        if cell is None:
            continue
        if len(cell) > LONGEST_CELL:
            raise _CellError(
                _("{header} has more than {most} letters").format(header=header, most=LONGEST_CELL), _("shorten it")
            )
        value = _meaning(name, cell, today)
        try:
            column(model, name).clean(value, None)
        except ValidationError as error:
            raise _CellError(
                f"{header}: {' '.join(error.messages)}", _("put the cell right, or leave it empty")
            ) from None
        found[name] = value
    id_header = next(iter(headers))
    if found and "link_id" not in found:
        raise _CellError(
            _("{header} is empty").format(header=id_header), _("give the number that it has in your records")
        )
    if found.get("born", "") > found.get("deceased_on", "9999"):
        raise _CellError(_("deceased before it was born"), _("look at both dates"))
    return found


def column(model: type[Animal | Owner], name: str) -> Field[Any, Any]:
    """A column by its name."""
    found = model._meta.get_field(name)
    assert isinstance(found, Field)
    return found


def _meaning(name: str, cell: str, today: date) -> str:
    if name == "species":
        if cell.casefold() not in SPECIES:
            raise _CellError(_("species {cell} is not known").format(cell=cell), _("write cat or dog"))
        return SPECIES[cell.casefold()]
    if name == "sex":
        found = SEXES.get(" ".join(cell.casefold().replace(",", " ").replace("-", " ").split()))
        if found is None:
            raise _CellError(
                _("sex {cell} is not known").format(cell=cell),
                _("write female, female neutered, male or male neutered"),
            )
        return found
    if name in ("born", "deceased_on"):
        return _day(cell, today).isoformat()
    return cell


def _day(cell: str, today: date) -> date:
    """A day as 2019-03-31 or 31.3.2019; with strokes nobody knows whether the day or the month comes first."""
    dotted = _DOTTED.match(cell)
    try:
        found = date(int(dotted[3]), int(dotted[2]), int(dotted[1])) if dotted else date.fromisoformat(cell)
    except ValueError:
        raise _CellError(
            _("{cell} is not a day that can be read").format(cell=cell), _("write it as 2019-03-31")
        ) from None
    if found > today:
        raise _CellError(_("{cell} has not come yet").format(cell=cell), _("look at the year"))
    return found


def _refuse_contradiction(
    line: Line,
    animal: Mapping[str, str],
    owner: Mapping[str, str],
    animals: Mapping[str, Said],
    owners: Mapping[str, tuple[list[int], Mapping[str, str]]],
) -> None:
    known = animals.get(animal.get("link_id", ""))
    if known is not None:
        raise _CellError(
            _("animal_id {id} stands in line {line} already").format(id=known.link_id, line=known.numbers[0]),
            _("leave one of the two lines out"),
        )
    numbers, fields = owners.get(owner.get("link_id", ""), ([], {}))
    for name, value in owner.items():
        if fields.get(name, value) != value and name != "link_id":
            raise _CellError(
                _("owner_id {id} has another {what} in line {line}").format(
                    id=owner["link_id"], what=name, line=numbers[0]
                ),
                _("make the two lines say the same"),
            )
