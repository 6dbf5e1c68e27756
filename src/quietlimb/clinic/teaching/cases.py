"""The cases that a practice can give: those that come with the program, and its own."""

from __future__ import annotations

from quietlimb.clinic.people.models import Person
from quietlimb.clinic.teaching.selectors import own_cases_of
from quietlimb.simulator.training import CASES, Case, case_from


def cases_for(person: Person) -> dict[str, Case]:
    """Key -> case, those with one thing to learn first."""
    found = {**CASES, **{str(row.pk): case_from(row.case) for row in own_cases_of(person)}}
    return dict(sorted(found.items(), key=lambda item: item[1].difficulty))
