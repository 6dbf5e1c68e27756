"""What every JSON object of ours is made of: rounded numbers, estimates, errors.

Pressures, rates and seconds are rounded to 3 decimals, shares and probabilities to 4. A number that has no finite
value, such as the open end of an interval, is null.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from datetime import date
from typing import Any

from quietlimb.engine.errors import QuietlimbError
from quietlimb.engine.values import Estimate
from quietlimb.exchange.errors import FileError

JsonObject = dict[str, Any]


def dump_line(obj: Mapping[str, Any]) -> str:
    """One line of JSON, letters as they are; without line end."""
    text = json.dumps(obj, ensure_ascii=False, allow_nan=False)
    # A file name may hold bytes that are no text; they arrive as lone surrogates, which JSON can only carry escaped.
    return text.encode("utf-8", "backslashreplace").decode("utf-8")


def number_or_null(value: float | None, decimals: int = 3) -> float | None:
    """A number, rounded."""
    if value is None or not math.isfinite(value):
        return None
    return round(float(value), decimals) + 0.0  # no negative zero


def share_or_null(value: float | None) -> float | None:
    """A share or a probability, rounded."""
    return number_or_null(value, 4)


def estimate_or_null(estimate: Estimate | None) -> JsonObject | None:
    """Value, interval and both parts of the standard deviation; the shared part null where it is not known."""
    if estimate is None:
        return None
    return {name: number_or_null(getattr(estimate, name)) for name in ("value", "low", "high", "own_sd", "shared_sd")}


def iso_date(day: float) -> str:
    """The date of a day that is counted from 1 January of year 1."""
    return date.fromordinal(int(day)).isoformat()


def error_object(error: QuietlimbError) -> JsonObject:
    """What is wrong, where, and the remedy."""
    line = error.line if isinstance(error, FileError) else None
    return {"code": error.code, "says": error.says, "remedy": error.remedy, "line": line}
