"""The journal's rows. They are written by `writing` alone, and the database refuses to change or remove them."""

from __future__ import annotations

from typing import ClassVar

from django.db import models

from quietlimb.clinic.rows import PracticeRow


class Entry(PracticeRow):
    """One link of a practice's chain.

    what          : a verb of the field, as `reading added`
    thing, thing_id : the kind and the key of the row it is about
    before, after : its columns as canonical JSON text, empty where there was or is none
    previous      : hash of the entry before, empty for the first
    hash          : sha256 of all of the above
    """

    sequence = models.PositiveBigIntegerField()
    who = models.ForeignKey("people.Person", on_delete=models.PROTECT, related_name="+", null=True)
    when = models.DateTimeField()
    what = models.CharField(max_length=60)
    thing = models.CharField(max_length=40)
    thing_id = models.UUIDField()
    before = models.TextField(blank=True)
    after = models.TextField(blank=True)
    why = models.CharField(max_length=400, blank=True)
    previous = models.CharField(max_length=64, blank=True)
    hash = models.CharField(max_length=64)

    class Meta:
        ordering: ClassVar = ["practice", "sequence"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["practice", "sequence"], name="one_entry_at_each_place"),
            models.UniqueConstraint(fields=["practice", "previous"], name="a_chain_does_not_fork"),
        ]
        indexes: ClassVar = [models.Index(fields=["thing_id"], name="entries_of_a_thing")]
