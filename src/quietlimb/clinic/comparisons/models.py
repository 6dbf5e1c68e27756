"""A comparison as it was kept. The database refuses to change what it says, and to remove it."""

from __future__ import annotations

import hashlib
from typing import Any, ClassVar

from django.db import models
from django.utils.translation import gettext_lazy as _

from quietlimb.clinic.canonical import columns, digest
from quietlimb.clinic.rows import PracticeRow

KEPT = "comparison kept"  # in the journal


class Comparison(PracticeRow):
    """Pairs of a method and its reference, how they were compared, and what came of it.

    file_name, sha256, content     : the file of pairs, byte for byte
    plan_name, plan_sha256, plan   : the plan, byte for byte; all empty where there was none
    chosen  : what was chosen beside file and plan, as `reckoning.Chosen` has it
    engine  : version that made `results`
    results : as `quietlimb compare --json` writes them; its schema is `comparison.json`
    """

    FETCHED_WITH = ("practice", "made_by", "retired_by")

    name = models.CharField(_("name"), max_length=120)
    made_by = models.ForeignKey("people.Person", on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField()
    file_name = models.CharField(max_length=200)
    sha256 = models.CharField(max_length=64)
    content = models.BinaryField()
    plan_name = models.CharField(max_length=200, blank=True, default="")
    plan_sha256 = models.CharField(max_length=64, blank=True, default="")
    plan = models.BinaryField(blank=True, default=b"")
    chosen = models.JSONField(default=dict)
    engine = models.CharField(max_length=40)
    results = models.JSONField(default=dict)
    retired_at = models.DateTimeField(_("retired"), null=True, blank=True)
    retired_by = models.ForeignKey("people.Person", on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    retired_why = models.CharField(_("why retired"), max_length=400, blank=True, default="")

    class Meta:
        ordering: ClassVar = ["-made_at", "id"]
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=models.Q(retired_at=None, retired_by=None)
                | models.Q(retired_at__isnull=False, retired_by__isnull=False),
                name="a_retired_comparison_says_by_whom",
            )
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def is_whole(self) -> bool:
        """Whether the bytes are still those that were put in."""
        plan = bytes(self.plan)
        told = (self.sha256, self.plan_sha256)
        return (hashlib.sha256(bytes(self.content)).hexdigest(), sha256_or_nothing(plan)) == told


def sha256_or_nothing(content: bytes) -> str:
    """The sha256 of bytes; empty where there are none."""
    return hashlib.sha256(content).hexdigest() if content else ""


def as_told(row: Comparison) -> dict[str, object]:
    """What the journal tells of a comparison that was kept: all that is not changed, the results by their sha256."""
    told = {
        name: value for name, value in columns(row, without=("results",)).items() if not name.startswith("retired_")
    }
    return {**told, "results_sha256": digest(_without_signed_zeros(row.results))}


def _without_signed_zeros(value: Any) -> Any:
    """PostgreSQL keeps no minus before a zero."""
    if isinstance(value, dict):
        return {name: _without_signed_zeros(each) for name, each in value.items()}
    if isinstance(value, list | tuple):
        return [_without_signed_zeros(each) for each in value]
    return value + 0.0 if isinstance(value, float) else value
