"""The sessions that a failed check holds in doubt, and what was decided of each.

In doubt is every session with the thing after its last good check: up to the failed one, and beyond it where it was
used all the same, until a good check answers. A Doppler unit's sessions are in doubt with the manometer that it is
read on. A valve that empties the cuff slowly moves no pressure that is read: it holds no session in doubt.
"""

from __future__ import annotations

import json
import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from django.db.models import Q, QuerySet
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from quietlimb.clinic.bench.standing import (
    KEPT_BACK,
    Failure,
    Schedule,
    Standing,
    Thing,
    checks_of,
    checks_of_all,
    day_words,
    failures_of,
    gauge_words,
    schedule_of,
    standing_of,
)
from quietlimb.clinic.equipment.models import Check, CheckKind, Cuff, Decided, Decision, Instrument
from quietlimb.clinic.people.models import Practice
from quietlimb.clinic.rights import Anyone, visible
from quietlimb.clinic.sessions.models import Session
from quietlimb.clinic.stores import TEACHING, present
from quietlimb.instruments.schedule import DUE_SOON_DAYS

MOVES_NO_PRESSURE = (CheckKind.EXHAUST,)


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubted:
    """A session in doubt, and what was decided of it last; None while nobody has."""

    session: Session
    decision: Decision | None

    @property
    def is_open(self) -> bool:
        """Whether it waits for a decision."""
        return self.decision is None


@dataclass(frozen=True, slots=True, kw_only=True)
class InDoubt:
    """A failure with its sessions, the earliest first."""

    failure: Failure
    sessions: tuple[Doubted, ...]

    @property
    def open_count(self) -> int:
        """How many wait for a decision."""
        return sum(each.is_open for each in self.sessions)

    @property
    def words(self) -> str:
        """`14 sessions since the last good check, 5 to decide`."""
        return doubt_words(self)


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What the page of a session says of an instrument or a cuff that it was measured with.

    waits : a decision is pending
    quiet : no more than a remark
    failed : the key of the failed check, for who wants to look; None where none failed
    decided : what was decided of the session last; empty while nothing is
    """

    words: str
    waits: bool = False
    quiet: bool = False
    failed: object = None
    decided: str = ""


def sessions_with(thing: Thing) -> QuerySet[Session]:
    """Every session that a thing was used in."""
    if isinstance(thing, Cuff):
        used = Q(series__cuff=thing)
    else:
        used = Q(series__instrument=thing) | Q(series__instrument__read_on=thing)
    return Session.objects.filter(used, practice=thing.practice_id).distinct()


def _within(failure: Failure, rows: QuerySet[Session]) -> QuerySet[Session]:
    if failure.failed.kind in MOVES_NO_PRESSURE:
        return rows.none()
    if failure.last_good is not None:
        rows = rows.filter(started_at__gt=failure.last_good.done_at)
    if failure.answered is not None:
        rows = rows.filter(started_at__lt=failure.answered.done_at)
    return rows


def in_doubt(thing: Thing, failure: Failure) -> InDoubt:
    """The sessions of a failure."""
    rows = (
        _within(failure, sessions_with(thing)).select_related("animal__owner", "practice").order_by("started_at", "id")
    )
    latest = _decisions(failure)
    return InDoubt(failure=failure, sessions=tuple(Doubted(session=row, decision=latest.get(row.pk)) for row in rows))


def judged_by(failure: Failure) -> QuerySet[Check]:
    """The checks that were held against a reference manometer between its last good certificate and its next.

    They count until somebody makes them again; none of a thing that is no reference.
    """
    rows = Check.objects.filter(reference__isnull=False, reference=failure.failed.instrument_id, corrected_by=None)
    if failure.last_good is not None:
        rows = rows.filter(done_at__gt=failure.last_good.done_at)
    if failure.answered is not None:
        rows = rows.filter(done_at__lt=failure.answered.done_at)
    return rows.defer(*KEPT_BACK).select_related("instrument", "cuff").order_by("done_at", "id")


def _decisions(failure: Failure) -> dict[object, Decision]:
    rows = Decision.objects.filter(failed__in=failure.behind).select_related("by", "failed").order_by("at", "id")
    return {row.session_id: row for row in rows}


def doubt_words(found: InDoubt) -> str:
    """How many sessions, and how many of them wait."""
    count = len(found.sessions)
    if found.failure.failed.kind in MOVES_NO_PRESSURE:
        return _("it moves no pressure, so no session is in doubt")
    if found.failure.last_good is None:
        words = ngettext("{n} session so far", "{n} sessions so far", count)
    else:
        words = ngettext("{n} session since the last good check", "{n} sessions since the last good check", count)
    told = words.format(n=count)
    return _("{told}, {open} to decide").format(told=told, open=found.open_count) if found.open_count else told


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A thing in the register: how it stands, and the failures of which sessions wait or that no check has answered.

    fresh      : one of those is of the last two weeks
    back       : it was out of service for a failure that a good check, or a correction, of the last two weeks has ended
    service_by : the day before which to have it serviced, by the drift of its checks, where that is near
    gauge      : of a Doppler unit, what is wrong with the manometer that it is read on; empty where nothing is
    """

    standing: Standing
    doubts: tuple[InDoubt, ...]
    fresh: bool
    back: bool = False
    service_by: date | None = None
    gauge: str = ""

    @property
    def thing(self) -> Thing:
        """The instrument or cuff."""
        return self.standing.thing

    @property
    def waits(self) -> int:
        """How many sessions wait for a decision."""
        return sum(each.open_count for each in self.doubts)

    @property
    def is_instrument(self) -> bool:
        """Whether it is no cuff."""
        return isinstance(self.thing, Instrument)

    @property
    def asks(self) -> bool:
        """Whether it belongs on Today: due or overdue in service, failed a short while ago, or with sessions to decide.
        What has failed, is out of service and has nothing to decide any more waits in the register alone.
        """
        due = not self.thing.out_of_service and self.standing.state in ("overdue", "due soon", "failed")
        return due or self.fresh or self.back or self.service_by is not None or self.waits > 0

    @property
    def words(self) -> str:
        """`failed 2 May 2024: 14 sessions since the last good check, 5 to decide`, or as it stands."""
        told = [self.standing.words] if self.standing.state != "failed" else []
        for each in self.doubts:
            failed = each.failure.failed
            day = day_words(timezone.localdate(failed.done_at))
            told.append(
                _("failed {day} ({what}): {doubt}").format(day=day, what=failed.get_kind_display(), doubt=each.words)
            )
        if self.back:
            told.append(_("nothing fails any more, still out of service: the practice lead brings it back"))
        if self.service_by is not None:
            told.append(_("by its drift to be serviced before {day}").format(day=day_words(self.service_by)))
        return "; ".join(filter(None, told)) or self.standing.words


