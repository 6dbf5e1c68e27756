"""What people have been taught, and what of it ends."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from quietlimb.clinic.people.models import Competence
from quietlimb.clinic.rights import Anyone, may, visible
from quietlimb.engine.values import Cited

# Long enough to find a day for a refresher.
WARN_BEFORE = Cited(60.0, "day", "Quietlimb", "this file", "invented")


@dataclass(frozen=True, slots=True, kw_only=True)
class Ending:
    """A competence that ends soon, or has ended and was not renewed."""

    competence: Competence
    over: bool


def ending_competences(person: Anyone, on: date) -> list[Ending]:
    """For the practice lead: competences of people at work that end within the warning time, the first to end first.

    One that was taught again since, by the same name of the subject, is left out.
    """
    if not may(person, "lead"):
        return []
    rows = list(visible(person, Competence).filter(person__is_active=True).select_related("person", "taught_by"))
    latest: dict[tuple[object, str], date] = {}
    for row in rows:
        key = (row.person_id, row.subject.strip().casefold())
        latest[key] = max(latest.get(key, date.min), row.until or date.max)
    found = [
        Ending(competence=row, over=row.until < on)
        for row in rows
        if row.until is not None
        and (row.until - on).days <= WARN_BEFORE.value
        and row.until == latest[row.person_id, row.subject.strip().casefold()]
    ]
    return sorted(found, key=lambda each: (each.competence.until or date.max, each.competence.person.name))
