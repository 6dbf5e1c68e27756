"""Building the inspection folder as one ZIP, in memory, bounded by the number of rows."""

from __future__ import annotations

import codecs
import csv
import hashlib
import io
import zipfile
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import IO, Any

from django.db.models import Max
from django.utils import timezone
from django.utils.translation import gettext as _

from quietlimb.clinic.bench.standing import checks_as_of, schedule_of, standing_of
from quietlimb.clinic.canonical import canonical, columns
from quietlimb.clinic.equipment.models import Check, Cuff, Decision, Instrument
from quietlimb.clinic.inspection.as_of import Row, as_of
from quietlimb.clinic.inspection.readme import readme
from quietlimb.clinic.journal.models import Entry
from quietlimb.clinic.people.models import Competence, Membership, Person, Practice, Role
from quietlimb.clinic.sessions.models import Amendment, Session, SignedValue
from quietlimb.engine.errors import QuietlimbError
from quietlimb.engine.standards.rule_sets import RULE_SETS

MOST_SESSIONS = 5_000
MOST_ENTRIES = 100_000


class FolderError(QuietlimbError):
    """There is more in this period than one folder holds."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Period:
    """From one day to another, both included, in the practice's time zone."""

    first: date
    last: date

    @property
    def start(self) -> datetime:
        """Its first moment."""
        return datetime.combine(self.first, time.min, timezone.get_current_timezone())

    @property
    def end(self) -> datetime:
        """The first moment after it."""
        return datetime.combine(self.last + timedelta(days=1), time.min, timezone.get_current_timezone())


def inspection_folder(practice: Practice, period: Period, *, made_by: Person, at: datetime) -> bytes:
    """The ZIP of a practice, as of the last day of the period.

    Raises FolderError where more sessions or journal entries lie in the period than one folder holds.
    """
    signed = SignedValue.objects.filter(practice=practice, signed_at__gte=period.start, signed_at__lt=period.end)
    amendments = Amendment.objects.filter(signed_value__in=signed)
    checks = Check.objects.filter(practice=practice, entered_at__gte=period.start, entered_at__lt=period.end)
    decisions = Decision.objects.filter(practice=practice, at__gte=period.start, at__lt=period.end)
    entries = _bounded(_entries(practice, period, signed, amendments, checks, decisions), MOST_ENTRIES)
    sessions = _bounded(
        Session.objects.filter(practice=practice, started_at__gte=period.start, started_at__lt=period.end).order_by(
            "started_at", "id"
        ),
        MOST_SESSIONS,
    )
    # a practice may hold sessions older than itself
    then = (as_of(practice, [practice], period.end) or as_of(practice, [practice], at + timedelta(days=1)))[0]
    people = as_of(practice, Person.objects.filter(practice=practice).order_by("name", "id"), period.end)
    names = {str(pk): name for pk, name in Person.objects.filter(practice=practice).values_list("pk", "name")}
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as folder:
        files = _Files(folder, at)
        files.text("README.txt", readme(then, period.first, period.last, made_by=made_by.name, at=at))
        files.text("check.py", (Path(__file__).parent / "check.py").read_text(encoding="utf-8"))
        files.table("people.csv", PEOPLE, _people(practice, people, period))
        files.table("competence.csv", COMPETENCE, _competence(practice, names, period))
        files.table("instruments.csv", (*INSTRUMENTS, *STATE), _things(practice, Instrument, INSTRUMENTS, period))
        files.table("cuffs.csv", (*CUFFS, *STATE), _things(practice, Cuff, CUFFS, period))
        files.table("rule_set.csv", RULES, _rules(then))
        files.table("sessions.csv", SESSIONS, _sessions(sessions))
        files.table("readings.csv", READINGS, _readings(sessions))
        files.table("signed_values.csv", SIGNED, _signed(signed))
        files.table("amendments.csv", AMENDMENTS, _amendments(amendments))
        files.table("checks.csv", CHECKS, _checks(checks))
        files.table("decisions.csv", DECISIONS, _decisions(decisions))
        files.lines("signed_values.jsonl", signed)
        files.lines("amendments.jsonl", amendments)
        files.lines("checks.jsonl", checks)
        files.lines("decisions.jsonl", decisions)
        files.lines("journal.jsonl", entries)
        files.sums("SHA256SUMS.txt")
    return held.getvalue()


def _entries(practice: Practice, period: Period, *told: Any) -> Any:
    """The entries of the period, and those after it up to the last that tells of these rows."""
    ours = Entry.objects.filter(practice=practice)
    within = ours.filter(when__gte=period.start, when__lt=period.end)
    telling = [ours.filter(thing_id__in=rows.values("pk")) for rows in told]
    ends = [rows.aggregate(last=Max("sequence"))["last"] or 0 for rows in (within, *telling)]
    return ours.filter(when__gte=period.start, sequence__lte=max(ends)).order_by("sequence")


