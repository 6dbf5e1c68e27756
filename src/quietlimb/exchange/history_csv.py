"""The months of one animal, a row a session.

    # species: cat
    # instrument: display 1
    # site: forelimb
    # at_risk: yes
    date,systolic_mmHg,systolic_low_mmHg,systolic_high_mmHg,readings,place,event
    2031-01-10,188,180,196,6,consulting-room,
    2031-01-24,184,177,191,7,consulting-room,treatment begun
    2031-02-04,161,,,5,home,

Only the date is needed in every row; a row without a pressure tells an event alone. How sure a pressure is comes from
its 95 % interval or its standard deviation, or else from the number of readings. A circumstance may stand above the
table, for all sessions, or as a column; an empty cell is what stands above. A row or an event that says once more what
another said of the same day counts once.
"""

from __future__ import annotations

import csv
import io
import os
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime
from itertools import pairwise
from typing import Any, Final, Literal, cast, get_args

from quietlimb.engine.circumstances import CIRCUMSTANCE_NAMES, NUMERIC_CIRCUMSTANCES, Circumstances, Species
from quietlimb.engine.errors import CircumstancesError
from quietlimb.engine.follow_up.history import (
    History,
    PastSession,
    Shift,
    TreatmentEvent,
    TreatmentStep,
    usual_own_sd,
)
from quietlimb.engine.interpretation.interpretation import OrganDamage
from quietlimb.engine.units import mmhg_from_kpa
from quietlimb.engine.values import TWO_SIDED_95, Cited
from quietlimb.exchange.circumstance_lines import YEARS, circumstance_lines, circumstances_of
from quietlimb.exchange.errors import quoted
from quietlimb.exchange.history_names import KEYS, refuse_misnamed
from quietlimb.exchange.json_values import iso_date
from quietlimb.exchange.readings_csv import LIMITS as READING_LIMITS
from quietlimb.exchange.table import Column, Decimals, Remark, Table, read_table


def _guard(lowest: float, highest: float, unit: str) -> tuple[Cited, Cited]:
    low, high = (Cited(value, unit, "Quietlimb", "this file", "invented") for value in (lowest, highest))
    return low, high


LIMITS: Final[Mapping[str, tuple[Cited, Cited]]] = {
    **{name: READING_LIMITS[name] for name in ("systolic", "mean", "diastolic")},
    "systolic_low": READING_LIMITS["systolic"],
    "systolic_high": READING_LIMITS["systolic"],
    "systolic_sd": _guard(0.1, 60.0, "mmHg"),
    "convert_add": _guard(-100.0, 100.0, "mmHg"),
    "convert_sd": _guard(0.1, 60.0, "mmHg"),
    "readings": _guard(1.0, 100.0, "readings"),
}
PRESSURES: Final = tuple(name for name in LIMITS if name != "readings")
ROW_CIRCUMSTANCES: Final = tuple(name for name in CIRCUMSTANCE_NAMES if name not in ("species", "animal", "started_at"))
COLUMNS: Final[Mapping[str, Mapping[str, str]]] = {
    "date": {"date": "date"},
    **{name: {f"{name}_mmHg": "mmHg", f"{name}_kPa": "kPa"} for name in PRESSURES},
    "readings": {"readings": "readings"},
    "event": {"event": "event"},
    **{name: {name: "text"} for name in ROW_CIRCUMSTANCES},
}
EVENTS: Final[Mapping[str, TreatmentStep]] = {
    f"{prefix}{step}": step for step in get_args(TreatmentStep) for prefix in ("treatment ", "")
}
_COLUMN_NAMES: Final = tuple(name for units in COLUMNS.values() for name in units)
_DATE_REMEDY = "write year, month and day as 2031-02-04"
_INTERVAL_WIDTH = 2.0 * TWO_SIDED_95  # standard deviations


@dataclass(frozen=True, slots=True, kw_only=True)
class _Row:
    line: int
    when: str  # as written: two sessions of a day may tell their times
    day: int
    session: PastSession | None
    step: TreatmentStep | None


