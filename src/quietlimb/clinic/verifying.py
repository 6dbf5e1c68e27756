"""Whether the journal, the signed values, the readings, the checks and the decisions are as they were written.

The chain shows an entry that was changed, put in or taken out. Only a tail that was cut off whole leaves a chain that
fits; a signed value whose entry is gone shows that too, and so does a copy of the last hash kept elsewhere.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import islice
from typing import Any, TypeVar

from django.db import connection

from quietlimb.clinic.canonical import canonical, columns, seal_of
from quietlimb.clinic.charting import SET_ASIDE
from quietlimb.clinic.comparisons.models import KEPT, Comparison, as_told
from quietlimb.clinic.conversions.models import BROUGHT, BroughtConversion, as_brought
from quietlimb.clinic.equipment.models import Check, Decision
from quietlimb.clinic.journal.models import Entry
from quietlimb.clinic.journal.protection import unprotected
from quietlimb.clinic.journal.writing import hash_of
from quietlimb.clinic.people.models import Practice
from quietlimb.clinic.sessions.freezing import fingerprint_of
from quietlimb.clinic.sessions.models import Amendment, Reading, Recording, SignedValue
from quietlimb.clinic.sessions.results import QUANTITIES

AT_ONCE = 500
Row = TypeVar("Row", Comparison, BroughtConversion)


@dataclass(frozen=True, slots=True, kw_only=True)
class Verified:
    """What was looked at, and the first thing that is wrong; None where nothing is."""

    counted: tuple[str, ...]
    trouble: str | None


def verify() -> Verified:
    """Look at everything, practice by practice, up to the first trouble."""
    counted: list[str] = []
    bare = unprotected(connection)
    if bare:
        return Verified(counted=(), trouble=f"not protected against changes: {', '.join(bare)}")
    for practice in Practice.objects.order_by("id"):
        for trouble in _troubles(practice):
            return Verified(counted=tuple(counted), trouble=f"{practice.name}: {trouble}")
        entries, signed = (model.objects.filter(practice=practice).count() for model in (Entry, SignedValue))
        last = Entry.objects.filter(practice=practice).order_by("-sequence").first()
        tail = last.hash if last else "none"
        counted.append(f"{practice.name}: {entries} journal entries, {signed} signed values; last hash {tail}")
    return Verified(counted=tuple(counted), trouble=None)


def _troubles(practice: Practice) -> Iterator[str]:
    yield from _chain(practice)
    yield from _signed(practice)
    yield from _sealed(practice)
    yield from _gone(practice)
    yield from _readings(practice)
    yield from _recordings(practice)
    yield from _files(practice, Comparison, "comparison", KEPT, as_told)
    yield from _files(practice, BroughtConversion, "conversion", BROUGHT, as_brought)


def _chain(practice: Practice) -> Iterator[str]:
    previous = ""
    entries = Entry.objects.filter(practice=practice).order_by("sequence")
    for sequence, entry in enumerate(entries.iterator(), start=1):
        if entry.sequence != sequence:
            yield f"journal entry {sequence} is missing"
        elif entry.previous != previous:
            yield f"journal entry {sequence} does not follow the one before it"
        elif entry.hash != hash_of(entry):
            yield f"journal entry {sequence} ({entry.what}) has been changed"
        previous = entry.hash


def _signed(practice: Practice) -> Iterator[str]:
    for signed in SignedValue.objects.filter(practice=practice).iterator():
        if signed.seal != seal_of(signed):
            yield f"signed value {signed.pk} has been changed"
        elif signed.frozen and signed.fingerprint != fingerprint_of(json.loads(signed.frozen)):
            yield f"signed value {signed.pk} does not have the fingerprint of its readings"
        else:
            yield from _told(signed)
            yield from (f"signed value {signed.pk}: {each}" for each in _frozen(signed))


def _sealed(practice: Practice) -> Iterator[str]:
    """What else has a seal, and is told by the journal in the same words."""
    for model in (Amendment, Check, Decision):
        for row in model.objects.filter(practice=practice).iterator():
            if row.seal != seal_of(row):
                yield f"{model._meta.verbose_name} {row.pk} has been changed"
            else:
                yield from _told(row)


def _frozen(signed: SignedValue) -> Iterator[str]:
    """The readings are still those that were frozen; what came or was struck through later is no matter."""
    frozen = json.loads(signed.frozen) if signed.frozen else {}
    if frozen.get("series") is None:
        return
    rows = Reading.objects.select_related("recording").in_bulk(frozen["readings"])
    counted = [row for row in rows.values() if row.struck_at is None or row.struck_at > signed.signed_at]
    counted.sort(key=lambda row: (row.taken_at, row.ordinal, row.pk))
    then = frozen["series"]["columns"]
    for gone in sorted(set(frozen["readings"]) - {str(pk) for pk in rows}):
        yield f"its reading {gone} is gone"
    beside = Reading.objects.filter(series=signed.series_id).exclude(pk__in=frozen["readings"])
    keys = list(beside.values_list("pk", flat=True))
    known = set(Entry.objects.filter(thing_id__in=keys).values_list("thing_id", flat=True))
    for key in keys:
        if key not in known:
            yield f"reading {key} stands beside its readings, and the journal does not tell of it"
    if len(counted) != len(then["minute"]):
        yield f"it rests on {len(then['minute'])} readings, and {len(counted)} of them are there"
        return
    for k, row in enumerate(counted):
        now: dict[str, Any] = {**_values(row, signed.engine), "series": row.series_id}
        was = {**{name: then[name][k] for name in QUANTITIES}, "series": signed.series_id}
        now["minute"] = (row.taken_at - counted[0].taken_at).total_seconds() / 60.0
        was["minute"] = then["minute"][k]
        now["set aside"] = bool(row.spoiled)
        was["set aside"] = any(each["code"] == SET_ASIDE for each in frozen["series"]["findings"][k])
        other = [f"{name} is {_word(now[name])}, was {_word(was[name])}" for name in was if now[name] != was[name]]
        if other:
            yield f"its reading {k + 1} is not as it was signed: {'; '.join(other)}"


def _values(row: Reading, engine: str) -> dict[str, float | None]:
    """What a reading says: as it was typed, or as that engine read its recording."""
    if row.recording is None:
        return {name: getattr(row, name) for name in QUANTITIES}
    result = row.recording.results.get(engine) or {}
    return {name: None if result.get(name) is None else float(result[name]["value"]) for name in QUANTITIES}


def _told(row: SignedValue | Amendment | Check | Decision) -> Iterator[str]:
    """The journal tells of each of them, in the same words."""
    kind = row._meta.verbose_name
    entry = Entry.objects.filter(practice=row.practice_id, thing_id=row.pk).order_by("sequence").first()
    if entry is None:
        yield f"{kind} {row.pk} is not in the journal"
    elif entry.after != canonical(columns(row)):
        yield f"{kind} {row.pk} is not what the journal tells of it"


def _gone(practice: Practice) -> Iterator[str]:
    """What the journal tells of is still there."""
    for model in (SignedValue, Amendment, Check, Decision):
        entries = Entry.objects.filter(practice=practice, thing=model._meta.model_name)
        for entry in entries.exclude(thing_id__in=model.objects.values_list("pk", flat=True)).order_by("sequence"):
            yield f"{model._meta.verbose_name} {entry.thing_id} of journal entry {entry.sequence} is gone"


def _readings(practice: Practice) -> Iterator[str]:
    """Each reading is what the journal told last of it: typed, struck through, and still there."""
    entries = Entry.objects.filter(practice=practice, thing=Reading._meta.model_name)
    last = dict(entries.order_by("sequence").values_list("thing_id", "sequence").iterator())
    latest = (entry for entry in entries.order_by("sequence").iterator() if last[entry.thing_id] == entry.sequence)
    while some := list(islice(latest, AT_ONCE)):
        rows = Reading.objects.in_bulk([entry.thing_id for entry in some])
        for entry in some:
            if entry.thing_id not in rows:
                yield f"reading {entry.thing_id} of journal entry {entry.sequence} is gone"
                continue
            now = json.loads(canonical(columns(rows[entry.thing_id])))
            # an entry from before a column was there does not tell it
            other = [
                f"{name} is {_word(now[name])}, was {_word(told)}"
                for name, told in json.loads(entry.after).items()
                if name in now and now[name] != told
            ]
            if other:
                told_of = f"reading {entry.thing_id} is not what journal entry {entry.sequence} tells of it"
                yield f"{told_of}: {'; '.join(other)}"


def _word(value: object) -> str:
    return "nothing" if value in (None, "") else str(value)


def _recordings(practice: Practice) -> Iterator[str]:
    for recording in Recording.objects.filter(practice=practice).iterator(chunk_size=20):
        if not recording.is_whole:
            yield f"recording {recording.name} is not the one that was put in"


def _files(
    practice: Practice, model: type[Row], kind: str, what: str, as_told: Callable[[Row], dict[str, object]]
) -> Iterator[str]:
    """Rows that hold files have the bytes that were put in, and say what the journal told when they came."""
    entries = Entry.objects.filter(practice=practice, what=what)
    told = dict(entries.values_list("thing_id", "after"))
    for row in model.objects.filter(practice=practice).iterator(chunk_size=20):
        if not row.is_whole:
            yield f"{kind} {row} does not have the files that were put in"
        elif told.pop(row.pk, None) != canonical(as_told(row)):
            yield f"{kind} {row} is not what the journal tells of it"
    for key in told:
        yield f"{kind} {key} is in the journal and gone"
