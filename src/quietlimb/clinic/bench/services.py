"""Everything that writes a check, a decision or the schedule. Checks and decisions are never changed: a new check names
the one that it corrects, a later decision stands beside the earlier one."""

from __future__ import annotations

import hashlib
from datetime import datetime

from django.utils.translation import gettext as _

from quietlimb.clinic.bench.doubts import failure_of, in_doubt
from quietlimb.clinic.bench.standing import checks_of, failures_of
from quietlimb.clinic.canonical import seal_of
from quietlimb.clinic.desk.rechecks import recheck_renew
from quietlimb.clinic.equipment.models import Check, CheckSchedule, Decided, Decision
from quietlimb.clinic.journal import writing as journal
from quietlimb.clinic.journal.changing import change
from quietlimb.clinic.people.models import Person
from quietlimb.clinic.sessions.models import Recording, Session
from quietlimb.clinic.stores import together
from quietlimb.engine.errors import QuietlimbError

SCHEDULE = ("aneroid_months", "electronic_months", "cuff_months", "reference_months")


class BenchError(QuietlimbError):
    """This check or decision cannot be kept."""


@together()
def check_add(by: Person, *, check: Check, recording: tuple[str, bytes] | None = None, at: datetime) -> Check:
    """Keep a filled-in check. One that fails, and that no later one answers, takes what it is of out of service.

    recording : name and bytes of the pressure over time that it was made from

    Raises BenchError where it corrects a check of something else, of another kind, or one that is corrected already.
    """
    thing = check.thing
    locked = type(thing)._default_manager.select_for_update().get(pk=thing.pk)
    if check.corrects is not None:
        _refuse_other(check, check.corrects)
    check.practice_id = by.practice_id
    check.by, check.entered_at = by, at
    if recording is not None:
        check.recording = _kept(by, *recording)
    check.seal = seal_of(check)
    check.save(force_insert=True)
    journal.write(by, "check corrected" if check.corrects else "check added", check, why=check.why)
    unanswered = [each for each in failures_of(locked, checks_of(locked)) if each.answered is None]
    if not check.good and unanswered and not locked.out_of_service:
        locked.out_of_service = True
        why = _("failed: {what}").format(what=check.get_kind_display())
        change(by, f"{locked._meta.verbose_name} out of service", locked, fields=("out_of_service",), why=why)
    return check


def _refuse_other(check: Check, corrected: Check) -> None:
    same = (check.instrument_id, check.cuff_id, check.kind) == (
        corrected.instrument_id,
        corrected.cuff_id,
        corrected.kind,
    )
    if not same:
        raise BenchError("another-check", _("This corrects a check of something else"), _("enter it as a new check"))
    if Check.objects.filter(corrects=corrected).exists():
        raise BenchError(
            "corrected-already", _("This check has been corrected already"), _("correct the one that stands for it")
        )


def _kept(by: Person, name: str, content: bytes) -> Recording:
    """The bytes, once for the practice."""
    sha256 = hashlib.sha256(content).hexdigest()
    row, is_new = Recording.objects.get_or_create(
        practice_id=by.practice_id, sha256=sha256, defaults={"name": name, "content": content}
    )
    if is_new:
        journal.write(by, "recording kept", row, after={"sha256": sha256, "name": name, "results": []})
    return row


@together()
def decision_add(by: Person, *, check: Check, session: Session, what: Decided, why: str, at: datetime) -> Decision:
    """Close one session that a failed check holds in doubt. To be measured again makes its animal due.

    Raises BenchError where the check holds it in doubt no longer, or never did.
    """
    Session.objects.select_for_update().get(pk=session.pk)
    failure = failure_of(check)
    doubted = None
    if failure is not None:
        found = in_doubt(check.thing, failure).sessions
        doubted = next((each for each in found if each.session.pk == session.pk), None)
    if failure is None or doubted is None:
        raise BenchError("not-in-doubt", _("This check does not hold this session in doubt"), _("load the page again"))
    row = Decision(practice_id=by.practice_id, failed=failure.failed, session=session, what=what, by=by, at=at, why=why)
    row.seal = seal_of(row)
    row.save(force_insert=True)
    journal.write(by, f"session decided: {what}", row, why=why)
    if Decided.REPEAT in (what, doubted.decision.what if doubted.decision else None):
        recheck_renew(by, animal=session.animal)
    return row


@together()
def schedule_set(by: Person, *, schedule: CheckSchedule) -> bool:
    """Keep how often the practice checks; whether anything was different."""
    if schedule._state.adding:
        schedule.practice_id = by.practice_id
        schedule.save(force_insert=True)
        journal.write(by, "check schedule set", schedule)
        return True
    return change(by, "check schedule changed", schedule, fields=SCHEDULE)
