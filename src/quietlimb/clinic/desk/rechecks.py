"""When an animal is to be measured again: worked out here and nowhere else, and kept in its row.

Today, letter, owner's page and the animal's page show the row. It is renewed whenever a session of the animal ends or
is signed, amended, moved or imported, when a reading of an ended session comes in or is struck through, and when
organs, treatment or the animal itself are told of. A session that a failed check holds in doubt and that is to be
repeated makes its animal due as well, until it has been measured again.
"""

from __future__ import annotations

from datetime import date, timedelta

from django.utils import timezone
from django.utils.translation import gettext as _

from quietlimb.clinic.animals.models import Animal, Recheck
from quietlimb.clinic.bench.doubts import repeat_asked
from quietlimb.clinic.canonical import columns
from quietlimb.clinic.desk.months import day_of, history_of, value_of
from quietlimb.clinic.equipment.models import Decision
from quietlimb.clinic.journal import writing as journal
from quietlimb.clinic.people.models import Person
from quietlimb.clinic.sessions.models import Ending, Session
from quietlimb.clinic.sessions.selectors import height_of
from quietlimb.engine.follow_up.history import History
from quietlimb.engine.follow_up.recheck import Recheck as Found
from quietlimb.engine.follow_up.recheck import recheck
from quietlimb.engine.interpretation.urgency import need
from quietlimb.engine.standards.rule_sets import rule_set
from quietlimb.words.follow_up import recheck_source, rule_name

# A value that nobody can rely on should not stand for long. [invented]
REPEAT_WITHIN = timedelta(days=14)
SHOWN = ("since", "due_from", "due_by", "why", "source", "last_charted", "unsigned")


def recheck_of(animal: Animal, history: History) -> Found | None:
    """What the practice's rule set asks for now, by all sessions that have ended; None where it asks for nothing."""
    rules = rule_set(animal.practice.rules, history.species)
    return recheck(history, timezone.localdate().toordinal(), rules=rules, tried_day=_tried_day(_ended(animal)))


def kept_recheck(animal: Animal) -> Recheck | None:
    """The row that stands for an animal."""
    return Recheck.objects.filter(animal=animal).first()


def recheck_renew(by: Person, *, animal: Animal) -> None:
    """Write down what is asked for now; what was agreed of another window is dropped. As it was, nothing is written."""
    Animal.objects.select_for_update().get(pk=animal.pk)  # of two at once the second sees the row of the first
    history = history_of(animal)
    found, again = recheck_of(animal, history), _to_repeat(animal)
    known = Recheck.objects.select_for_update().filter(animal=animal).first()
    if found is None and again is None:
        if known is not None:
            journal.write(by, "recheck ended", known, before=columns(known))
            known.delete()
        return
    before = None if known is None else columns(known)
    row = known or Recheck(practice_id=animal.practice_id, animal=animal)
    if found is not None:
        row.since, row.due_from, row.due_by = (
            date.fromordinal(day) for day in (found.since_day, found.earliest_day, found.latest_day)
        )
        row.why, row.source = rule_name(found.rule), recheck_source(found)
    if again is not None:
        _set_to_repeat(row, again, sooner=None if found is None else row.due_by)
    row.last_charted, row.unsigned = _acted_on(history), _is_unsigned(_ended(animal))
    after = columns(row)
    if before is not None and all(before[name] == after[name] for name in SHOWN):
        return
    if before is not None and (before["due_from"], before["due_by"]) != (after["due_from"], after["due_by"]):
        row.contact, row.contact_on, row.contact_by = "", None, None
    row.save()
    journal.write(by, "recheck set", row, before=before, after=columns(row))


def _to_repeat(animal: Animal) -> Decision | None:
    """The decision that a session be repeated, where the animal has no value of a later one yet."""
    decision = repeat_asked(animal.pk)
    if decision is None:
        return None
    measured = any(row.started_at > decision.at and _has_value(row) for row in _ended(animal))
    return None if measured else decision


def _set_to_repeat(row: Recheck, decision: Decision, *, sooner: date | None) -> None:
    """Due from the day of the decision; where the rule set asks for it sooner still, by then."""
    day = timezone.localdate(decision.at)
    by = day + REPEAT_WITHIN
    row.since, row.due_from = day, day
    row.due_by = by if sooner is None else max(day, min(by, sooner))
    row.why = _("to be repeated: {name} failed its check").format(name=decision.failed.thing.name)
    row.source = _("decided by {name}").format(name=decision.by.name)


def _acted_on(history: History) -> float | None:
    """Of the sessions of the last day awake the pressure that asks for more; None without one. [mmHg]"""
    awake = [session for session in history.sessions if session.awake]
    of_the_day = [session.systolic_mmhg for session in awake if session.day == awake[-1].day]
    return max(of_the_day, key=need, default=None)


def _tried_day(ended: list[Session]) -> int | None:
    """The day of the latest session that has ended without a valid value; None where one since then has any, awake."""
    for session in ended:
        if not _has_value(session):
            return day_of(session).toordinal()
        if session.sedation in ("", Session.Consciousness.AWAKE):
            return None
    return None


def _is_unsigned(ended: list[Session]) -> bool:
    """Whether nobody has signed one of the sessions of the last day."""
    return any(not row.signed_values.all() for row in ended if day_of(row) == day_of(ended[0]))


def _ended(animal: Animal) -> list[Session]:
    """The sessions that have ended, the latest day first; of one day those with a value first, for they answer the
    others."""
    rows = (
        animal.sessions.exclude(ending="")
        .select_related("animal", "practice", "read_by")
        .prefetch_related(
            "signed_values__amendments", "series__readings__recording", "series__instrument", "series__cuff"
        )
    )
    return sorted(rows, key=lambda row: (-day_of(row).toordinal(), not _has_value(row)))


def _has_value(session: Session) -> bool:
    for signed in session.signed_values.all():
        return value_of(signed) is not None
    return session.ending != Ending.NO_VALID_VALUE and height_of(session).systolic_mmhg is not None
