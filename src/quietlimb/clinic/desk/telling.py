"""What a veterinarian tells of an animal: organs that were examined, illnesses, what happened to the treatment."""

from __future__ import annotations

from datetime import date, datetime

from quietlimb.clinic.animals.models import Animal, Condition, Event, OrganFinding
from quietlimb.clinic.desk.rechecks import recheck_renew
from quietlimb.clinic.journal import writing as journal
from quietlimb.clinic.journal.changing import change
from quietlimb.clinic.people.models import Person
from quietlimb.clinic.stores import together


@together()
def organs_add(by: Person, *, animal: Animal, on: date, findings: list[OrganFinding], at: datetime) -> None:
    """Save what was seen of organs on a day; an earlier finding stays. The recheck follows."""
    for finding in findings:
        finding.practice_id, finding.animal, finding.on = animal.practice_id, animal, on
        finding.by, finding.entered_at = by, at
        finding.save(force_insert=True)
        journal.write(by, "organ examined", finding)
    if animal.sessions.exclude(ending="").exists():
        recheck_renew(by, animal=animal)


@together()
def event_add(by: Person, *, animal: Animal, event: Event) -> Event:
    """Save a treatment event, with the prescription as somebody wrote it; the recheck follows.

    The same event sent twice is one.
    """
    Animal.objects.select_for_update().get(pk=animal.pk)
    known = animal.events.filter(on=event.on, kind=event.kind, prescription=event.prescription).first()
    if known is not None:
        return known
    event.practice_id, event.animal = animal.practice_id, animal
    event.save(force_insert=True)
    journal.write(by, "treatment event added", event)
    recheck_renew(by, animal=animal)
    return event


@together()
def condition_add(by: Person, *, animal: Animal, condition: Condition) -> Condition:
    """Save an illness or a class of drugs that stands in the record; the recheck follows.

    One that stands there already, and has not ended, is the same one.
    """
    Animal.objects.select_for_update().get(pk=animal.pk)
    known = animal.conditions.filter(kind=condition.kind, code=condition.code, until=None).first()
    if known is not None:
        return known
    condition.practice_id, condition.animal = animal.practice_id, animal
    condition.save(force_insert=True)
    journal.write(by, f"{condition.kind} added", condition)
    recheck_renew(by, animal=animal)
    return condition


@together()
def condition_end(by: Person, *, condition: Condition, until: date) -> bool:
    """Say until when it was there; the row stays. False where that has been said already."""
    row = Condition.objects.select_for_update().get(pk=condition.pk)
    if row.until is not None:
        return False
    row.until = until
    change(by, f"{row.kind} ended", row, fields=("until",))
    recheck_renew(by, animal=row.animal)
    return True