def read_history(
    path: str | os.PathLike[str], *, species: Species | None = None, tell: Callable[[str], None] | None = None
) -> History:
    """The history in a CSV file. Rows may run from old to new or from new to old.

    species : needed where the file does not tell it; where it does, they must agree
    tell    : called with a sentence on each session and event that stands twice and is counted once

    Raises
    ------
    FileError : whatever is wrong with the file, with the line wherever one is to blame.
    """
    table = read_table(path)
    above = circumstances_of(table, species=species)
    columns = {name: table.column(name, units) for name, units in COLUMNS.items()}
    refuse_misnamed(table, _COLUMN_NAMES)
    for name in ("date", "systolic"):
        if columns[name] is None:
            known = " or ".join(COLUMNS[name])
            raise table.error("column-missing", f"no column for {name}", f"name one {known}", table.header_line)
    if (columns["convert_add"] is None) != (columns["convert_sd"] is None):
        raise table.error(
            "conversion-incomplete",
            "of convert_add and convert_sd only one is there",
            "give both: a conversion without its uncertainty cannot be used",
            table.header_line,
        )
    decimals = Decimals(table)
    rows = [
        _row(table, columns, decimals, above, line, cells)
        for line, cells in table.cells()
        if any(map(str.strip, cells))
    ]
    rows = _without_repeats(_in_order(table, rows), tell or _nobody)
    sessions = tuple(row.session for row in rows if row.session is not None)
    if not sessions:
        raise table.error("empty", "no session below the header row", "give at least one", table.header_line)
    return History(
        species=above.species,
        animal=above.animal,
        sessions=sessions,
        events=tuple(TreatmentEvent(day=row.day, step=row.step) for row in rows if row.step is not None),
        **_remarks(table, sessions[0].day),
    )


def history_text(history: History) -> str:
    """A history as the text of such a file, to the last digit; events stand in rows of their own.

    A text that a spreadsheet would take for a formula gets an apostrophe before it, and one with line ends one line.
    """
    rows: list[tuple[int, Mapping[str, object]]] = [
        (event.day, {"date": iso_date(event.day), "event": f"treatment {event.step}"}) for event in history.events
    ]
    rows += [(session.day, _session_cells(session)) for session in history.sessions]
    rows.sort(key=lambda row: row[0])
    told = {name for _, cells in rows for name, value in cells.items() if value is not None}
    names = [name for name in _COLUMN_NAMES if name in told or name in ("date", "systolic_mmHg")]
    written = io.StringIO()
    extra = {"organ_damage": history.organ_damage, "at_risk": "yes" if history.at_risk else "no"}
    if history.born_day is not None:
        extra["born"] = iso_date(history.born_day)
    above = circumstance_lines(Circumstances(species=history.species, animal=history.animal))
    written.writelines(f"{line}\n" for line in [*above, *(f"# {key}: {value}" for key, value in extra.items())])
    table = csv.writer(written, lineterminator="\n")
    table.writerow(names)
    table.writerows([_cell(cells.get(name)) for name in names] for _, cells in rows)
    return written.getvalue()


def _session_cells(session: PastSession) -> Mapping[str, object]:
    around = session.circumstances
    when = around.started_at or ""
    day = iso_date(session.day)
    conversion = session.conversion
    return {
        **{name: getattr(around, name) for name in ROW_CIRCUMSTANCES},
        "date": when if when.startswith(day) else day,
        "systolic_mmHg": session.systolic_mmhg,
        "systolic_sd_mmHg": session.own_sd_mmhg,
        "mean_mmHg": session.mean_mmhg,
        "diastolic_mmHg": session.diastolic_mmhg,
        "readings": session.readings,
        "convert_add_mmHg": None if conversion is None else conversion.add_mmhg,
        "convert_sd_mmHg": None if conversion is None else conversion.sd_mmhg,
    }


def _cell(value: object) -> str:
    if value is None or isinstance(value, float | int):
        return "" if value is None else repr(value)
    text = " ".join(str(value).split())
    return f"'{text}" if text[:1] in ("=", "+", "-", "@") else text


