"""What every row of the clinic has: a key that can be made anywhere, and the practice that it belongs to."""

from __future__ import annotations

import uuid

from django.db import models


class PracticeRow(models.Model):
    """A row that belongs to one practice and is never seen by another."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    practice = models.ForeignKey("people.Practice", on_delete=models.PROTECT, related_name="+")

    class Meta:
        abstract = True


def one_of(field: str, choices: type[models.TextChoices], *, blank: bool = False) -> models.Q:
    """The condition that a column holds one of its choices, for the database to check."""
    return models.Q(**{f"{field}__in": [*choices.values, *([""] if blank else [])]})
