"""Checks, decisions and the schedule as they are written: with the journal, for good, and what follows from them."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.db import DatabaseError, IntegrityError, connection, models, transaction
from django.utils import timezone

from clinic.bench.examples import checked, day, measured, not_held
from clinic.desk.examples import another
from clinic.examples import Clinic
from clinic.journal.test_tampering import another as another_value
from clinic.journal.test_tampering import from_outside, protect_again
from quietlimb.clinic.animals.models import Recheck
from quietlimb.clinic.bench.doubts import told_of_session
from quietlimb.clinic.bench.services import BenchError, decision_add, schedule_set
from quietlimb.clinic.bench.standing import checks_of, failures_of
from quietlimb.clinic.equipment.models import Check, CheckSchedule, Decided, Decision, Instrument
from quietlimb.clinic.equipment.services import EquipmentError, thing_change
from quietlimb.clinic.journal.models import Entry
from quietlimb.clinic.sessions.models import Session
from quietlimb.clinic.sessions.services import session_end
from quietlimb.clinic.verifying import verify


def decided(clinic: Clinic, check: Check, session: Session, what: Decided = Decided.STANDS, **told: Any) -> Decision:
    """A decision of the veterinarian, now."""
    told = {"why": "far from any boundary", "at": timezone.now(), **told}
    return decision_add(clinic.veterinarian, check=check, session=session, what=what, **told)


def test_a_failed_check_takes_the_instrument_out_of_service(clinic: Clinic) -> None:
    """At once, with the reason in the journal; it comes back only once a new check is good.

    Oracle: by construction.
    """
    thing = not_held(clinic)
    checked(clinic, day(3, 1), good=False)
    assert Instrument.objects.get(pk=thing.pk).out_of_service
    assert list(Entry.objects.order_by("sequence").values_list("what", "why")) == [
        ("check added", ""),
        ("instrument out of service", "failed: service certificate"),
    ]
    back = Instrument.objects.get(pk=thing.pk)
    back.out_of_service = False
    with pytest.raises(EquipmentError, match="check it again before it comes back"):
        thing_change(clinic.lead, back)
    checked(clinic, day(3, 5), good=True)
    assert Instrument.objects.get(pk=thing.pk).out_of_service
    assert thing_change(clinic.lead, back, why="adjusted")
    assert not Instrument.objects.get(pk=thing.pk).out_of_service
    assert verify().trouble is None


def test_a_failure_that_was_answered_already_takes_nothing_out(clinic: Clinic) -> None:
    """An old check entered late: a good one came after it. The sessions between them are in doubt all the same.

    Oracle: by construction.
    """
    thing = not_held(clinic)
    checked(clinic, day(5, 1), good=True)
    checked(clinic, day(3, 1), good=False)
    assert not Instrument.objects.get(pk=thing.pk).out_of_service
    assert [each.waits for each in told_of_session(clinic.session)] == [True]


def test_a_check_is_corrected_once_and_by_its_like(clinic: Clinic) -> None:
    """Not by another kind, nor of another thing, nor twice; both stay.

    Oracle: by construction.
    """
    first = checked(clinic, day(3, 1), good=True)
    for told in ({"kind": "look"}, {"thing": clinic.cuff, "kind": "look"}):
        with pytest.raises(BenchError, match="something else"):
            checked(clinic, day(3, 1), good=True, corrects=first, why="wrong one", **told)
    second = checked(clinic, day(3, 2), good=True, corrects=first, why="the day before")
    with pytest.raises(BenchError, match="corrected already"):
        checked(clinic, day(3, 3), good=True, corrects=first, why="once more")
    checked(clinic, day(3, 3), good=True, corrects=second, why="once more")
    assert Check.objects.count() == 3
    assert len(checks_of(clinic.instrument)) == 1
    assert Entry.objects.filter(what="check corrected").count() == 2
    assert verify().trouble is None


def test_sessions_in_doubt_are_closed_one_by_one(clinic: Clinic) -> None:
    """Each by its own decision, which the page of the session tells; a later one of the same session counts.

    Oracle: by construction.
    """
    not_held(clinic)
    sessions = [clinic.session, measured(clinic, day(2, 1))]
    failed = checked(clinic, day(3, 1), good=False)
    assert [told_of_session(each)[0].waits for each in sessions] == [True, True]
    decided(clinic, failed, sessions[0])
    assert [told_of_session(each)[0].waits for each in sessions] == [False, True]
    assert "Decided: stands, by Heron" in told_of_session(sessions[0])[0].words
    decided(clinic, failed, sessions[1], Decided.OWNER_CALLED, why="she comes in May")
    decided(clinic, failed, sessions[0], Decided.OWNER_CALLED, why="near 160 after all")
    assert "Decided: owner called, by Heron" in told_of_session(sessions[0])[0].words
    assert Decision.objects.count() == 3
    assert Entry.objects.filter(what__startswith="session decided").count() == 3
    assert verify().trouble is None


def test_what_is_not_in_doubt_is_not_decided(clinic: Clinic) -> None:
    """By a good check, of a session after the answer, or once the failure was corrected.

    Oracle: by construction.
    """
    not_held(clinic)
    good = checked(clinic, day(1, 2), good=True)
    failed = checked(clinic, day(3, 1), good=False)
    checked(clinic, day(3, 5), good=True)
    after = measured(clinic, day(3, 6))
    for check, session in ((good, clinic.session), (failed, after)):
        with pytest.raises(BenchError, match="does not hold this session in doubt"):
            decided(clinic, check, session)
    checked(clinic, day(3, 1), good=True, corrects=failed, why="a slip")
    with pytest.raises(BenchError, match="does not hold this session in doubt"):
        decided(clinic, failed, clinic.session)
    assert not Decision.objects.exists()


def test_a_decision_stays_with_the_failure_that_was_corrected(clinic: Clinic) -> None:
    """The figures of the failed check are put right, it still fails: what was decided is decided.

    Oracle: by construction.
    """
    not_held(clinic)
    failed = checked(clinic, day(3, 1), good=False)
    decided(clinic, failed, clinic.session)
    checked(clinic, day(3, 1), good=False, corrects=failed, why="another number on it")
    assert [each.waits for each in told_of_session(clinic.session)] == [False]
    assert len(failures_of(clinic.instrument, checks_of(clinic.instrument))[0].behind) == 2


def test_to_be_repeated_makes_the_animal_due_until_it_was_measured(clinic: Clinic) -> None:
    """Due from the day of the decision with the reason; a session with a value after it ends that, and so does another
    decision.

    Oracle: by construction; 14 days are invented.
    """
    not_held(clinic)
    old = another(clinic, -60, ending="closed")
    failed = checked(clinic, clinic.started_at - timedelta(days=30), good=False)
    at = clinic.started_at - timedelta(days=20)
    decided(clinic, failed, old.session, Decided.REPEAT, why="near a boundary", at=at)
    row = Recheck.objects.get()
    assert (row.why, row.source) == ("to be repeated: grey box failed its check", "decided by Heron")
    assert row.due_from == timezone.localdate(at)
    assert (row.due_by - row.due_from).days <= 14
    decided(clinic, failed, old.session, Decided.STANDS, why="it was off by 1 mmHg", at=at + timedelta(hours=1))
    assert not Recheck.objects.filter(why__startswith="to be repeated").exists()
    decided(clinic, failed, old.session, Decided.REPEAT, why="no, by 9", at=at + timedelta(hours=2))
    assert Recheck.objects.filter(why__startswith="to be repeated").exists()
    again = another(clinic, 0)
    session_end(clinic.nurse, session=again.session, ending="closed", at=timezone.now())  # type: ignore[arg-type]
    assert not Recheck.objects.filter(why__startswith="to be repeated").exists()


def test_the_schedule_is_set_and_changed_with_the_journal(clinic: Clinic) -> None:
    """Once as new, then as a change; the same again writes nothing.

    Oracle: by construction.
    """
    row = CheckSchedule(aneroid_months=3, electronic_months=12, cuff_months=1, reference_months=12)
    assert schedule_set(clinic.lead, schedule=row)
    assert not schedule_set(clinic.lead, schedule=row)
    row.cuff_months = 2
    assert schedule_set(clinic.lead, schedule=row)
    assert [entry.what for entry in Entry.objects.order_by("sequence")] == [
        "check schedule set",
        "check schedule changed",
    ]


@pytest.fixture
def standing(clinic: Clinic) -> Clinic:
    """The clinic with a failed check, a correction of an earlier one, and a decision."""
    not_held(clinic)
    slip = checked(clinic, day(2, 1), good=True)
    checked(clinic, day(1, 1), good=True, corrects=slip, why="of January")
    failed = checked(clinic, day(3, 1), good=False)
    decided(clinic, failed, clinic.session)
    assert verify().trouble is None
    return clinic


COLUMNS = [(model, field) for model in (Check, Decision) for field in model._meta.concrete_fields]


@pytest.mark.parametrize(("model", "field"), COLUMNS, ids=[f"{m.__name__}.{f.name}" for m, f in COLUMNS])
def test_a_column_of_a_check_or_a_decision_is_refused_and_found(
    model: type[models.Model], field: models.Field[Any, Any], standing: Clinic
) -> None:
    """Each column: an update is refused by the database; one made past that is found, or breaks another rule of it.

    Oracle: by construction, SQL without the framework between, over the tables' own list of columns.
    """
    table, row = model._meta.db_table, model._default_manager.earliest("pk")
    change = f'UPDATE {table} SET "{field.column}" = %s WHERE id = %s'
    now = getattr(row, field.attname)
    other: Any = day(1, 1).date() if type(field) is models.DateField else another_value(model, field)
    if isinstance(field, models.FloatField) and now is None:
        other = 7.5
    values = [field.get_db_prep_save(other, connection), model._meta.pk.get_db_prep_save(row.pk, connection)]
    with pytest.raises(DatabaseError, match="stands for good"), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(change, values)
    try:
        with from_outside() as cursor:
            cursor.execute(change, values)
            protect_again(cursor)
            found = verify().trouble
    except IntegrityError:
        return
    assert found is not None
    assert "not protected" not in found
    assert verify().trouble is None


@pytest.mark.parametrize("model", [Check, Decision])
def test_a_check_or_a_decision_that_was_removed_is_refused_and_missed(
    model: type[models.Model], standing: Clinic
) -> None:
    """The last of each: its removal is refused; where it was removed all the same, it is missed.

    Oracle: by construction.
    """
    table = model._meta.db_table
    remove = f"DELETE FROM {table} WHERE id = (SELECT id FROM {table} ORDER BY id DESC LIMIT 1)"
    with pytest.raises(DatabaseError, match="stands for good"), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(remove)
    with from_outside() as cursor:
        cursor.execute(remove)
        protect_again(cursor)
        found = verify().trouble
    assert found is not None
    assert "is gone" in found
