"""Whether the journal and the signed values are as they were written.

The chain shows an entry that was changed, put in or taken out. Only a tail that was cut off whole leaves a chain that
fits; a signed value whose entry is gone shows that too, and so does a copy of the last hash kept elsewhere.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass

from django.db import connection

from quietlimb.clinic.canonical import canonical, columns, seal_of
from quietlimb.clinic.journal.models import Entry
from quietlimb.clinic.journal.protection import unprotected
from quietlimb.clinic.journal.writing import hash_of
from quietlimb.clinic.people.models import Practice
from quietlimb.clinic.sessions.freezing import fingerprint_of
from quietlimb.clinic.sessions.models import Amendment, Recording, SignedValue


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
        for trouble in (*_chain(practice), *_signed(practice), *_gone(practice), *_recordings(practice)):
            return Verified(counted=tuple(counted), trouble=f"{practice.name}: {trouble}")
        entries, signed = (model.objects.filter(practice=practice).count() for model in (Entry, SignedValue))
        last = Entry.objects.filter(practice=practice).order_by("-sequence").first()
        tail = last.hash if last else "none"
        counted.append(f"{practice.name}: {entries} journal entries, {signed} signed values; last hash {tail}")
    return Verified(counted=tuple(counted), trouble=None)


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
    for amendment in Amendment.objects.filter(practice=practice).iterator():
        if amendment.seal != seal_of(amendment):
            yield f"amendment {amendment.pk} has been changed"
        else:
            yield from _told(amendment)


def _told(row: SignedValue | Amendment) -> Iterator[str]:
    """The journal tells of each of them, in the same words."""
    kind = row._meta.verbose_name
    entry = Entry.objects.filter(practice=row.practice_id, thing_id=row.pk).order_by("sequence").first()
    if entry is None:
        yield f"{kind} {row.pk} is not in the journal"
    elif entry.after != canonical(columns(row)):
        yield f"{kind} {row.pk} is not what the journal tells of it"


def _gone(practice: Practice) -> Iterator[str]:
    """What the journal tells of is still there."""
    for model in (SignedValue, Amendment):
        entries = Entry.objects.filter(practice=practice, thing=model._meta.model_name)
        for entry in entries.exclude(thing_id__in=model.objects.values_list("pk", flat=True)).order_by("sequence"):
            yield f"{model._meta.verbose_name} {entry.thing_id} of journal entry {entry.sequence} is gone"


def _recordings(practice: Practice) -> Iterator[str]:
    for recording in Recording.objects.filter(practice=practice).iterator(chunk_size=20):
        if not recording.is_whole:
            yield f"recording {recording.name} is not the one that was put in"