def _bounded(rows: Any, most: int) -> Any:
    count = rows.count()
    if count > most:
        raise FolderError(
            "too-much",
            _("{count} {what} lie in these days, one folder holds {most}").format(
                count=count, what=rows.model._meta.verbose_name_plural, most=most
            ),
            _("choose fewer months, and make several folders"),
        )
    return rows


class _Files:
    """The files of the ZIP, each with the time at which the folder was made, and what each of them holds."""

    def __init__(self, folder: zipfile.ZipFile, at: datetime) -> None:
        self.folder, self.at = folder, timezone.localtime(at)
        self.digests: dict[str, str] = {}

    @contextmanager
    def _written(self, name: str) -> Iterator[Summed]:
        info = zipfile.ZipInfo(name, self.at.timetuple()[:6])
        info.compress_type = zipfile.ZIP_DEFLATED
        info.external_attr = 0o600 << 16
        with self.folder.open(info, "w") as raw:
            summed = Summed(raw)
            yield summed
        self.digests[name] = summed.digest.hexdigest()

    def text(self, name: str, text: str) -> None:
        with self._written(name) as raw:
            raw.write(text.encode("utf-8"))

    def table(self, name: str, header: Sequence[str], rows: Iterable[Sequence[object]]) -> None:
        # the mark at the beginning tells spreadsheets that it is UTF-8
        with self._written(name) as raw:
            raw.write(codecs.BOM_UTF8)
            writer = csv.writer(raw)
            writer.writerow(header)
            for row in rows:
                writer.writerow([harmless(cell) for cell in row])

    def lines(self, name: str, rows: Any) -> None:
        with self._written(name) as raw:
            for row in rows.iterator(chunk_size=500):
                raw.write(canonical(columns(row)).encode("ascii") + b"\n")

    def sums(self, name: str) -> None:
        """The sha256 of every other file, a line each, as the usual programs read them."""
        self.text(name, "".join(f"{digest}  {other}\n" for other, digest in self.digests.items()))


class Summed:
    """A file that is written, and the sha256 of what was."""

    def __init__(self, raw: IO[bytes]) -> None:
        self.raw, self.digest = raw, hashlib.sha256()

    def write(self, content: bytes | str) -> int:
        """Bytes, or text as UTF-8."""
        content = content.encode("utf-8") if isinstance(content, str) else content
        self.digest.update(content)
        return self.raw.write(content)


def harmless(cell: object) -> object:
    """A cell that no spreadsheet takes for a formula: an apostrophe goes before a sign that would start one."""
    if isinstance(cell, datetime):
        return timezone.localtime(cell).isoformat(timespec="seconds")
    if isinstance(cell, str) and cell[:1] in ("=", "+", "-", "@", "\t", "\r"):
        return f"'{cell}"
    return "" if cell is None else cell


PEOPLE = ("id", "name", "name to sign in", "roles", "may sign in")


def _people(practice: Practice, people: list[Row], period: Period) -> Iterable[Sequence[object]]:
    roles: dict[str, list[str]] = {}
    for held in as_of(practice, Membership.objects.filter(practice=practice).order_by("since", "id"), period.end):
        if held["since"] <= period.last.isoformat() and (held["until"] or "9999") > period.last.isoformat():
            roles.setdefault(held["person_id"], []).append(f"{Role(held['role']).label} since {held['since']}")
    for row in people:
        yield (
            row["id"],
            row["name"],
            row["username"],
            "; ".join(roles.get(row["id"], [])),
            "yes" if row["is_active"] else "no",
        )


COMPETENCE = ("person", "what", "taught by", "sessions watched", "since", "until", "good on the day")


def _competence(practice: Practice, names: dict[str, str], period: Period) -> Iterable[Sequence[object]]:
    day = period.last.isoformat()
    rows = Competence.objects.filter(practice=practice).order_by("person__name", "since", "id")
    for row in as_of(practice, rows, period.end):
        good = row["since"] <= day <= (row["until"] or "9999")
        taught = names.get(row["taught_by_id"] or "") or row.get("taught_elsewhere", "")
        yield (
            names[row["person_id"]],
            row["subject"],
            taught,
            row["observed_sessions"],
            row["since"],
            row["until"],
            "yes" if good else "no",
        )


INSTRUMENTS = (
    *("id", "name", "serial_number", "technique", "gauge", "asset_tag", "loan", "held_static", "read_on_id", "slots"),
    "out_of_service",
)
CUFFS = ("id", "name", "width_cm", "length_cm", "asset_tag", "loan", "out_of_service")
STATE = ("state on the day", "due by")


