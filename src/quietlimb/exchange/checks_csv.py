"""Checks of instruments as CSV: points at rest, holds of a closed cuff, and the errors of many checks.

    reference_mmHg,instrument_mmHg,direction          manometer_mmHg,display_mmHg
    0,0,up                                            120,123
    50.2,51,up

    start_mmHg,end_mmHg,held_s                        date,error_mmHg
    250,248,60                                        2031-01-06,1.8

Pressures may be in kPa where the column says so. Other columns are left out.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping
from datetime import date
from typing import Final, TypeVar

from quietlimb.engine.units import mmhg_from_kpa
from quietlimb.exchange.column_names import refuse_misnamed_columns
from quietlimb.exchange.errors import quoted
from quietlimb.exchange.table import Decimals, Table, read_table
from quietlimb.instruments.checks import CheckError, Direction, DisplayPoints, LeakPoints, Reference, StaticPoints
from quietlimb.instruments.drift import DriftPoint

Points = TypeVar("Points")

DIRECTIONS: Final[Mapping[str, Direction]] = {"up": "up", "down": "down"}


def read_static_points(path: str | os.PathLike[str], *, resolution_mmhg: float, reference: Reference) -> StaticPoints:
    """Points at rest from columns reference_mmHg, instrument_mmHg, direction (up or down).

    Raises
    ------
    FileError : whatever is wrong with the file, with the line.
    """
    table = _table(path, "reference", "instrument", texts=("direction",))
    decimals = Decimals(table)
    shown, instrument = _pressure(table, "reference"), _pressure(table, "instrument")
    at = _text(table, "direction")
    rows: list[tuple[float, float, Direction]] = []
    for line, cells in table.cells():
        word = cells[at].strip().lower()
        if word not in DIRECTIONS:
            raise table.error("direction", f"direction is {quoted(cells[at])}", "write up or down", line)
        rows.append((shown(decimals, cells, line), instrument(decimals, cells, line), DIRECTIONS[word]))
    return _made(
        table,
        lambda: StaticPoints(
            reference_mmhg=tuple(row[0] for row in rows),
            instrument_mmhg=tuple(row[1] for row in rows),
            direction=tuple(row[2] for row in rows),
            resolution_mmhg=resolution_mmhg,
            reference=reference,
        ),
    )


def read_display_points(path: str | os.PathLike[str], *, resolution_mmhg: float, reference: Reference) -> DisplayPoints:
    """A display beside a hand-held manometer, from columns manometer_mmHg and display_mmHg.

    Raises
    ------
    FileError : whatever is wrong with the file, with the line.
    """
    table = _table(path, "manometer", "display")
    decimals = Decimals(table)
    manometer, shown = _pressure(table, "manometer"), _pressure(table, "display")
    rows = [(manometer(decimals, cells, line), shown(decimals, cells, line)) for line, cells in table.cells()]
    return _made(
        table,
        lambda: DisplayPoints(
            manometer_mmhg=tuple(row[0] for row in rows),
            display_mmhg=tuple(row[1] for row in rows),
            resolution_mmhg=resolution_mmhg,
            reference=reference,
        ),
    )


def holds_leak_points(path: str | os.PathLike[str]) -> bool:
    """Whether a CSV file holds first and last values of a closed cuff, and no recording.

    Raises
    ------
    FileError : it is no table.
    """
    names = [name.lower() for name in read_table(path).header]
    return any(name.startswith(("start_", "end_", "held_")) for name in names)


def read_leak_points(path: str | os.PathLike[str], *, resolution_mmhg: float) -> LeakPoints:
    """Holds of a closed cuff from columns start_mmHg, end_mmHg, held_s (or held_min).

    Raises
    ------
    FileError : whatever is wrong with the file, with the line.
    """
    table = _table(path, "start", "end", texts=("held_s", "held_min"), needed=())
    decimals = Decimals(table)
    start, end = _pressure(table, "start"), _pressure(table, "end")
    held = table.column("held", {"held_s": "s", "held_min": "min"})
    if held is None:
        raise table.error("column-missing", "no column for held", "name one held_s or held_min", table.header_line)
    in_s = 60.0 if held.unit == "min" else 1.0
    rows = [
        (
            start(decimals, cells, line),
            end(decimals, cells, line),
            in_s * decimals.number(cells[held.index], "time held", line),
        )
        for line, cells in table.cells()
    ]
    return _made(
        table,
        lambda: LeakPoints(
            start_mmhg=tuple(row[0] for row in rows),
            end_mmhg=tuple(row[1] for row in rows),
            held_s=tuple(row[2] for row in rows),
            resolution_mmhg=resolution_mmhg,
        ),
    )


def read_drift_points(path: str | os.PathLike[str]) -> list[DriftPoint]:
    """The errors of many checks from columns date, error_mmHg and, where it is known, standard_mmHg.

    Raises
    ------
    FileError : whatever is wrong with the file, with the line.
    """
    table = _table(path, "error", "standard", texts=("date",), optional=("standard",))
    decimals = Decimals(table)
    on, error = _text(table, "date"), _pressure(table, "error")
    standard = _pressure(table, "standard") if table.column("standard", _units("standard")) else None
    points = []
    for line, cells in table.cells():
        try:
            day = date.fromisoformat(cells[on].strip())
        except ValueError:
            raise table.error(
                "not-a-date", f"date is {quoted(cells[on])}", "write the date as 2031-03-04", line
            ) from None
        own = None if standard is None else standard(decimals, cells, line)
        if own is not None and own < 0.0:
            raise table.error("impossible-uncertainty", f"standard is {own:g}", "give 0 or more", line)
        points.append(DriftPoint(on=day, error_mmhg=error(decimals, cells, line), standard_mmhg=own))
    return points


def _units(quantity: str) -> dict[str, str]:
    return {f"{quantity}_mmHg": "mmHg", f"{quantity}_kPa": "kPa"}


def _table(
    path: str | os.PathLike[str],
    *pressures: str,
    texts: tuple[str, ...] = (),
    needed: tuple[str, ...] | None = None,
    optional: tuple[str, ...] = (),
) -> Table:
    """The table with its columns looked at: those missing and those probably misspelt are errors."""
    table = read_table(path)
    for name in pressures:
        if name not in optional and table.column(name, _units(name)) is None:
            raise table.error(
                "column-missing", f"no column for {name}", f"name one {' or '.join(_units(name))}", table.header_line
            )
    for name in texts if needed is None else needed:
        if table.column(name, {name: ""}) is None:
            raise table.error("column-missing", f"no column {name}", f"name one {name}", table.header_line)
    names = [unit for name in pressures for unit in _units(name)] + list(texts)
    refuse_misnamed_columns(table, names, above=(), of="", remedy="")
    if not table.rows:
        raise table.error("empty", "nothing below the header row", "give one row a point", table.header_line)
    return table


def _pressure(table: Table, quantity: str) -> Callable[[Decimals, list[str], int], float]:
    """How the pressure of a column is had from the cells of a row. [mmHg]"""
    column = table.column(quantity, _units(quantity))
    assert column is not None

    def pressure(decimals: Decimals, cells: list[str], line: int) -> float:
        value = decimals.number(cells[column.index], quantity, line)
        return float(mmhg_from_kpa(value)) if column.unit == "kPa" else value

    return pressure


def _text(table: Table, name: str) -> int:
    column = table.column(name, {name: ""})
    assert column is not None
    return column.index


def _made(table: Table, make: Callable[[], Points]) -> Points:
    try:
        return make()
    except CheckError as error:
        line = None if error.point is None else table.lines[error.point - 1]
        raise table.error(error.code, error.about, error.remedy, line) from None
