"""A session as a person types it from any display.

    # species: cat
    # site: forelimb
    # method: oscillometric
    minute,systolic_mmHg,mean_mmHg,diastolic_mmHg,pulse_rate_per_min
    0,162,128,104,180
    1.5,158,,,

All columns but minute and systolic may be left out, in any order, and their cells may be empty; `_kPa` is converted.
A column `set_aside` says why whoever took a reading set it aside, as `moved`; it is shown and does not count, and its
pressures may be empty. Where it is empty, or says no, the reading counts.

A column of another name is left out, but for one that looks like a misspelt one of these, and for a circumstance: a
file has one series, and a method or cuff told reading by reading would pool what must not be pooled.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np

from quietlimb.engine.circumstances import CIRCUMSTANCE_NAMES, Species, Technique
from quietlimb.engine.errors import SeriesError
from quietlimb.engine.findings import Finding
from quietlimb.engine.session.series import Series, series_from_values
from quietlimb.engine.units import mmhg_from_kpa
from quietlimb.engine.values import Cited
from quietlimb.exchange.circumstance_lines import INVENTED_KEY, circumstance_lines, circumstances_of, printed
from quietlimb.exchange.column_names import refuse_misnamed_columns
from quietlimb.exchange.errors import FileError
from quietlimb.exchange.recording_csv import write_text
from quietlimb.exchange.table import Column, Decimals, Table, read_table

PRESSURES: Final = ("systolic", "mean", "diastolic")
COLUMNS: Final[Mapping[str, Mapping[str, str]]] = {
    "minute": {"minute": "min"},
    **{name: {f"{name}_mmHg": "mmHg", f"{name}_kPa": "kPa"} for name in PRESSURES},
    "pulse_rate": {"pulse_rate_per_min": "/min"},
}
SET_ASIDE: Final = "set_aside"
NO_SYSTOLIC: Final = "no systolic pressure was read"
_NOT_SET_ASIDE: Final = frozenset({"", "-", "0", "false", "keep", "kept", "n", "no", "none", "ok"})
_NO_REASON: Final = frozenset({"1", "true", "x", "y", "yes"})  # set aside, and not said why
# Of a whole session. Remarks may be made on each reading as well; they change nothing.
_OF_THE_SESSION: Final = tuple(name for name in CIRCUMSTANCE_NAMES if name != "remarks")

_MINUTE_REMEDY = "write minutes since the first reading, as 0, 1.5, 3"

_GUARD = "errors worth a guard"
LIMITS: Final[Mapping[str, tuple[Cited, Cited]]] = {
    "minute": (
        Cited(0.0, "min", "Quietlimb", "this file", "invented"),
        Cited(1440.0, "min", "Quietlimb", "this file", "invented"),
    ),
    "systolic": (
        Cited(40.0, "mmHg", "typing guard", _GUARD, "common practice"),
        Cited(320.0, "mmHg", "typing guard", _GUARD, "common practice"),
    ),
    "mean": (
        Cited(30.0, "mmHg", "typing guard", _GUARD, "common practice"),
        Cited(260.0, "mmHg", "typing guard", _GUARD, "common practice"),
    ),
    "diastolic": (
        Cited(20.0, "mmHg", "typing guard", _GUARD, "common practice"),
        Cited(220.0, "mmHg", "typing guard", _GUARD, "common practice"),
    ),
    "pulse_rate": (
        Cited(20.0, "/min", "Quietlimb", "this file", "invented"),
        Cited(400.0, "/min", "Quietlimb", "this file", "invented"),
    ),
}
KPA_SUSPECTED_BELOW = Cited(40.0, "mmHg", "typing guard", _GUARD, "common practice")


@dataclass(frozen=True, slots=True, kw_only=True)
class _Row:
    line: int
    values: Mapping[str, float | None]
    set_aside: bool
    reason: str | None  # why it was set aside, as typed

    def __getitem__(self, name: str) -> float | None:
        return self.values[name]


def is_readings_file(path: str | os.PathLike[str]) -> bool:
    """Whether a file is a typed session, by its header row: it names a minute or a systolic pressure, and no cuff
    pressure.

    Raises
    ------
    FileError : there is no table in it.
    """
    names = [name.lower() for name in read_table(path).header]
    named = any(name == "minute" or name.startswith("systolic") for name in names)
    return named and not any(name.startswith("cuff_pressure") for name in names)


def read_readings(
    path: str | os.PathLike[str],
    *,
    species: Species | None = None,
    defaults: Mapping[str, str | float] | None = None,
) -> Series:
    """The typed session in a CSV file; readings that look odd but possible carry a finding.

    Parameters
    ----------
    species  : needed where the file does not tell it; where it does, they must agree
    defaults : other circumstances, for where the file is silent

    Raises
    ------
    FileError : whatever is wrong with the file, with the line wherever one is to blame.
    """
    table = read_table(path)
    circumstances = circumstances_of(table, species=species, defaults=defaults)
    columns = {name: table.column(name, units) for name, units in COLUMNS.items()}
    for name in ("minute", "systolic"):
        if columns[name] is None:
            known = " or ".join(COLUMNS[name])
            raise table.error("column-missing", f"no column for {name}", f"name one {known}", table.header_line)
    aside = table.column(SET_ASIDE, {SET_ASIDE: ""})
    refuse_misnamed_columns(
        table,
        [*(name for units in COLUMNS.values() for name in units), SET_ASIDE],
        above=_OF_THE_SESSION,
        of="the whole session, not of a reading",
        remedy="one file a series",
    )
    rows = _rows(table, columns, aside)
    if not rows:
        raise table.error("empty", "no readings below the header row", "type at least one reading", table.header_line)
    _refuse_kpa(table, rows, columns["systolic"])
    before = rows[0]
    for row in rows:
        _refuse_impossible(table, row, before)
        before = row
    _refuse_one_minute(table, rows)

    def column(name: str) -> list[float | None]:
        return [row[name] for row in rows]

    return series_from_values(
        circumstances=circumstances,
        minute=[row["minute"] or 0.0 for row in rows],
        systolic=column("systolic"),
        mean=column("mean"),
        diastolic=column("diastolic"),
        pulse_rate=column("pulse_rate"),
        findings=[_oddities(row, circumstances.method) for row in rows],
    )


def write_readings(series: Series, path: str | os.PathLike[str]) -> None:
    """Write a series as a typed session, gzip-packed where the name ends in .gz.

    Raises
    ------
    SeriesError : as `readings_text` does.
    """
    write_text(path, readings_text(series))


def readings_text(series: Series, *, invented: str | None = None) -> str:
    """A series as the text of a typed session; empty columns are left out.

    invented : why it is of no patient, for a line that says so; read again, its instrument is then the simulator

    A recording from which no systolic pressure was read is set aside in it, for a typed reading has one.

    Raises
    ------
    SeriesError : `minutes-missing`: it could not be read again.
    """
    aside = {int(k) + 1: NO_SYSTOLIC for k in np.flatnonzero(np.isnan(series.systolic))}
    aside |= {k: _reason(series.findings[k - 1]) for k in series.set_aside}
    if len(series) > 1 and series.minute[0] == series.minute[-1]:
        raise SeriesError("minutes-missing", f"all readings are at minute {series.minute[0]:g}", _MINUTE_REMEDY)
    columns = {
        next(iter(COLUMNS[name])): getattr(series, name)
        for name in COLUMNS
        if name in ("minute", "systolic") or not np.isnan(getattr(series, name)).all()
    }
    lines = circumstance_lines(series.circumstances, {INVENTED_KEY: invented} if invented else None)
    lines.append(",".join([*columns, *([SET_ASIDE] if aside else [])]))
    for k, values in enumerate(zip(*(column.tolist() for column in columns.values()), strict=True), start=1):
        cells = ["" if np.isnan(value) else repr(value).removesuffix(".0") for value in values]
        lines.append(",".join([*cells, *([_cell(aside[k]) if k in aside else ""] if aside else [])]))
    return "\n".join(lines) + "\n"


def _reason(findings: tuple[Finding, ...]) -> str:
    """Why a reading was set aside, so that it is read as set aside again."""
    told = next((finding.told for finding in findings if finding.code == "set-aside"), None)
    reason = printed(told or "")
    return "yes" if reason.lower() in _NOT_SET_ASIDE else reason


def _cell(text: str) -> str:
    return '"' + text.replace('"', '""') + '"' if any(mark in text for mark in '",;\t') else text


def _rows(table: Table, columns: Mapping[str, Column | None], aside: Column | None) -> list[_Row]:
    decimals = Decimals(table)
    rows = []
    for line, cells in table.cells():
        if not any(cell.strip() for cell in cells):
            continue  # spreadsheets export rows of nothing but separators
        values: dict[str, float | None] = {}
        said = "" if aside is None else cells[aside.index].strip()
        set_aside = said.lower() not in _NOT_SET_ASIDE
        reason = said if set_aside and said.lower() not in _NO_REASON else None
        for name, column in columns.items():
            optional = name not in ("minute", "systolic") or (name == "systolic" and set_aside)
            if column is None or (optional and not cells[column.index].strip()):
                values[name] = None
                continue
            try:
                value = decimals.number(cells[column.index], _spoken(name), line)
            except FileError as error:
                if name == "minute" and error.code in ("not-a-number", "cell-empty"):
                    raise table.error(error.code, error.says, _MINUTE_REMEDY, line) from None
                raise
            # Absurd numbers overflow to inf in Python floats without a warning, and the limits refuse them.
            values[name] = mmhg_from_kpa(value) if column.unit == "kPa" else value
        rows.append(_Row(line=line, values=values, set_aside=set_aside, reason=reason))
    return rows


def _refuse_kpa(table: Table, rows: list[_Row], systolic: Column | None) -> None:
    highest = max(row["systolic"] or 0.0 for row in rows)
    if systolic is not None and systolic.unit == "mmHg" and 0 < highest < KPA_SUSPECTED_BELOW.value:
        raise table.error(
            "kpa-suspected",
            f"no systolic pressure exceeds {highest:g} mmHg",
            "if these numbers are kPa, name the columns systolic_kPa, mean_kPa, diastolic_kPa",
            table.header_line,
        )


def _refuse_one_minute(table: Table, rows: list[_Row]) -> None:
    minute = rows[0]["minute"]
    if len(rows) > 1 and all(row["minute"] == minute for row in rows):
        raise table.error(
            "minutes-missing", f"all {len(rows)} readings are at minute {minute:g}", _MINUTE_REMEDY, rows[1].line
        )


def _refuse_impossible(table: Table, row: _Row, before: _Row) -> None:
    for name, (lowest, highest) in LIMITS.items():
        value = row[name]
        if value is not None and not lowest.value <= value <= highest.value:
            raise table.error(
                "out-of-range",
                f"{_spoken(name)} is {value:g} {lowest.unit}, outside {lowest.value:g} to {highest.value:g}",
                _MINUTE_REMEDY if name == "minute" else "look at the display or the notes again and correct the number",
                row.line,
            )
    minute, minute_before = row["minute"], before["minute"]
    if minute is not None and minute_before is not None and minute < minute_before:
        raise table.error(
            "time-backwards",
            f"minute {minute:g} follows minute {minute_before:g}",
            "give the readings in the order taken",
            row.line,
        )
    for lower, upper in (("mean", "systolic"), ("diastolic", "mean"), ("diastolic", "systolic")):
        low, high = row[lower], row[upper]
        if low is None or high is None:
            continue
        # A mean may meet either end on a coarse display; without any pulse pressure there is no pulse to measure.
        if low > high or (low == high and (lower, upper) == ("diastolic", "systolic")):
            raise table.error(
                f"{lower}-above-{upper}",
                f"{lower} {low:g} mmHg is not below {upper} {high:g} mmHg",
                "check whether numbers were swapped or mistyped",
                row.line,
            )


def _oddities(row: _Row, method: Technique) -> tuple[Finding, ...]:
    found = []
    if row.set_aside:
        found.append(Finding(code="set-aside", severity="spoils", told=row.reason))
    if method == "doppler" and row["diastolic"] is not None:
        found.append(Finding(code="diastolic-by-doppler", severity="note", touches=("diastolic",)))
    return tuple(found)


def _spoken(name: str) -> str:
    return name.replace("_", " ")
