"""What an import would do, compared with what is here. Nothing is written.

A field is compared three ways: what is here, what the file says, and what the last import wrote. Where the last two
differ and nobody changed the field here, the file's value is taken. What a person changed here since then stays, and is
told; only on request does the file's value go before it. An empty cell says nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from uuid import UUID

from django.utils.translation import gettext as _

from quietlimb.clinic.animals.models import Animal, Owner
from quietlimb.clinic.canonical import digest
from quietlimb.clinic.importing.lines import Agreed, Said
from quietlimb.clinic.importing.table import OF_ANIMAL, OF_OWNER, Refused

NEEDED = {Owner: ("name",), Animal: ("name", "species")}


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """A field, its header, its value here and the file's, as text."""

    name: str
    header: str
    here: str
    file: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """What would happen to one animal or owner.

    row   : as it stands here, or new and not saved; it is not changed yet
    new   : whether it would be made
    takes : what would be taken from the file
    stays : what a person changed here, and would stay unless asked otherwise
    """

    row: Animal | Owner
    numbers: tuple[int, ...]
    name: str
    new: bool
    takes: tuple[Difference, ...]
    stays: tuple[Difference, ...]

    @property
    def changed(self) -> bool:
        """Whether it stands here and would be changed."""
        return not self.new and bool(self.takes)

    @property
    def is_animal(self) -> bool:
        """Or else an owner."""
        return isinstance(self.row, Animal)


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """All that would happen, owners first."""

    owners: tuple[Part, ...]
    animals: tuple[Part, ...]
    refused: tuple[Refused, ...]

    @property
    def parts(self) -> tuple[Part, ...]:
        """Owners and animals."""
        return self.owners + self.animals

    @property
    def fingerprint(self) -> str:
        """The same for two plans that would do the same."""
        return digest(
            [
                [part.numbers, part.new, [(d.name, d.here, d.file) for d in (*part.takes, *part.stays)]]
                for part in self.parts
            ]
        )


@dataclass
class _Here:
    """What stands here already, by the numbers of the file and, without a number, by names."""

    owners: dict[str, Owner]
    animals: dict[str, Animal]
    unnumbered: dict[tuple[str, str, str], list[Animal]]
    adopted: dict[UUID, str] = field(default_factory=dict)


def plan(practice_id: UUID, said: Agreed, *, overwrite: bool = False) -> Plan:
    """What importing this would do in a practice.

    overwrite : take the file's value also where a person changed the field here
    """
    here = _here(practice_id, said)
    refused = list(said.refused)
    animals_of: dict[str, list[Said]] = {}
    for each in said.animals:
        animals_of.setdefault(each.owner, []).append(each)
    names = {each.link_id: each.fields.get("name", "") for each in said.owners}
    owners: list[Part] = []
    left_out: set[str] = set()
    for each in said.owners:
        row = here.owners.get(each.link_id) or _adopted_owner(here, each, animals_of.get(each.link_id, []))
        found = _part(practice_id, Owner, row, each, {}, overwrite)
        if not isinstance(found, Part):
            left_out.add(each.link_id)
        _sort_in(found, owners, refused)
    animals: list[Part] = []
    for each in said.animals:
        if each.owner in left_out:
            continue  # its line has been refused with its owner
        candidates = [] if each.link_id in here.animals else _namesakes(here, each, names.get(each.owner, ""))
        if len(candidates) > 1:
            refused += _refusals(
                each,
                _("several animals here have this name and owner, and no number"),
                _("give them their numbers here"),
            )
            continue
        animal = here.animals.get(each.link_id) or (candidates[0] if candidates else None)
        _sort_in(_part(practice_id, Animal, animal, each, here.adopted, overwrite), animals, refused)
    owners = _of_lines_that_stay(owners, animals, said)
    return Plan(
        owners=tuple(owners), animals=tuple(animals), refused=tuple(sorted(refused, key=lambda line: line.number))
    )


def _of_lines_that_stay(owners: list[Part], animals: list[Part], said: Agreed) -> list[Part]:
    """Owners without those who stand only in lines that are left out with their animal: such a line says nothing."""
    of_animals = {number for each in said.animals for number in each.numbers}
    left_out = of_animals - {number for part in animals for number in part.numbers}
    return [part for part in owners if not left_out.issuperset(part.numbers)]