def line_of(thing: Thing, checks: Sequence[Check], schedule: Schedule, on: date) -> Line:
    """A thing as it stands in the register."""
    standing = standing_of(thing, checks, schedule, on)
    found = [in_doubt(thing, failure) for failure in standing.failures]
    return Line(
        standing=standing,
        doubts=tuple(each for each in found if each.open_count or each.failure.answered is None),
        fresh=any(
            (on - timezone.localdate(each.failed.done_at)).days <= DUE_SOON_DAYS.value
            for each in standing.open_failures
        ),
        back=thing.out_of_service and not standing.open_failures and _ended_lately(standing.failures, checks, on),
    )


def _ended_lately(failures: Sequence[Failure], checks: Sequence[Check], on: date) -> bool:
    """Whether a failure came to an end in the last two weeks: answered by a good check, or corrected into one."""
    ends = [each.answered for each in failures if each.answered is not None]
    ends += [row for row in checks if row.good and row.corrects is not None and not row.corrects.good]
    return any(0 <= (on - timezone.localdate(row.entered_at)).days <= DUE_SOON_DAYS.value for row in ends)


def register(practice: Practice, things: Sequence[Thing], on: date) -> list[Line]:
    """These things of a practice, each as it stands."""
    schedule, checks = schedule_of(practice), checks_of_all(practice)
    return [_with_gauge(line_of(each, checks.get(each.pk, ()), schedule, on), checks, schedule, on) for each in things]


def line_of_one(thing: Thing, practice: Practice, on: date) -> Line:
    """One thing."""
    schedule, gauge = schedule_of(practice), _gauge_of(thing)
    of_gauge: Mapping[object, Sequence[Check]] = {} if gauge is None else {gauge.pk: checks_of(gauge)}
    return _with_gauge(line_of(thing, checks_of(thing), schedule, on), of_gauge, schedule, on)


def _with_gauge(line: Line, checks: Mapping[object, Sequence[Check]], schedule: Schedule, on: date) -> Line:
    gauge = _gauge_of(line.thing)
    if gauge is None:
        return line
    return replace(line, gauge=gauge_words(standing_of(gauge, checks.get(gauge.pk, ()), schedule, on)))


def _gauge_of(thing: Thing) -> Instrument | None:
    return thing.read_on if isinstance(thing, Instrument) else None


def waiting(
    person: Anyone, practice: Practice, on: date, service: Mapping[object, date] | None = None
) -> tuple[list[Line], int]:
    """For Today: what is due, overdue or failed, the failed first; and how many in service have no check yet. Nothing
    in the teaching room.

    service : by the key of an instrument, the day before which to have it serviced
    """
    if present() == TEACHING:
        return [], 0
    things: list[Thing] = [*visible(person, Instrument).select_related("read_on"), *visible(person, Cuff)]
    lines = register(practice, things, on)
    unchecked = sum(each.standing.state == "not checked" and not each.thing.out_of_service for each in lines)
    lines = [replace(each, service_by=(service or {}).get(each.thing.pk)) for each in lines]
    asking = [each for each in lines if each.asks]
    asking.sort(key=lambda each: (not each.doubts, each.standing.on or date.min, each.thing.name))
    return asking, unchecked


