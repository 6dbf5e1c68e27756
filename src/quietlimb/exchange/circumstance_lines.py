"""Circumstances as "# key: value" lines above a table."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import asdict
from datetime import date, datetime
from typing import Any

from quietlimb.engine.circumstances import (
    CIRCUMSTANCE_NAMES,
    NUMERIC_CIRCUMSTANCES,
    Circumstances,
    Species,
)
from quietlimb.engine.errors import CircumstancesError, ParameterError
from quietlimb.exchange.errors import quoted
from quietlimb.exchange.table import Decimals, Remark, Table

_WORDS = frozenset({"species", "site", "side", "position", "place", "method", "sedation"})
_DATE_REMEDY = "write date and time as 2026-11-25T10:30:00+01:00"
_YEARS = range(1900, 2200)  # the ends of the calendar cannot be carried over to UTC
_KEY = re.compile(r"[a-z][a-z0-9_]*")


def circumstances_of(
    table: Table, *, species: Species | None = None, defaults: Mapping[str, str | float] | None = None
) -> Circumstances:
    """The circumstances that a table tells, filled up from `defaults` where it is silent.

    Unknown keys are left out; an empty value is not told. The species must be told by the file or by `species`; where
    both tell it they must agree, because one of them is then about another animal.

    Raises
    ------
    FileError          : `species-missing`, `species-conflict`, `told-twice`, `unknown-circumstance`,
                         `impossible-circumstance`, `not-a-number`, `not-a-date`, with the line.
    CircumstancesError : a default is at fault, not the file.
    """
    defaults = dict(defaults or {})
    unknown = set(defaults) - set(CIRCUMSTANCE_NAMES)
    if unknown:
        raise CircumstancesError(
            "unknown-circumstance",
            f"there is no circumstance {sorted(unknown)}",
            f"use {', '.join(CIRCUMSTANCE_NAMES)}",
        )
    started_at = defaults.get("started_at")
    if started_at is not None and not _is_date_and_time(str(started_at)):
        raise CircumstancesError("not-a-date", f"started_at is {started_at!r}", _DATE_REMEDY)
    if species is not None:
        defaults["species"] = species
    told = _told(table)
    values: dict[str, Any] = defaults | {key: _value(table, remark) for key, remark in told.items()}
    if "species" not in values:
        raise table.error(
            "species-missing",
            "the species is not told",
            "add the line '# species: cat' or '# species: dog' at the top, or give the species as an option",
            None,
        )
    if species is not None and values["species"] != species:
        raise table.error(
            "species-conflict",
            f"the file says {quoted(values['species'])} and the option says '{species}'",
            "correct the line or leave the option out",
            told["species"].line,
        )
    try:
        return Circumstances(**values)
    except CircumstancesError as error:
        # The sentence begins with the name of the circumstance at fault.
        name = error.says.split(" ", 1)[0]
        if name not in told:
            raise
        raise table.error(error.code, error.says, error.remedy, told[name].line) from None


def _told(table: Table) -> dict[str, Remark]:
    told: dict[str, Remark] = {}
    for remark in table.remarks:
        if remark.key in CIRCUMSTANCE_NAMES and remark.value:
            if remark.key in told and told[remark.key].value != remark.value:
                raise table.error("told-twice", f"{remark.key} is told twice", "keep one of the lines", remark.line)
            told.setdefault(remark.key, remark)
    return told


def _value(table: Table, remark: Remark) -> str | float:
    key = remark.key
    if key in NUMERIC_CIRCUMSTANCES:
        return Decimals(table).number(remark.value, key, remark.line)
    if key in _WORDS:
        return "-".join(remark.value.lower().split())
    if key == "started_at" and not _is_date_and_time(remark.value):
        raise table.error(
            "not-a-date",
            f"started_at is {quoted(remark.value)}",
            _DATE_REMEDY,
            remark.line,
        )
    return remark.value


def _is_date_and_time(text: str) -> bool:
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        return False
    try:
        date.fromisoformat(text)
    except ValueError:
        return moment.year in _YEARS
    return False


def circumstance_lines(circumstances: Circumstances, extra: Mapping[str, object] | None = None) -> list[str]:
    """The lines that say what is known, then those of `extra` (keys of small letters, digits and underscores).

    Line ends and other signs that do not print become spaces: a value has one line.
    """
    extra = extra or {}
    for key in extra:
        if not _KEY.fullmatch(key) or key in CIRCUMSTANCE_NAMES:
            raise ParameterError(
                "extra-key", f"{key!r} cannot be the key of an extra line", "use small letters, digits and underscores"
            )
    known = {key: value for key, value in asdict(circumstances).items() if value is not None}
    return [f"# {key}: {_printed(value)}" for key, value in {**known, **extra}.items()]


def _printed(value: object) -> str:
    text = repr(value) if isinstance(value, float) else str(value)
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())
