"""How an instrument or a cuff stands on a day: what it was checked for and when, what is due, what failed.

A check that another one corrects counts no longer. Static accuracy is answered by a good static check, and by a good
service certificate where the instrument cannot be held at a pressure in the practice.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Literal

from django.db.models import QuerySet
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from quietlimb.clinic.equipment.models import Check, CheckKind, CheckSchedule, Cuff, Gauge, Instrument, Technique
from quietlimb.clinic.people.models import Practice
from quietlimb.engine.values import Cited
from quietlimb.instruments.schedule import DUE_SOON_DAYS, MONTHS, SCHEDULE, Due, due

Thing = Instrument | Cuff
State = Literal["failed", "overdue", "not checked", "due soon", "good", "not scheduled"]
WORST_FIRST: tuple[State, ...] = ("failed", "overdue", "not checked", "due soon", "good", "not scheduled")

# A year, as of most certificates that tell an end; the one of a certificate itself goes before it. [invented]
REFERENCE_EVERY = Cited(12.0, MONTHS, "Quietlimb", "reference certificates", "invented")
KEPT_BACK = ("typed", "result", "seal")


@dataclass(frozen=True, slots=True, kw_only=True)
class Schedule:
    """How often each kind of thing is checked, with the source or as the practice has set it."""

    aneroid: Cited
    electronic: Cited
    cuff: Cited
    reference: Cited


@dataclass(frozen=True, slots=True, kw_only=True)
class Required:
    """A check that is asked for regularly: its kind, the last good one that answers it, the one that failed since and
    that nothing has answered yet, and when the next is due."""

    kind: CheckKind
    last: Check | None
    due: Due
    failed: Check | None = None

    @property
    def often(self) -> str:
        """`every 6 months`."""
        count = int(self.due.every.value)
        return ngettext("every month", "every {n} months", count).format(n=count)


@dataclass(frozen=True, slots=True, kw_only=True)
class Failure:
    """A failed check, from the last good one before it to the good one that answered it; None where there is none.

    behind : the failed check and those that it stands in place of, by which decisions were taken
    """

    failed: Check
    behind: tuple[Check, ...]
    last_good: Check | None
    answered: Check | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """How a thing stands.

    on       : the day until which it is good, or on which it was due; None where it was never checked
    required : what is asked for regularly
    failures : all of them, the latest first
    """

    thing: Thing
    state: State
    on: date | None
    days_left: int | None
    required: tuple[Required, ...]
    failures: tuple[Failure, ...]

    @property
    def open_failures(self) -> tuple[Failure, ...]:
        """Those that no good check has answered yet."""
        return tuple(each for each in self.failures if each.answered is None)

    @property
    def words(self) -> str:
        """The state in words, without the sessions in doubt."""
        return words_of(self)


def schedule_of(practice: Practice) -> Schedule:
    """As the practice lead has set it; before that as the trade has it."""
    usual = {
        "aneroid": SCHEDULE["static-aneroid"],
        "electronic": SCHEDULE["static-electronic"],
        "cuff": SCHEDULE["cuff"],
        "reference": REFERENCE_EVERY,
    }
    row = CheckSchedule.objects.filter(practice=practice).first()
    if row is None:
        return Schedule(**usual)
    told = {name: float(getattr(row, f"{name}_months")) for name in usual}
    own = {
        name: every
        if told[name] == every.value
        else Cited(told[name], MONTHS, "Quietlimb", "as the practice lead has set it", "invented")
        for name, every in usual.items()
    }
    return Schedule(**own)


def checks_of(*things: Thing) -> list[Check]:
    """The checks of these things that count, in the order made; without what was typed and found."""
    keys = [thing.pk for thing in things]
    rows = Check.objects.filter(instrument__in=keys) | Check.objects.filter(cuff__in=keys)
    return list(_counting(rows))


def checks_of_all(practice: Practice) -> dict[object, list[Check]]:
    """The same of everything in a practice, by the key of the thing."""
    found: dict[object, list[Check]] = {}
    for row in _counting(Check.objects.filter(practice=practice)):
        found.setdefault(row.instrument_id or row.cuff_id, []).append(row)
    return found


def checks_as_of(practice: Practice, until: datetime) -> Iterable[Check]:
    """The checks of a practice that counted at a moment: entered before it, and not corrected by then."""
    entered = Check.objects.filter(practice=practice, entered_at__lt=until)
    corrected = entered.exclude(corrects=None).values("corrects")
    rows = entered.exclude(pk__in=corrected).defer(*KEPT_BACK).select_related("corrects")
    return rows.order_by("done_at", "entered_at", "id")


def _counting(rows: QuerySet[Check]) -> QuerySet[Check]:
    counting = rows.filter(corrected_by=None).defer(*KEPT_BACK)
    return counting.select_related("corrects").order_by("done_at", "entered_at", "id")


def answers(kind: CheckKind | str, thing: Thing) -> frozenset[str]:
    """The kinds of check of which a good one says that nothing is wrong with what this kind looks at."""
    by_certificate = isinstance(thing, Instrument) and (not thing.held_static or thing.gauge == Gauge.REFERENCE)
    accuracy = {CheckKind.STATIC.value, *([CheckKind.CERTIFICATE.value] if by_certificate else [])}
    if kind == CheckKind.STATIC:
        return frozenset(accuracy)
    if kind == CheckKind.DISPLAY:
        return frozenset({*accuracy, CheckKind.DISPLAY.value})
    if kind == CheckKind.CERTIFICATE:
        return frozenset({CheckKind.STATIC.value, CheckKind.CERTIFICATE.value})
    return frozenset({str(kind)})


def offered(thing: Thing) -> list[CheckKind]:
    """The kinds of check that can be made of a thing, the usual first."""
    if isinstance(thing, Cuff):
        return [CheckKind.LEAK, CheckKind.LOOK]
    if thing.gauge == Gauge.REFERENCE:
        return [CheckKind.CERTIFICATE, CheckKind.LOOK]
    if thing.technique == Technique.DOPPLER:
        return [CheckKind.LOOK, CheckKind.CERTIFICATE]
    static = [CheckKind.STATIC] if thing.held_static else [CheckKind.CERTIFICATE]
    rest = [CheckKind.LEAK, CheckKind.DISPLAY, CheckKind.EXHAUST, CheckKind.BLEED, CheckKind.LOOK]
    return [*static, *rest, *([CheckKind.CERTIFICATE] if thing.held_static else [])]


def asked_for(thing: Thing, schedule: Schedule) -> list[tuple[CheckKind, Cited]]:
    """The checks that are asked for regularly, and how often. Of a Doppler unit it is its manometer that is checked."""
    if isinstance(thing, Cuff):
        return [(CheckKind.LEAK, schedule.cuff), (CheckKind.LOOK, schedule.cuff)]
    if thing.gauge == Gauge.REFERENCE:
        return [(CheckKind.CERTIFICATE, schedule.reference)]
    if thing.technique == Technique.DOPPLER:
        return []
    every = schedule.aneroid if thing.gauge == Gauge.MANOMETER else schedule.electronic
    # what cannot be held at a pressure here cannot be watched for a leak here either
    if not thing.held_static:
        return [(CheckKind.CERTIFICATE, every)]
    return [(CheckKind.STATIC, every), (CheckKind.LEAK, every)]


def failures_of(thing: Thing, checks: Sequence[Check]) -> list[Failure]:
    """Every failure among the checks that count, the latest first. One that failed again before any good check is the
    same failure still. A good check entered after the failure for a day before it is not its last good one.

    checks : those that count, in the order made
    """
    found: list[Failure] = []
    for kind in CheckKind:
        answering = answers(kind, thing)
        good: list[Check] = []
        failed = None
        for check in checks:
            if check.good and check.kind in answering:
                if failed is not None:
                    found.append(_failure(failed, good, check))
                    failed = None
                good.append(check)
            elif not check.good and check.kind == kind and failed is None:
                failed = check
        if failed is not None:
            found.append(_failure(failed, good, None))
    return sorted(found, key=lambda each: each.failed.done_at, reverse=True)


def _failure(failed: Check, good: Sequence[Check], answered: Check | None) -> Failure:
    """good : the good checks before it, in the order made"""
    behind = [failed]
    while behind[-1].corrects is not None:
        behind.append(behind[-1].corrects)
    # What is entered once the failure is known, for a day before it, takes no session off its list; what corrects an
    # earlier check was told with its reason, and stands in that one's place.
    known_at = behind[-1].entered_at
    in_time = [each for each in good if each.corrects is not None or each.entered_at <= known_at]
    last_good = in_time[-1] if in_time else None
    return Failure(failed=failed, behind=tuple(behind), last_good=last_good, answered=answered)


def standing_of(thing: Thing, checks: Sequence[Check], schedule: Schedule, on: date) -> Standing:
    """How a thing stands on a day, by the checks that had been made by then.

    checks : those that count, in the order made
    """
    by_then = [check for check in checks if timezone.localdate(check.done_at) <= on]
    failures = failures_of(thing, by_then)
    required = tuple(
        replace(_required(thing, kind, every, by_then, on), failed=_failed_since(answers(kind, thing), failures))
        for kind, every in asked_for(thing, schedule)
    )
    states: list[tuple[State, Due | None]] = (
        [("failed", None)] if any(each.answered is None for each in failures) else []
    )
    states += [(_state(each), each.due) for each in required]
    if not states:
        states = [("not scheduled", None)]
    state, when = min(
        states, key=lambda each: (WORST_FIRST.index(each[0]), each[1].on if each[1] and each[1].on else on)
    )
    return Standing(
        thing=thing,
        state=state,
        on=None if when is None else when.on,
        days_left=None if when is None else when.days_left,
        required=required,
        failures=tuple(failures),
    )


def standings_of(practice: Practice, things: Iterable[Thing], on: date) -> dict[object, Standing]:
    """How each of these things stands on a day, by its key."""
    schedule, checks = schedule_of(practice), checks_of_all(practice)
    return {thing.pk: standing_of(thing, checks.get(thing.pk, ()), schedule, on) for thing in things}


def _failed_since(answering: frozenset[str], failures: Sequence[Failure]) -> Check | None:
    return next((each.failed for each in failures if each.answered is None and each.failed.kind in answering), None)


def _state(required: Required) -> State:
    return "not checked" if required.last is None else required.due.state


def _required(thing: Thing, kind: CheckKind, every: Cited, checks: Sequence[Check], on: date) -> Required:
    answering = answers(kind, thing)
    good = [check for check in checks if check.good and check.kind in answering]
    last = good[-1] if good else None
    if last is None:
        return Required(kind=kind, last=None, due=due(None, "cuff", on, {"cuff": every}))
    done = timezone.localdate(last.done_at)
    found = due(done, "cuff", on, {"cuff": every})
    if last.valid_until is not None:
        left = (last.valid_until - on).days
        state = "overdue" if left < 0 else "due soon" if left <= DUE_SOON_DAYS.value else "good"
        found = Due(state=state, on=last.valid_until, days_left=left, every=every)  # type: ignore[arg-type]
    return Required(kind=kind, last=last, due=found)


def day_words(day: date) -> str:
    """A day as it stands in a sentence."""
    return date_format(day, "j F Y")


def words_of(standing: Standing) -> str:
    """`good until 4 May 2024`, `due in 9 days`, `overdue since 4 May 2024`, `failed 2 May 2024`."""
    if standing.state == "failed":
        failed = standing.open_failures[0].failed
        day = day_words(timezone.localdate(failed.done_at))
        return _("failed {day} ({what})").format(day=day, what=failed.get_kind_display())
    if standing.state == "not scheduled":
        return ""
    what = _names(standing)
    if standing.state == "not checked":
        return _("no check yet: {what}").format(what=what)
    assert standing.on is not None
    assert standing.days_left is not None
    if standing.state == "overdue":
        return _("overdue since {day}: {what}").format(day=day_words(standing.on), what=what)
    if standing.state == "due soon":
        if standing.days_left == 0:
            return _("due today: {what}").format(what=what)
        found = ngettext("due in {days} day: {what}", "due in {days} days: {what}", standing.days_left)
        return found.format(days=standing.days_left, what=what)
    return _("good until {day}").format(day=day_words(standing.on))


def gauge_words(gauge: Standing | None) -> str:
    """Of the manometer that a Doppler unit is read on: out of service, overdue or failed; empty where it is none."""
    if gauge is None:
        return ""
    words = gauge.words if gauge.state in ("overdue", "failed") else ""
    if not gauge.thing.out_of_service:
        return words
    out = _("its manometer {name} is out of service").format(name=gauge.thing.name)
    return f"{out}, {words}" if words else out


def _names(standing: Standing) -> str:
    """The checks that stand as the whole does."""
    return ", ".join(str(each.kind.label) for each in standing.required if _state(each) == standing.state)
