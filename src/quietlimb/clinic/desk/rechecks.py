"""When an animal is to be measured again, renewed with all that is signed, amended or told of its treatment."""

from __future__ import annotations

from datetime import date

from django.utils import timezone

from quietlimb.clinic.animals.models import Animal, Recheck
from quietlimb.clinic.canonical import columns
from quietlimb.clinic.desk.months import history_of
from quietlimb.clinic.journal import writing as journal
from quietlimb.clinic.people.models import Person
from quietlimb.clinic.sessions.models import SignedValue
from quietlimb.engine.follow_up.history import History
from quietlimb.engine.follow_up.recheck import recheck
from quietlimb.engine.interpretation.urgency import need
from quietlimb.engine.standards.rule_sets import rule_set
from quietlimb.words.follow_up import rule_name


def _acted_on(history: History) -> float | None:
    """Of the sessions of the last day awake the pressure that asks for more; None without one. [mmHg]"""
    awake = [session for session in history.sessions if session.awake]
    of_the_day = [session.systolic_mmhg for session in awake if session.day == awake[-1].day]
    return max(of_the_day, key=need, default=None)


def recheck_renew(by: Person, *, animal: Animal) -> None:
    """When to measure again, from all that is known now; what was agreed of another window is dropped."""
    signed = SignedValue.objects.filter(session__animal=animal).order_by("-session__started_at").first()
    if signed is None:
        return
    history = history_of(animal)
    found = recheck(history, timezone.localdate().toordinal(), rules=rule_set(signed.rules, history.species))
    known = Recheck.objects.select_for_update().filter(animal=animal).first()
    if found is None:
        if known is not None:
            journal.write(by, "recheck ended", known, before=columns(known))
            known.delete()
        return
    before = None if known is None else columns(known)
    row = known or Recheck(practice_id=animal.practice_id, animal=animal)
    row.since, row.due_from, row.due_by = (
        date.fromordinal(day) for day in (found.since_day, found.earliest_day, found.latest_day)
    )
    row.why, row.last_charted = rule_name(found.rule), _acted_on(history)
    if before is not None and (before["due_from"], before["due_by"]) != (row.due_from, row.due_by):
        row.contact, row.contact_on, row.contact_by = "", None, None
    row.save()
    journal.write(by, "recheck set", row, before=before, after=columns(row))
