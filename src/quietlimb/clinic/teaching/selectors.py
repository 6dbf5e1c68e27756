"""What the pages of learning ask of the two stores."""

from __future__ import annotations

from datetime import datetime

from django.db.models import QuerySet

from quietlimb.clinic.people.models import Person
from quietlimb.clinic.sessions.models import Session
from quietlimb.clinic.stores import TEACHING, present, working_in
from quietlimb.clinic.teaching.models import OwnCase, TrainingResult, TrainingRun

MOST_LISTED = 30


def runs_of(person: Person) -> list[tuple[TrainingRun, Session | None]]:
    """A person's own runs, the latest first, each with its session where one was started."""
    with working_in(TEACHING):
        runs = TrainingRun.objects.filter(learner=person.pk).select_related("animal").order_by("-came_in_at")
        return [(run, run.animal.sessions.first()) for run in runs[:MOST_LISTED]]


def fast_since(session: Session) -> datetime | None:
    """Since when the animal of a case in fast time is here, which moves as its readings do; None for any other."""
    if present() != TEACHING:
        return None
    return TrainingRun.objects.filter(animal=session.animal_id, fast=True).values_list("came_in_at", flat=True).first()


def done_by(person: Person) -> set[str]:
    """The keys of the cases whose results a person has put beside her competence."""
    results = TrainingResult.objects.filter(practice=person.practice_id, person=person)
    return set(results.values_list("case_key", flat=True))


def results_of(person: Person) -> QuerySet[TrainingResult]:
    """All results of a person's practice."""
    return TrainingResult.objects.filter(practice=person.practice_id).select_related("person")


def own_cases_of(person: Person) -> QuerySet[OwnCase]:
    """The cases of a person's practice that are given."""
    return OwnCase.objects.filter(practice=person.practice_id, retired=False)