def failure_of(check: Check) -> Failure | None:
    """The failure that a check is, or was corrected to be part of; None where it fails no longer, or never did."""
    thing = check.thing
    return next((each for each in failures_of(thing, checks_of(thing)) if check in each.behind), None)


def told_of_session(session: Session) -> list[Told]:
    """What its page says: a check that failed since, or before; overdue on its day; an instrument without any check.

    Nothing in the teaching room, whose instrument is invented and has its own faults.
    """
    if present() == TEACHING:
        return []
    found: list[Told] = []
    schedule = schedule_of(session.practice)
    day = timezone.localdate(session.started_at)
    for thing in _used_in(session):
        checks = checks_of(thing)
        failures = failures_of(thing, checks)
        doubts = [each for each in failures if _within(each, Session.objects.filter(pk=session.pk)).exists()]
        found += [_told_of(thing, each, session) for each in doubts]
        if doubts:
            continue
        standing = standing_of(thing, checks, schedule, day)
        if standing.state == "overdue":
            found.append(Told(words=_("{name} was {state}.").format(name=thing.name, state=standing.words)))
        elif standing.state == "not checked" and isinstance(thing, Instrument):
            says = _("{name} had no check in the register that day.").format(name=thing.name)
            found.append(Told(words=says, quiet=True))
    return found


def told_on_paper(session: Session) -> list[str]:
    """What its note and its page for the record say: a check failed, and it was decided to repeat or to call."""
    asked = (Decided.REPEAT, Decided.OWNER_CALLED)
    return [each.words for each in told_of_session(session) if each.decided in asked]


def _used_in(session: Session) -> list[Thing]:
    """Its instruments, the manometers that they are read on, and its cuffs, each once."""
    things: dict[object, Thing] = {}
    for series in session.series.select_related("instrument__read_on", "cuff"):
        instrument = series.instrument
        for thing in (instrument, None if instrument is None else instrument.read_on, series.cuff):
            if thing is not None:
                things.setdefault(thing.pk, thing)
    return list(things.values())


def _told_of(thing: Thing, failure: Failure, session: Session) -> Told:
    failed, decision = failure.failed, _decisions(failure).get(session.pk)
    told = _("{name} failed its check on {day} ({what}), and {since}").format(
        name=thing.name,
        day=day_words(timezone.localdate(failed.done_at)),
        what=failed.get_kind_display(),
        since=_("was never found good before")
        if failure.last_good is None
        else _("was last found good on {day}").format(day=day_words(timezone.localdate(failure.last_good.done_at))),
    )
    if decision is None:
        return Told(words=_("{told}. Decision pending.").format(told=told), waits=True, failed=failed.pk)
    decided = _("{told}. Decided: {what}, by {name}, {day}: {why}").format(
        told=told,
        what=decision.get_what_display(),
        name=decision.by.name,
        day=day_words(timezone.localdate(decision.at)),
        why=f"{decision.why.rstrip('.')}.",
    )
    return Told(words=decided, failed=failed.pk, decided=decision.what)


def repeat_asked(animal_id: uuid.UUID) -> Decision | None:
    """The latest decision that a session of an animal be measured again, where it still stands; None without one."""
    rows = Decision.objects.filter(session__animal=animal_id).select_related(
        "failed__instrument", "failed__cuff", "failed__corrected_by", "by", "session"
    )
    latest: dict[tuple[object, object], Decision] = {}
    for row in rows.order_by("at", "id"):
        latest[row.failed_id, row.session_id] = row
    asked = [row for row in latest.values() if row.what == Decided.REPEAT and failure_of(row.failed) is not None]
    return max(asked, key=lambda row: row.at, default=None)


def last_cleaned(thing: Thing, checks: Sequence[Check]) -> date | None:
    """The last day on which it was cleaned: at the bench, or of a cuff after a session; None where nobody told.

    checks : of the thing, with what was typed
    """
    looked = [row for row in checks if row.kind == CheckKind.LOOK and json.loads(row.typed).get("cleaned")]
    days = [timezone.localdate(row.done_at) for row in looked if not hasattr(row, "corrected_by")]
    if isinstance(thing, Cuff):
        ended = sessions_with(thing).filter(cuff_cleaned=True, ended_at__isnull=False).order_by("-ended_at").first()
        if ended is not None and ended.ended_at is not None:
            days.append(timezone.localdate(ended.ended_at))
    return max(days, default=None)