def _row(
    table: Table,
    columns: Mapping[str, Column | None],
    decimals: Decimals,
    above: Circumstances,
    line: int,
    cells: list[str],
) -> _Row:
    told = {name: cells[column.index].strip() for name, column in columns.items() if column is not None}
    told = {name: text for name, text in told.items() if text}
    day = _day(table, told.get("date", ""), "date", line)
    step = _step(table, told["event"], line) if "event" in told else None
    if "systolic" not in told:
        orphan = next((name for name in (*PRESSURES, "readings") if name in told), None)
        if orphan is not None or step is None:
            raise table.error(
                "systolic-missing",
                f"{_spoken(orphan)} is told but no systolic pressure" if orphan else "neither a pressure nor an event",
                "give the charted systolic pressure, or leave the row out; a row with an event alone has no pressures",
                line,
            )
        return _Row(line=line, when=told["date"], day=day, session=None, step=step)
    numbers = {name: _number(table, columns, decimals, name, told, line) for name in LIMITS}
    circumstances = _circumstances(table, decimals, above, told, line)
    return _Row(
        line=line, when=told["date"], day=day, session=_session(table, day, numbers, circumstances, line), step=step
    )


def _number(
    table: Table,
    columns: Mapping[str, Column | None],
    decimals: Decimals,
    name: str,
    told: Mapping[str, str],
    line: int,
) -> float | None:
    column = columns[name]
    if column is None or name not in told:
        return None
    value = decimals.number(told[name], _spoken(name), line)
    value = mmhg_from_kpa(value) if column.unit == "kPa" else value
    lowest, highest = LIMITS[name]
    whole = name == "readings"
    if not lowest.value <= value <= highest.value or (whole and value != int(value)):
        raise table.error(
            "out-of-range",
            f"{_spoken(name)} is {value:g}" + ("" if whole else " mmHg"),
            f"give {'a whole number ' if whole else ''}from {lowest.value:g} to {highest.value:g}"
            + ("" if whole else " mmHg, or name the column _kPa if these are kPa"),
            line,
        )
    return value


def _session(
    table: Table, day: int, numbers: Mapping[str, float | None], circumstances: Circumstances, line: int
) -> PastSession:
    systolic = numbers["systolic"]
    assert systolic is not None
    for lower, upper in (("diastolic", "mean"), ("mean", "systolic"), ("diastolic", "systolic")):
        low, high = numbers[lower], numbers[upper]
        if low is not None and high is not None and low >= high:
            raise table.error(
                f"{lower}-above-{upper}",
                f"{lower} {low:g} mmHg is not below {upper} {high:g} mmHg",
                "check whether numbers were swapped or mistyped",
                line,
            )
    count = numbers["readings"]
    readings = None if count is None else int(count)
    add, sd = numbers["convert_add"], numbers["convert_sd"]
    if (add is None) != (sd is None):
        raise table.error(
            "conversion-incomplete",
            "of convert_add and convert_sd only one is told",
            "give both: a conversion without its uncertainty cannot be used",
            line,
        )
    return PastSession(
        day=day,
        systolic_mmhg=systolic,
        own_sd_mmhg=_own_sd(table, systolic, numbers, circumstances, readings, line),
        mean_mmhg=numbers["mean"],
        diastolic_mmhg=numbers["diastolic"],
        readings=readings,
        circumstances=circumstances,
        conversion=None if add is None or sd is None else Shift(add_mmhg=add, sd_mmhg=sd),
    )


def _own_sd(
    table: Table,
    systolic: float,
    numbers: Mapping[str, float | None],
    circumstances: Circumstances,
    readings: int | None,
    line: int,
) -> float:
    low, high, sd = numbers["systolic_low"], numbers["systolic_high"], numbers["systolic_sd"]
    if low is None and high is None:
        return usual_own_sd(circumstances, readings) if sd is None else sd
    if low is None or high is None or sd is not None:
        raise table.error(
            "interval-incomplete" if sd is None else "told-twice",
            "of the interval only one end is told" if sd is None else "an interval and a standard deviation are told",
            "give both ends" if sd is None else "keep one of them",
            line,
        )
    if not low <= systolic <= high or low == high:
        raise table.error(
            "interval-beside-value",
            f"the interval {low:g} to {high:g} mmHg does not hold {systolic:g} mmHg within it",
            "give the ends of the 95 % interval of the charted pressure, the lower one first",
            line,
        )
    return (high - low) / _INTERVAL_WIDTH


def _circumstances(
    table: Table, decimals: Decimals, above: Circumstances, told: Mapping[str, str], line: int
) -> Circumstances:
    values: dict[str, Any] = {}
    for name in ROW_CIRCUMSTANCES:
        if name in told:
            numeric = name in NUMERIC_CIRCUMSTANCES
            values[name] = decimals.number(told[name], _spoken(name), line) if numeric else _as_chosen(name, told[name])
    try:
        # a date alone says nothing that the day does not; with a time it tells two sessions of a day apart
        when = told["date"]
        return replace(above, started_at=when if len(when) > len("2031-02-04") else None, **values)
    except CircumstancesError as error:
        raise table.error(error.code, error.says, error.remedy, line) from None


