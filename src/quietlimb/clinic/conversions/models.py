"""A conversion as it was brought in. The database refuses to change what it says, and to remove it."""

from __future__ import annotations

import hashlib
from typing import ClassVar

from django.db import models
from django.utils.translation import gettext_lazy as _

from quietlimb.clinic.canonical import columns
from quietlimb.clinic.rows import PracticeRow

BROUGHT = "conversion brought in"  # in the journal


class BroughtConversion(PracticeRow):
    """A file of a conversion, and the instrument of the practice that it is for.

    instrument  : the one in the register that is meant; None where the file is for any
    file_name, sha256, content  : the file, byte for byte
    fingerprint, study, version : as the file tells them
    """

    FETCHED_WITH = ("practice", "instrument", "brought_by", "withdrawn_by")

    instrument = models.ForeignKey(
        "equipment.Instrument", on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )
    brought_by = models.ForeignKey("people.Person", on_delete=models.PROTECT, related_name="+")
    brought_at = models.DateTimeField()
    file_name = models.CharField(max_length=200)
    sha256 = models.CharField(max_length=64)
    content = models.BinaryField()
    fingerprint = models.CharField(max_length=64)
    study = models.CharField(_("study"), max_length=400)
    version = models.CharField(_("version"), max_length=60)
    withdrawn_at = models.DateTimeField(_("withdrawn"), null=True, blank=True)
    withdrawn_by = models.ForeignKey("people.Person", on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    withdrawn_why = models.CharField(_("why withdrawn"), max_length=400, blank=True, default="")

    class Meta:
        ordering: ClassVar = ["-brought_at", "id"]
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=models.Q(withdrawn_at=None, withdrawn_by=None)
                | models.Q(withdrawn_at__isnull=False, withdrawn_by__isnull=False),
                name="a_withdrawn_conversion_says_by_whom",
            )
        ]

    def __str__(self) -> str:
        return f"{self.study}, version {self.version}"

    @property
    def is_whole(self) -> bool:
        """Whether the bytes are still those that were put in."""
        return hashlib.sha256(bytes(self.content)).hexdigest() == self.sha256


def as_brought(row: BroughtConversion) -> dict[str, object]:
    """What the journal tells of a conversion that was brought in: all that is not changed."""
    return {name: value for name, value in columns(row).items() if not name.startswith("withdrawn_")}