def _things(
    practice: Practice, model: type[Instrument | Cuff], names: Sequence[str], period: Period
) -> Iterable[Sequence[object]]:
    """What the register said on the day, and how each thing stood by the checks entered until then."""
    now = {str(row.pk): row for row in model._default_manager.filter(practice=practice)}
    schedule = schedule_of(practice)
    by_thing: dict[object, list[Check]] = {}
    for check in checks_as_of(practice, period.end):
        by_thing.setdefault(check.instrument_id or check.cuff_id, []).append(check)
    for row in as_of(practice, now.values(), period.end):
        thing = now[row["id"]]
        standing = standing_of(thing, by_thing.get(thing.pk, ()), schedule, period.last)
        told = [" ".join(cell) if isinstance(cell := row.get(name), list) else cell for name in names]
        yield [*told, standing.words, standing.on]


CHECKS = (
    *("id", "instrument or cuff", "check", "made", "entered", "entered by", "verdict", "figure", "unit", "limit"),
    *("held against", "issuer", "number", "valid until", "room C", "remarks", "corrects", "why", "seal"),
)


def _checks(checks: Any) -> Iterable[Sequence[object]]:
    with_all = checks.select_related("instrument", "cuff", "by", "reference")
    for row in with_all.order_by("entered_at", "id").iterator(chunk_size=500):
        yield (
            *(row.pk, row.thing.name, row.kind, row.done_at, row.entered_at, row.by.name),
            *("good" if row.good else "failed", row.figure, row.unit, row.limit),
            *(row.reference.name if row.reference else "", row.issuer, row.number, row.valid_until, row.room_c),
            *(row.remarks, row.corrects_id, row.why, row.seal),
        )


DECISIONS = ("id", "failed check", "session", "animal", "decided", "by", "decision", "why", "seal")


def _decisions(decisions: Any) -> Iterable[Sequence[object]]:
    for row in decisions.select_related("session__animal", "by").order_by("at", "id").iterator(chunk_size=500):
        yield (
            *(row.pk, row.failed_id, row.session_id, row.session.animal.name, row.at, row.by.name),
            *(row.what, row.why, row.seal),
        )


RULES = ("rule set", "category", "from mmHg", "source", "place in it", "standing")


def _rules(then: Row) -> Iterable[Sequence[object]]:
    rules = RULE_SETS[then["rules"]]
    yield rules.name, rules.categories[0], "", rules.source, "", ""
    for category, line in zip(rules.categories[1:], rules.systolic_from, strict=True):
        yield rules.name, category, line.value, line.source, line.place, line.standing


SESSIONS = ("id", "started", "animal", "number", "species", "place", "started by", "read by", "ended", "ending")


def _sessions(sessions: Any) -> Iterable[Sequence[object]]:
    for row in sessions.select_related("animal", "started_by", "read_by").iterator(chunk_size=500):
        yield (
            row.pk,
            row.started_at,
            row.animal.name,
            row.animal.link_id,
            row.animal.species,
            row.place,
            row.started_by.name,
            row.read_by.name if row.read_by else "",
            row.ended_at,
            row.ending,
        )


READINGS = (
    "session",
    "series",
    "taken",
    "method",
    "instrument",
    "cuff",
    "site",
    "side",
    "systolic mmHg",
    "mean mmHg",
    "diastolic mmHg",
    "pulse per min",
    "recording sha256",
    "spoiled",
    "struck through",
)


def _readings(sessions: Any) -> Iterable[Sequence[object]]:
    with_all = sessions.prefetch_related("series__readings__recording", "series__instrument", "series__cuff")
    for session in with_all.iterator(chunk_size=200):
        for series in session.series.all():
            for row in series.readings.all():
                yield (
                    session.pk,
                    series.ordinal,
                    row.taken_at,
                    series.technique,
                    series.instrument.name if series.instrument else "",
                    series.cuff.name if series.cuff else "",
                    series.site,
                    series.side,
                    row.systolic,
                    row.mean,
                    row.diastolic,
                    row.pulse_rate,
                    row.recording.sha256 if row.recording else "",
                    row.spoiled,
                    row.struck_at,
                )


SIGNED = (
    "id",
    "session",
    "animal",
    "number",
    "signed",
    "signed by",
    "charted mmHg",
    "signed mmHg",
    "reason",
    "rule set",
    "engine",
    "fingerprint",
    "seal",
)


def _signed(signed: Any) -> Iterable[Sequence[object]]:
    for row in signed.select_related("session__animal", "signed_by").iterator(chunk_size=500):
        yield (
            row.pk,
            row.session_id,
            row.session.animal.name,
            row.session.animal.link_id,
            row.signed_at,
            row.signed_by.name,
            row.charted,
            row.chosen,
            row.reason,
            row.rules,
            row.engine,
            row.fingerprint,
            row.seal,
        )


AMENDMENTS = ("signed value", "amended", "by", "mmHg", "text", "why", "seal")


def _amendments(amendments: Any) -> Iterable[Sequence[object]]:
    for row in amendments.select_related("by").iterator(chunk_size=500):
        yield row.signed_value_id, row.at, row.by.name, row.chosen, row.text, row.why, row.seal
