"""What every row of the clinic has: a key that can be made anywhere, and the practice that it belongs to."""

from __future__ import annotations

import uuid
from typing import ClassVar

from django.db import models


class PracticeRow(models.Model):
    """A row that belongs to one practice and is never seen by another.

    FETCHED_WITH : the rows that every page about this one needs as well, asked for with it
    """

    FETCHED_WITH: ClassVar[tuple[str, ...]] = ()

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    practice = models.ForeignKey("people.Practice", on_delete=models.PROTECT, related_name="+")

    class Meta:
        abstract = True


def one_of(field: str, choices: type[models.TextChoices], *, blank: bool = False) -> models.Q:
    """The condition that a column holds one of its choices, for the database to check."""
    return models.Q(**{f"{field}__in": [*choices.values, *([""] if blank else [])]})
