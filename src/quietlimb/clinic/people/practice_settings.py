"""What the lead sets for the whole practice."""

from __future__ import annotations

from django.db import transaction

from quietlimb.clinic.canonical import columns
from quietlimb.clinic.journal import writing as journal
from quietlimb.clinic.people.models import Person, Practice

FOR_OWNERS = ("by_day", "by_night", "preparing")


@transaction.atomic
def practice_tell_owners(by: Person, *, practice: Practice) -> Practice:
    """Save what owners are told: numbers by day and night, and how to prepare."""
    before = columns(Practice.objects.select_for_update().get(pk=practice.pk))
    practice.save(update_fields=FOR_OWNERS)
    practice.refresh_from_db()
    journal.write(by, "words for owners changed", practice, before=before, after=columns(practice))
    return practice
