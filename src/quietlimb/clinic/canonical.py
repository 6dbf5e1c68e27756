"""Rows as text that is the same on every machine, and its sha256: what chains and seals are made of."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable
from datetime import UTC, date, datetime
from uuid import UUID

from django.db import models


def canonical(value: object) -> str:
    """JSON in ASCII with sorted keys and no blanks; times in UTC to the microsecond; no nan."""
    return json.dumps(value, sort_keys=True, ensure_ascii=True, allow_nan=False, separators=(",", ":"), default=_plain)


def _plain(value: object) -> str:
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat(timespec="microseconds")
    if isinstance(value, date | UUID):
        return value.isoformat() if isinstance(value, date) else str(value)
    raise TypeError(f"{type(value).__name__} has no canonical form")


def columns(row: models.Model, *, without: Iterable[str] = ()) -> dict[str, object]:
    """The columns of a row by name. Bytes, which are kept under their own sha256, secrets, and what is worked out from
    other columns are left out."""
    left_out = {"password", "short_code", "first_code", "sought", *without}
    return {
        field.attname: getattr(row, field.attname)
        for field in row._meta.concrete_fields
        if field.attname not in left_out and not isinstance(field, models.BinaryField)
    }


def digest(value: object) -> str:
    """sha256 of the canonical form."""
    return hashlib.sha256(canonical(value).encode("ascii")).hexdigest()


def seal_of(row: models.Model) -> str:
    """The seal of a row that has one: over all its other columns."""
    return digest(columns(row, without=("seal",)))
