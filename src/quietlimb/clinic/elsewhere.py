"""What else a search leads to: pages by the words of the trade, instruments, cuffs, and for the lead people."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.urls import reverse
from django.utils.translation import gettext_lazy as _

from quietlimb.clinic.equipment.models import Cuff, Instrument
from quietlimb.clinic.people.models import Person
from quietlimb.clinic.rights import Action, may, staff, visible
from quietlimb.clinic.sought import is_found, words_of

SHORTEST_BEGINNING = 3  # letters by which a word is known already
MOST = 10


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """A page with the words that lead to it, and who may open it; None for everybody."""

    name: Any
    address: str
    words: str
    action: Action | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Elsewhere:
    """Something that was found, where it stands, and of what kind it is."""

    name: str
    href: str
    kind: Any


# The trade's words for one thing differ from practice to practice.
PLACES = (
    Place(
        name=_("Start a session"),
        address="start",
        words="start measure measurement session reading pressure bp nibp sap map dap sbp mbp dbp systolic mean "
        "diastolic",
        action="measure",
    ),
    Place(
        name=_("Instruments and cuffs"),
        address="instruments",
        words="instrument gauge manometer sphygmomanometer monitor device machine doppler oscillometric display cuff "
        "bladder calibration calibrate check leak drift certificate bench overdue sap map dap sbp mbp dbp",
        action="look",
    ),
    Place(
        name=_("Today"),
        address="today",
        words="today due overdue recheck recall reminder waiting unsigned letter",
        action="look",
    ),
    Place(
        name=_("People"),
        address="people",
        words="people person staff team user account technician tech nurse assistant veterinarian vet doctor colleague "
        "role competence training",
        action="lead",
    ),
    Place(
        name=_("Technique"),
        address="technique",
        words="technique quality protocol digit discarded sap systolic sbp",
        action="lead",
    ),
    Place(
        name=_("Settings"),
        address="practice-settings",
        words="settings telephone phone guideline rules category timezone retention preparing",
        action="lead",
    ),
    Place(name=_("Import"), address="import", words="import csv table migrate client patient", action="lead"),
    Place(
        name=_("Inspection folder"),
        address="inspection",
        words="inspection inspector audit folder accreditation",
        action="lead",
    ),
    Place(name=_("Export"), address="export", words="export research deidentified anonymous data", action="export"),
    Place(
        name=_("My page"),
        address="own-page",
        words="password pin code unit units mmhg kpa left lefthanded choices profile",
        action=None,
    ),
)


def found_elsewhere(person: Person, letters: str) -> list[Elsewhere]:
    """What these letters lead to besides animals, of what this person may open."""
    typed = words_of(letters)
    if not typed:
        return []
    found = [
        Elsewhere(name=str(place.name), href=reverse(place.address), kind=_("page"))
        for place in PLACES
        if (place.action is None or may(person, place.action)) and _leads_to(typed, place)
    ]
    if may(person, "lead"):
        found += [
            Elsewhere(name=each.name, href=reverse("person", args=[each.pk]), kind=_("person"))
            for each in staff(person)
            if is_found(letters, each.name, each.username)
        ][:MOST]
    if may(person, "look"):
        found += [
            Elsewhere(name=each.name, href=reverse("instrument", args=[each.pk]), kind=_("instrument"))
            for each in visible(person, Instrument).order_by("name")
            if is_found(letters, each.name, each.serial_number, each.asset_tag)
        ][:MOST]
        found += [
            Elsewhere(name=each.name, href=reverse("cuff", args=[each.pk]), kind=_("cuff"))
            for each in visible(person, Cuff).order_by("name")
            if is_found(letters, each.name, each.asset_tag)
        ][:MOST]
    return found


def _leads_to(typed: list[str], place: Place) -> bool:
    known = place.words.split()
    return any(
        word in known or word.removesuffix("s") in known or _begins(word, known) for word in typed if word.isalnum()
    )


def _begins(word: str, known: list[str]) -> bool:
    return len(word) >= SHORTEST_BEGINNING and any(each.startswith(word) for each in known)