def _here(practice_id: UUID, said: Agreed) -> _Here:
    owners = Owner.objects.filter(practice=practice_id, link_id__in=[each.link_id for each in said.owners])
    animals = Animal.objects.filter(practice=practice_id).select_related("owner")
    known = animals.filter(link_id__in=[each.link_id for each in said.animals])
    unnumbered: dict[tuple[str, str, str], list[Animal]] = {}
    for animal in animals.filter(link_id="", owner__isnull=False, merged_into=None):
        assert animal.owner is not None
        unnumbered.setdefault(_names(animal.name, animal.species, animal.owner.name), []).append(animal)
    return _Here(
        owners={owner.link_id: owner for owner in owners},
        animals={animal.link_id: animal for animal in known},
        unnumbered=unnumbered,
    )


def _names(name: str, species: str, owner: str) -> tuple[str, str, str]:
    return name.casefold(), species, owner.casefold()


def _namesakes(here: _Here, said: Said, owner_name: str) -> list[Animal]:
    """Animals without a number that this is, by name, species and owner; an owner with another number is another."""
    if not owner_name:
        return []
    names = _names(said.fields.get("name", ""), said.fields.get("species", ""), owner_name)
    return [
        animal
        for animal in here.unnumbered.get(names, [])
        if animal.owner and (animal.owner.link_id or here.adopted.get(animal.owner.pk, said.owner)) == said.owner
    ]


def _adopted_owner(here: _Here, said: Said, animals: Iterable[Said]) -> Owner | None:
    """An owner without a number who is this one: the same name, with an animal of the same name and species."""
    found = {
        animal.owner.pk: animal.owner
        for each in animals
        for animal in _namesakes(here, each, said.fields.get("name", ""))
        if animal.owner and not animal.owner.link_id
    }
    if len(found) != 1:
        return None
    (owner,) = found.values()
    here.adopted[owner.pk] = said.link_id
    return owner


def _part(
    practice_id: UUID,
    model: type[Animal | Owner],
    row: Animal | Owner | None,
    said: Said,
    adopted: Mapping[UUID, str],
    overwrite: bool,
) -> Part | list[Refused]:
    headers = {name: header for header, name in (OF_ANIMAL if model is Animal else OF_OWNER).items()}
    headers["owner"] = "owner_id"
    if row is None:
        lacking = [name for name in NEEDED[model] if not said.fields.get(name)]
        if lacking:
            says = _("{id} is not known here, and {header} is empty").format(
                id=said.link_id, header=headers[lacking[0]]
            )
            return _refusals(said, says, _("fill it in"))
    new = row is None
    row = row if row is not None else model(practice_id=practice_id)
    values = {"link_id": said.link_id, **said.fields}
    if isinstance(row, Animal) and said.owner:
        values["owner"] = said.owner
    takes: list[Difference] = []
    stays: list[Difference] = []
    for name, value in values.items():
        before = text_of(row, name, adopted)
        if value == before:
            continue
        difference = Difference(name=name, header=headers[name], here=before, file=value)
        untouched = new or before == row.imported.get(name, "") or name == "link_id"
        (takes if untouched or overwrite else stays).append(difference)
    shown = values.get("name") or row.name
    return Part(row=row, numbers=said.numbers, name=shown, new=new, takes=tuple(takes), stays=tuple(stays))


def text_of(row: Animal | Owner, name: str, adopted: Mapping[UUID, str] | None = None) -> str:
    """A field as the text that a file would have of it; an owner by number, or by name where there is none."""
    if name == "owner":
        owner = row.owner if isinstance(row, Animal) else None
        return "" if owner is None else owner.link_id or (adopted or {}).get(owner.pk, owner.name)
    value = getattr(row, name)
    return "" if value is None else str(value)


def _sort_in(found: Part | list[Refused], parts: list[Part], refused: list[Refused]) -> None:
    if isinstance(found, Part):
        parts.append(found)
    else:
        refused.extend(found)


def _refusals(said: Said, says: str, remedy: str) -> list[Refused]:
    return [Refused(number=number, says=says, remedy=remedy) for number in said.numbers]
