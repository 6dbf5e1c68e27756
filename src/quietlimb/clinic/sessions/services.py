"""Everything that writes to a session. Each function tells the journal in its own transaction."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from dataclasses import asdict
from datetime import datetime
from itertools import chain

from django.db import IntegrityError
from django.db.models import Max, Q
from django.utils.translation import gettext as _

from quietlimb.clinic.canonical import columns
from quietlimb.clinic.desk.rechecks import recheck_renew
from quietlimb.clinic.equipment.models import Technique
from quietlimb.clinic.journal import writing as journal
from quietlimb.clinic.journal.changing import change
from quietlimb.clinic.people.models import Person
from quietlimb.clinic.sessions.entry import Entered, EntryError
from quietlimb.clinic.sessions.models import Ending, LateReading, Reading, Series, Session, SignedValue
from quietlimb.clinic.sessions.settling import LONGEST, STEP, Do, disturbances
from quietlimb.clinic.stores import together

# What a series is, besides its method; the next one like it has the same.
ALIKE = ("instrument", "cuff", "site", "side", "position", "limb_circumference_cm", "cuff_below_heart_cm")


@together()
def session_start(by: Person, *, session: Session, series: Series, at: datetime) -> Session:
    """Save a filled-in session with its first series; who starts it also reads, unless somebody else was named."""
    session.practice_id = by.practice_id
    session.started_at, session.started_by = at, by
    session.read_by = session.read_by or by
    session.save(force_insert=True)
    journal.write(by, "session started", session)
    series_open(by, session=session, series=series)
    return session


@together()
def series_open(by: Person, *, session: Session, series: Series) -> Series:
    """Save a filled-in series as the next one of a session. Raises EntryError where the session is signed."""
    lock_unsigned(session.pk)
    last = session.series.aggregate(last=Max("ordinal"))["last"] or 0
    series.practice_id, series.session, series.ordinal = session.practice_id, session, last + 1
    series.save(force_insert=True)
    journal.write(by, "series opened", series)
    return series


def reading_add(by: Person, *, series: Series, entered: Entered, at: datetime) -> tuple[Reading | LateReading, bool]:
    """The row of a reading, and whether it is new. Sent again, whatever happened to the answer, it is the same row.

    It may stand in another series than was meant, see `series_for`. Also after the session has ended: what a tablet
    kept must not be lost for a colleague's closing it. One that comes once it is signed is kept beside what was signed.

    Raises EntryError where the key belongs to other numbers, or nobody of the practice typed it.
    """
    try:
        with together():
            session = _locked(series.session_id)
            if _is_signed(session):
                known = _known(by, series, entered)
                return (known, False) if known else (_kept_beside(by, series, entered, at), True)
            row = Reading(
                practice_id=series.practice_id,
                series=series_for(by, series, recorded=False),
                saved_by=by,
                saved_at=at,
                typed_by=_typed_by(by, entered),
                **_typed(entered),
            )
            row.save(force_insert=True)
            journal.write(by, "reading added", row)
            after_the_end(by, session)
            return row, True
    except IntegrityError:
        # The same reading came before. That is rare, and so it is not looked for until the database refuses it.
        known = _known(by, series, entered)
        if known is None:
            raise
        return known, False


def _kept_beside(by: Person, series: Series, entered: Entered, at: datetime) -> LateReading:
    """What came once the session was signed: never refused for that, and nothing that was signed moves by it."""
    row = LateReading(
        practice_id=series.practice_id,
        series=series,
        saved_by=by,
        saved_at=at,
        typed_by=_typed_by(by, entered),
        **_typed(entered),
    )
    row.save(force_insert=True)
    journal.write(by, "reading kept beside the signed session", row)
    return row


def _known(by: Person, series: Series, entered: Entered) -> Reading | LateReading | None:
    """The row with the key of what was entered; a key of other numbers, session or practice is refused."""
    same_key = (kind.objects.filter(client_id=entered.client_id) for kind in (Reading, LateReading))
    known = next((row for rows in same_key for row in rows.select_related("series")), None)
    if known is None:
        return None
    same = all(getattr(known, name) == value for name, value in _typed(entered).items())
    if known.practice_id != by.practice_id or known.series.session_id != series.session_id or not same:
        raise EntryError("key-taken", _("This key belongs to another reading"), _("type the reading again"))
    return known


def series_for(by: Person, series: Series, *, recorded: bool) -> Series:
    """Where a reading goes: typed readings and recordings are never pooled, and a recording is never by Doppler.

    The series that was meant, the latest of its session like it that holds its kind, or a new one. To be called where
    the session is locked.
    """
    technique = Technique.OSCILLOMETRIC if recorded else series.technique
    wanted = {name: getattr(series, name) for name in ALIKE}
    if technique != series.technique:
        wanted["instrument"] = None
    others = series.session.series.exclude(pk=series.pk).order_by("-ordinal")
    for each in chain([series], others.iterator()):
        like = each.technique == technique and all(getattr(each, name) == wanted[name] for name in ALIKE)
        other_kind = each.readings.filter(recording__isnull=recorded, struck_at=None)
        if like and not other_kind.exists():
            return each
    another = Series(technique=technique, planned_readings=series.planned_readings, **wanted)
    return series_open(by, session=series.session, series=another)


def lock_unsigned(session_id: uuid.UUID) -> Session:
    """The session, which nobody signs before this transaction ends. Raises EntryError where somebody has."""
    session = _locked(session_id)
    if _is_signed(session):
        raise EntryError("signed", _("The session is signed"), _("ask the veterinarian for an amendment"))
    return session


def _locked(session_id: uuid.UUID) -> Session:
    """The session as it is now, which nobody signs or closes before this transaction ends."""
    return Session.objects.select_for_update().get(pk=session_id)


def _is_signed(locked: Session) -> bool:
    """Whether somebody has signed it. To be asked once it is locked: the lock may have been waited for."""
    return SignedValue.objects.filter(session=locked).exists()


def after_the_end(by: Person, session: Session) -> None:
    """What changes in a session that has ended may change when the animal is to be measured again."""
    if not session.is_open:
        recheck_renew(by, animal=session.animal)


def _typed(entered: Entered) -> dict[str, object]:
    """What was typed, without by whom: it is the same reading whoever sends it again."""
    return {name: value for name, value in asdict(entered).items() if name != "typed_by"}


def _typed_by(by: Person, entered: Entered) -> Person | None:
    """Who typed it, if that was somebody else; also one who has left since then."""
    if entered.typed_by in (None, by.pk):
        return None
    found = Person.objects.filter(practice=by.practice_id, pk=entered.typed_by).first()
    if found is None:
        raise EntryError("unknown-person", _("Nobody here typed this"), _("load the page again"), field="typed_by")
    return found


@together()
def reading_strike(by: Person, *, reading_id: uuid.UUID, why: str, at: datetime) -> Reading:
    """Strike a reading through. It stays, with who did it and when; done twice, the first time stands.

    Raises EntryError where the session is signed.
    """
    row = Reading.objects.select_for_update().select_related("series").get(pk=reading_id)
    session = lock_unsigned(row.series.session_id)
    if row.struck_at is None:
        before = columns(row)
        row.struck_at, row.struck_by, row.struck_because = at, by, why
        row.save(update_fields=["struck_at", "struck_by", "struck_because"])
        journal.write(by, "reading struck through", row, before=before, after=columns(row), why=why)
        after_the_end(by, session)
    return row


@together()
def circumstances_correct(
    by: Person, *, session: Session, series: Series, of_session: Sequence[str], of_series: Sequence[str]
) -> None:
    """Save what was told of a session and one of its series by mistake or not yet, with before and after journalled.

    of_session, of_series : the names of the fields to save

    Raises EntryError where the session is signed, or the readings of the series cannot be by its method.
    """
    locked = lock_unsigned(session.pk)
    if series.technique == Technique.DOPPLER:
        more = ~Q(mean=None) | ~Q(diastolic=None) | ~Q(recording=None)
        if series.readings.filter(more, struck_at=None).exists():
            says, remedy = _("The readings here are not by Doppler"), _("open a new series for the other instrument")
            raise EntryError("not-by-doppler", says, remedy, field="technique")
    change(by, "circumstances corrected", session, fields=of_session)
    change(by, "circumstances corrected", series, fields=of_series)
    after_the_end(by, locked)


@together()
def session_end(by: Person, *, session: Session, ending: Ending, at: datetime) -> Session:
    """End a session, and work out when the animal is to be measured again. Whoever ends it second changes nothing."""
    ended = session_close(by, session=session, ending=ending, at=at)
    recheck_renew(by, animal=ended.animal)
    return ended


@together()
def session_close(by: Person, *, session: Session, ending: Ending, at: datetime) -> Session:
    """End a session, with what was filled in at the end; the day of the next one is for whoever calls this."""
    stored = Session.objects.select_for_update().get(pk=session.pk)
    if not stored.is_open:
        return stored
    before = columns(stored)
    session.ending, session.ended_at, session.ended_by = ending, at, by
    session.save(update_fields=[*CLOSING_FIELDS, "ending", "ended_at", "ended_by"])
    journal.write(by, "session ended", session, before=before, after=columns(session))
    return session


@together()
def session_settle(by: Person, *, session: Session, do: Do, at: datetime) -> Session:
    """Correct since when the animal has been here by five minutes, or begin again after a disturbance.

    Before the first reading a disturbance begins the time anew; after it, it stands beside, so that what was measured
    before keeps its own minutes. Raises EntryError where the session is signed.
    """
    row = lock_unsigned(session.pk)
    measured = Reading.objects.filter(series__session=row, struck_at=None).exists()
    latest = max(disturbances(row), default=None)
    if do == "again":
        if measured:
            row.disturbed_at = [*row.disturbed_at, at.isoformat()]
        else:
            row.acclimatised_since, row.disturbed_at = at, []
    else:
        since = latest or row.acclimatised_since or at
        moved = min(max(since - STEP if do == "more" else since + STEP, at - LONGEST), at)
        if latest is None:
            row.acclimatised_since = moved
        else:
            row.disturbed_at = [*row.disturbed_at[:-1], moved.isoformat()]
    change(by, "time to settle changed", row, fields=("acclimatised_since", "disturbed_at"))
    return row


CLOSING_FIELDS = ("signs", "remarks", "demeanour_at_end", "cuff_cleaned")
