"""The one way into the journal: an entry is written in the transaction of what it tells, or neither is."""

from __future__ import annotations

from django.db import transaction
from django.utils import timezone

from quietlimb.clinic.canonical import canonical, columns, digest
from quietlimb.clinic.journal.models import Entry
from quietlimb.clinic.people.models import Person, Practice
from quietlimb.clinic.rows import PracticeRow
from quietlimb.clinic.stores import present


def write(
    who: Person | None,
    what: str,
    thing: PracticeRow | Person | Practice,
    *,
    before: dict[str, object] | None = None,
    after: dict[str, object] | None = None,
    why: str = "",
) -> Entry:
    """Add an entry to the chain of the thing's practice.

    before, after : columns as `canonical.columns` gives them; where neither is given, `after` is the row as it is now

    Raises TransactionManagementError outside `together`, for what is told and the telling stand or fall
    together.
    """
    if not transaction.get_connection(present()).in_atomic_block:
        raise transaction.TransactionManagementError("the journal is written in the transaction of what it tells")
    practice_id = thing.id if isinstance(thing, Practice) else thing.practice_id
    # Writers of one practice queue here. SQLite has let only one writer begin anyway and ignores it.
    Practice.objects.select_for_update().values_list("pk").get(pk=practice_id)
    chain = Entry.objects.filter(practice_id=practice_id).order_by("-sequence")
    sequence, previous = chain.values_list("sequence", "hash").first() or (0, "")
    entry = Entry(
        practice_id=practice_id,
        sequence=sequence + 1,
        who=who,
        when=timezone.now(),
        what=what,
        thing=str(thing._meta.model_name),
        thing_id=thing.pk,
        before="" if before is None else canonical(before),
        after=canonical(columns(thing) if before is None and after is None else after) if after or not before else "",
        why=why,
        previous=previous,
    )
    entry.hash = hash_of(entry)
    entry.save(force_insert=True)
    return entry


def hash_of(entry: Entry) -> str:
    """The hash that an entry should have: over all its other columns, the previous hash among them."""
    return digest(columns(entry, without=("hash",)))