def _as_chosen(name: str, text: str) -> str:
    """A circumstance with a fixed choice in the spelling of the choice; any other as it was typed."""
    chosen = name in ("site", "side", "position", "place", "method", "sedation")
    return "-".join(text.lower().split()) if chosen else text


def _day(table: Table, text: str, name: str, line: int | None) -> int:
    try:
        found = date.fromisoformat(text) if len(text) <= len("2031-02-04") else datetime.fromisoformat(text).date()
    except ValueError:
        says = f"{name} is {quoted(text)}, not a date" if text else f"{name} is empty"
        raise table.error("not-a-date", says, _DATE_REMEDY, line) from None
    if found.year not in YEARS:
        raise table.error("not-a-date", f"{name} is {quoted(text)}, in no plausible year", _DATE_REMEDY, line)
    return found.toordinal()


def _step(table: Table, text: str, line: int) -> TreatmentStep:
    step = EVENTS.get(" ".join(text.lower().split()))
    if step is None:
        raise table.error(
            "unknown-event",
            f"event is {quoted(text)}",
            "write treatment begun, treatment changed or treatment stopped; what was given belongs into remarks",
            line,
        )
    return step


def _in_order(table: Table, rows: list[_Row]) -> list[_Row]:
    if rows and rows[0].day > rows[-1].day:
        rows = rows[::-1]
    for before, after in pairwise(rows):
        if after.day < before.day:
            at = max(before.line, after.line)
            raise table.error(
                "dates-out-of-order",
                "the dates neither rise nor fall throughout",
                "check the year of this row and the one before, or sort the rows by date",
                at,
            )
    return rows


def _nobody(_: str) -> None:
    pass


def _without_repeats(rows: list[_Row], tell: Callable[[str], None]) -> list[_Row]:
    """The rows, each session and event of a day once; both rows may be true, so the second is told and not refused."""
    sessions: dict[tuple[str, PastSession], int] = {}
    events: dict[tuple[int, TreatmentStep], int] = {}
    found = []
    for row in rows:
        session, step = row.session, row.step
        if session is not None and sessions.setdefault((row.when, session), row.line) != row.line:
            first, second = sorted((sessions[row.when, session], row.line))
            tell(
                f"line {second} tells the same session as line {first} and is not counted again; if there were two, "
                "tell in what they differ, as in place or remarks"
            )
            session = None
        if step is not None and events.setdefault((row.day, step), row.line) != row.line:
            first, second = sorted((events[row.day, step], row.line))
            tell(f"line {second} tells the same event as line {first} and is not counted again")
            step = None
        found.append(replace(row, session=session, step=step))
    return found


def _remarks(table: Table, first_day: int) -> dict[str, Any]:
    told: dict[str, Remark] = {}
    for remark in table.remarks:
        if remark.key in KEYS and remark.value:
            if remark.key in told:
                raise table.error("told-twice", f"{remark.key} is told twice", "keep one of the lines", remark.line)
            told[remark.key] = remark
    found: dict[str, Any] = {}
    if "organ_damage" in told:
        found["organ_damage"] = cast(OrganDamage, _choice(table, told["organ_damage"], get_args(OrganDamage)))
    if "at_risk" in told:
        found["at_risk"] = _choice(table, told["at_risk"], get_args(Literal["yes", "no"])) == "yes"
    if "born" in told:
        found["born_day"] = _day(table, told["born"].value, "born", told["born"].line)
        if found["born_day"] > first_day:
            raise table.error(
                "born-after-session",
                f"born is {quoted(told['born'].value)}, after the first session",
                "check the year here and in the rows",
                told["born"].line,
            )
    return found


def _choice(table: Table, remark: Remark, choices: tuple[str, ...]) -> str:
    value = " ".join(remark.value.lower().replace("-", " ").split())
    if value not in choices:
        says, known = f"{remark.key} is {quoted(remark.value)}", ", ".join(choices)
        raise table.error("unknown-choice", says, f"use one of: {known}", remark.line)
    return value


def _spoken(name: str | None) -> str:
    return (name or "").replace("_", " ")
