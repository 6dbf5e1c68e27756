"""Pairs of a method and a reference as a table, one determination a row.

    # truth: changing
    # tested: tail cuff
    # reference: catheter in a dorsal pedal artery
    # reference_is: intra-arterial
    # blinded: yes
    # taken_from: 2031-02-04
    animal,occasion,species,condition,first,tested_systolic_mmHg,reference_systolic_mmHg,failed
    A1,1,cat,anaesthetised,together,118,124,
    A1,2,cat,anaesthetised,together,,131,tested

All columns but `animal` and the values of one pressure by both methods may be left out, in any order; `_kPa` is
converted. There may be instrument and cuff_percent_of_limb of the tested method, and of a catheter's line
arterial_zero_mmHg, transducer_below_heart_cm, line_natural_Hz, line_damping and artery_pulse_per_min. `failed` says
which method was tried and gave nothing: tested, reference or both. A row that is at fault is told with its line and
left out, and the others go on; what is wrong above the rows ends the reading.
"""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, Final, get_args

from quietlimb.agreement.arterial_line import MOST_DAMPING, ArterialLine, FlushResponse, judge_line
from quietlimb.agreement.pair_rows import QUANTITIES, Failed, PairRow, PairRows, Pressures, truth_of
from quietlimb.agreement.pairs import First, Truth
from quietlimb.agreement.schemes import ReferenceKind
from quietlimb.agreement.window_rule import WINDOWS, Rule
from quietlimb.engine.circumstances import Species
from quietlimb.engine.errors import PairsError, ParameterError
from quietlimb.engine.units import mmhg_from_kpa
from quietlimb.engine.values import Cited
from quietlimb.exchange.circumstance_lines import printed
from quietlimb.exchange.column_names import nearest, refuse_misnamed_columns
from quietlimb.exchange.errors import FileError, quoted
from quietlimb.exchange.table import Column, Decimals, Remark, Table, read_table

SIDES: Final = ("tested", "reference")
PRESSURES: Final[Mapping[str, Mapping[str, str]]] = {
    f"{side}_{name}": {f"{side}_{name}_mmHg": "mmHg", f"{side}_{name}_kPa": "kPa"}
    for name in QUANTITIES
    for side in SIDES
}
# What is told of the catheter's line, with the ends that are believed. [invented]
LINE: Final[Mapping[str, tuple[str, float, float]]] = {
    "arterial_zero_mmHg": ("mmHg", -100.0, 100.0),
    "transducer_below_heart_cm": ("cm", -200.0, 200.0),
    "line_natural_Hz": ("Hz", 1.0, 200.0),
    "line_damping": ("", 0.0, MOST_DAMPING),
    "artery_pulse_per_min": ("/min", 20.0, 400.0),
}
TEXTS: Final = ("animal", "occasion", "species", "site", "condition", "instrument", "first", "failed")
CUFF: Final = "cuff_percent_of_limb"
CUFF_PERCENT: Final = (1.0, 200.0)  # [invented]
CHOICES: Final[Mapping[str, tuple[str, ...]]] = {
    "species": get_args(Species),
    "first": get_args(First),
    "failed": get_args(Failed),
}
ABOVE: Final[Mapping[str, tuple[str, ...] | None]] = {
    "truth": get_args(Truth),
    "tested": None,
    "reference": None,
    "reference_is": get_args(ReferenceKind),
    "blinded": ("yes", "no"),
    "taken_from": None,
    "window": WINDOWS,
    "window_seconds": None,
    "fewest_beats": None,
    "clock_later_s": None,
    "invented": None,
}
RULE_KEYS: Final = ("window", "window_seconds", "fewest_beats", "clock_later_s")
LOWEST: Final = Cited(5.0, "mmHg", "Quietlimb", "this file: bleeding and shock are compared too", "invented")
HIGHEST: Final = Cited(350.0, "mmHg", "Quietlimb", "this file", "invented")
_MISSPELT_FROM: Final = 0.8
MOST_TOLD: Final = 20  # rows in one error


@dataclass(frozen=True, slots=True, kw_only=True)
class PairsFile:
    """Rows of pairs, and the errors of the rows that were left out, each with its line."""

    rows: PairRows
    left_out: tuple[FileError, ...]


def read_pairs(path: str | os.PathLike[str], *, truth: Truth | None = None) -> PairsFile:
    """The pairs in a CSV file.

    truth : where the file does not tell it; where it does, both must agree

    Raises
    ------
    FileError : there is no table, a column or a line above is at fault, or no row is left.
    """
    table = read_table(path)
    above = _above(table)
    columns: dict[str, Column | None] = {name: table.column(name, {name: ""}) for name in TEXTS}
    columns |= {name: table.column(name, units) for name, units in PRESSURES.items()}
    columns |= {name: table.column(name, {name: unit}) for name, (unit, _, _) in LINE.items()}
    columns[CUFF] = table.column(CUFF, {CUFF: "%"})
    refuse_misnamed_columns(
        table,
        [*TEXTS, CUFF, *(name for units in PRESSURES.values() for name in units), *LINE],
        above=[key for key in ABOVE if key not in SIDES],
        of="all pairs",
        remedy="one file a comparison",
    )
    _refuse_missing(table, columns)
    lined, left_out = _rows(table, columns)
    lined, contradicting = _without_contradictions(table, lined, above, truth)
    left_out = sorted([*left_out, *contradicting], key=lambda each: each.line or 0)
    rows = [row for _, row in lined]
    if not rows:
        raise table.error(
            "empty",
            f"no row can be used{f'; of the first, {left_out[0]}' if left_out else ''}",
            "give at least one row with values by both methods",
            table.header_line,
        )
    return PairsFile(rows=_with_truth(table, rows, above, truth, left_out), left_out=tuple(left_out))


def pairs_text(pairs: PairRows) -> str:
    """Pairs as the text of such a file, to the last digit; columns that tell nothing are left out."""
    lines = [f"# truth: {pairs.truth}", f"# tested: {printed(pairs.tested_name)}"]
    lines.append(f"# reference: {printed(pairs.reference_name)}")
    if pairs.reference_is is not None:
        lines.append(f"# reference_is: {pairs.reference_is}")
    if pairs.blinded is not None:
        lines.append(f"# blinded: {'yes' if pairs.blinded else 'no'}")
    if pairs.taken_from is not None:
        lines.append(f"# taken_from: {pairs.taken_from}")
    if pairs.rule is not None:
        told = (pairs.rule.window, pairs.rule.seconds, pairs.rule.fewest_beats, pairs.rule.later_s)
        lines += [f"# {key}: {value}" for key, value in zip(RULE_KEYS, told, strict=True)]
    if pairs.invented:
        lines.append("# invented: yes, not patients")
    rows = [_cells(row) for row in pairs.rows]
    all_names = (*TEXTS, CUFF, *(f"{each}_mmHg" for each in PRESSURES), *LINE)
    names = [name for name in all_names if any(row[name] for row in rows)]
    lines.append(",".join(names))
    lines += [",".join(row[name] for name in names) for row in rows]
    return "\n".join(lines) + "\n"


def _cells(row: PairRow) -> dict[str, str]:
    cells = {name: _quoted(printed(getattr(row, name) or "")) for name in TEXTS}
    cells[CUFF] = _digits(row.cuff_percent)
    for side in SIDES:
        for name in QUANTITIES:
            value = getattr(row, side).of(name)
            cells[f"{side}_{name}_mmHg"] = _digits(value)
    line = row.line
    response = None if line is None else line.response
    told = (
        *((None, None) if line is None else (line.zero_mmhg, line.below_heart_cm)),
        *((None, None) if response is None else (response.natural_hz, response.damping)),
        None if line is None else line.pulse_rate,
    )
    return cells | {name: _digits(value) for name, value in zip(LINE, told, strict=True)}


def _digits(value: float | None) -> str:
    return "" if value is None else repr(float(value)).removesuffix(".0")


def _quoted(text: str) -> str:
    if text[:1] in ("=", "+", "-", "@"):
        text = f"'{text}"  # a spreadsheet would take it for a formula
    return '"' + text.replace('"', '""') + '"' if any(mark in text for mark in '",;\t') else text


def _above(table: Table) -> dict[str, Remark]:
    told: dict[str, Remark] = {}
    for remark in table.remarks:
        if not remark.value:
            continue
        if remark.key not in ABOVE:
            likely = nearest(remark.key, ABOVE, _MISSPELT_FROM)
            if likely is not None:
                raise table.error(
                    "misspelt-key",
                    f"there is no key {quoted(remark.key)}",
                    f"if you mean '{likely}', write '# {likely}: ...'; otherwise choose a key less like it",
                    remark.line,
                )
            continue
        if remark.key in told:
            raise table.error("told-twice", f"{remark.key} is told twice", "keep one of the lines", remark.line)
        choices = ABOVE[remark.key]
        if choices is not None and remark.value.lower() not in choices:
            raise table.error(
                "unknown-choice",
                f"{remark.key} is {quoted(remark.value)}",
                f"use one of: {', '.join(choices)}",
                remark.line,
            )
        if remark.key == "taken_from":
            _refuse_no_day(table, remark)
        told[remark.key] = remark
    return told


def _refuse_no_day(table: Table, remark: Remark) -> None:
    try:
        date.fromisoformat(remark.value)
    except ValueError:
        raise table.error(
            "not-a-date", f"taken_from is {quoted(remark.value)}", "write the day as 2031-02-04", remark.line
        ) from None


def _refuse_missing(table: Table, columns: Mapping[str, Column | None]) -> None:
    if columns["animal"] is None:
        raise table.error(
            "column-missing",
            "no column for the animal",
            "name one 'animal', with the same name or number for the same animal",
            table.header_line,
        )
    if not any(all(columns[f"{side}_{name}"] for side in SIDES) for name in QUANTITIES):
        raise table.error(
            "column-missing",
            "no pressure has a column by either method",
            "name two as tested_systolic_mmHg and reference_systolic_mmHg, or of mean or diastolic",
            table.header_line,
        )


def _rows(table: Table, columns: Mapping[str, Column | None]) -> tuple[list[tuple[int, PairRow]], list[FileError]]:
    """Each row with its line, and the errors of those that cannot be used."""
    decimals = Decimals(table)
    rows, left_out = [], []
    for line, text in zip(table.lines, table.rows, strict=True):
        try:
            cells = table.cells_of(line, text)
            if any(map(str.strip, cells)):
                rows.append((line, _row(table, columns, decimals, line, cells)))
        except FileError as error:
            left_out.append(error)
    return rows, left_out


def _without_contradictions(
    table: Table, rows: list[tuple[int, PairRow]], above: Mapping[str, Remark], truth: Truth | None
) -> tuple[list[tuple[int, PairRow]], list[FileError]]:
    """The rows without animals of which some contradict each other: which of them is right nobody can tell here."""
    single = (above["truth"].value.lower() if "truth" in above else truth) == "single"
    first: dict[str, tuple[int, PairRow]] = {}
    faults: dict[str, FileError] = {}
    for line, row in rows:
        before, other = first.setdefault(row.animal, (line, row))
        if row.animal in faults or line == before:
            continue
        if row.species is not None and other.species is None:
            first[row.animal] = (line, row)
        elif row.species is not None and row.species != other.species:
            faults[row.animal] = table.error(
                "species-differ",
                f"animal {quoted(row.animal)} is a {row.species} here and a {other.species} in line {before}",
                "correct one of them, or give two animals two names; all rows of this animal are left out",
                line,
            )
        if single and row.animal not in faults:
            faults[row.animal] = table.error(
                "replicates-of-one",
                f"truth is 'single' and animal {quoted(row.animal)} has a row in line {before} already",
                "write '# truth: constant' or '# truth: changing', or keep one row an animal; all rows of this animal "
                "are left out",
                line,
            )
    return [(line, row) for line, row in rows if row.animal not in faults], list(faults.values())


def _row(
    table: Table, columns: Mapping[str, Column | None], decimals: Decimals, line: int, cells: list[str]
) -> PairRow:
    told = {name: cells[column.index].strip() for name, column in columns.items() if column is not None}
    told = {name: text for name, text in told.items() if text}
    if "animal" not in told:
        raise table.error("cell-empty", "animal is empty", "give the same name for the same animal", line)
    for name, choices in CHOICES.items():
        if name in told:
            told[name] = told[name].lower()
            if told[name] not in choices:
                raise table.error(
                    "unknown-choice", f"{name} is {quoted(told[name])}", f"use one of: {', '.join(choices)}", line
                )
    sides = {side: _pressures(table, columns, decimals, side, told, line) for side in SIDES}
    failed = told.get("failed")
    for side in SIDES:
        if failed in (side, "both") and sides[side].any:
            raise table.error(
                "failed-with-value",
                f"{side} is told as failed and has a pressure",
                "empty its cells, or correct the column 'failed'",
                line,
            )
    if failed is None and not any(pressures.any for pressures in sides.values()):
        raise table.error(
            "cell-empty",
            "the row has no pressure at all",
            "write tested, reference or both under 'failed' if it was tried, or leave the row out",
            line,
        )
    texts: dict[str, Any] = {name: told.get(name) for name in TEXTS}
    cuff = None
    if CUFF in told:
        cuff = _within(table, decimals.number(told[CUFF], CUFF, line), CUFF, CUFF_PERCENT, line)
    line_told = _line(table, columns, decimals, told, sides["reference"], line)
    return PairRow(**texts, tested=sides["tested"], reference=sides["reference"], line=line_told, cuff_percent=cuff)


def _within(table: Table, value: float, name: str, ends: tuple[float, float], line: int) -> float:
    if not ends[0] <= value <= ends[1]:
        says = f"{name} is {value:g}, outside {ends[0]:g} to {ends[1]:g}"
        raise table.error("out-of-range", says, "correct the number", line)
    return value


def _line(
    table: Table,
    columns: Mapping[str, Column | None],
    decimals: Decimals,
    told: Mapping[str, str],
    reference: Pressures,
    line: int,
) -> ArterialLine | None:
    """Of the catheter, judged anew; None where the row tells nothing of it."""
    values: dict[str, float | None] = dict.fromkeys(LINE)
    for name, (_, least, most) in LINE.items():
        if columns[name] is None or name not in told:
            continue
        values[name] = _within(table, decimals.number(told[name], name, line), name, (least, most), line)
    zero, below_heart, natural_hz, damping, pulse_rate = values.values()
    if zero is below_heart is natural_hz is damping is pulse_rate is None:
        return None
    if (natural_hz is None) != (damping is None) or pulse_rate is None:
        raise table.error(
            "line-half-told",
            "the line of the catheter is told by halves",
            "give line_natural_Hz with line_damping, and artery_pulse_per_min with whatever is told of the line",
            line,
        )
    response = None
    if natural_hz is not None and damping is not None:
        response = FlushResponse(ended_s=None, natural_hz=natural_hz, damping=damping)
    return judge_line(
        zero_mmhg=zero,
        below_heart_cm=below_heart,
        response=response,
        systolic=reference.systolic,
        diastolic=reference.diastolic,
        pulse_rate=pulse_rate,
    )


def _pressures(
    table: Table,
    columns: Mapping[str, Column | None],
    decimals: Decimals,
    side: str,
    told: Mapping[str, str],
    line: int,
) -> Pressures:
    values: dict[str, float] = {}
    for name in QUANTITIES:
        key = f"{side}_{name}"
        column = columns[key]
        if column is None or key not in told:
            continue
        value = decimals.number(told[key], key.replace("_", " "), line)
        values[name] = mmhg_from_kpa(value) if column.unit == "kPa" else value
        if not LOWEST.value <= values[name] <= HIGHEST.value:
            raise table.error(
                "out-of-range",
                f"{key.replace('_', ' ')} is {values[name]:g} mmHg, outside {LOWEST.value:g} to {HIGHEST.value:g}",
                "look at the notes again and correct the number, or name the column _kPa if these are kPa",
                line,
            )
    for lower, upper in (("diastolic", "mean"), ("mean", "systolic"), ("diastolic", "systolic")):
        if lower in values and upper in values and values[lower] > values[upper]:
            raise table.error(
                f"{lower}-above-{upper}",
                f"{side} {lower} {values[lower]:g} mmHg is above {upper} {values[upper]:g} mmHg",
                "check whether numbers were swapped or mistyped",
                line,
            )
    return Pressures(**values)


def _rule(table: Table, above: Mapping[str, Remark]) -> Rule | None:
    """By which the pairs were made of two channels, where that is told."""
    if "window" not in above:
        return None
    decimals = Decimals(table)
    told: dict[str, Any] = {
        name: decimals.number(above[key].value, key, above[key].line)
        for name, key in zip(("seconds", "fewest_beats", "later_s"), RULE_KEYS[1:], strict=True)
        if key in above
    }
    if "fewest_beats" in told:
        told["fewest_beats"] = int(told["fewest_beats"])
    try:
        return Rule(window=above["window"].value.lower(), **told)  # type: ignore[arg-type]
    except ParameterError as error:
        raise table.error(error.code, error.says, error.remedy, above["window"].line) from None


def _with_truth(
    table: Table,
    rows: list[PairRow],
    above: Mapping[str, Remark],
    truth: Truth | None,
    left_out: Sequence[FileError],
) -> PairRows:
    told: Any = above["truth"].value.lower() if "truth" in above else None
    if told is not None and truth is not None and told != truth:
        raise table.error(
            "truth-conflict",
            f"the file says {quoted(told)} and the option says '{truth}'",
            "correct the line or leave the option out",
            above["truth"].line,
        )
    try:
        found = truth_of(rows, told or truth)
    except PairsError as error:
        besides = f"; besides, rows cannot be used: {'; '.join(map(str, left_out[:MOST_TOLD]))}" if left_out else ""
        raise table.error(error.code, f"{error.says}{besides}", error.remedy, None) from None
    animals = [row.animal for row in rows]
    kind: Any = above["reference_is"].value.lower() if "reference_is" in above else None
    names = {f"{side}_name": above[side].value for side in SIDES if side in above}
    invented = "invented" in above and above["invented"].value.lower() not in ("no", "false")
    return PairRows(
        rows=tuple(rows),
        truth=found,
        reference_is=kind,
        taken_from=date.fromisoformat(above["taken_from"].value).isoformat() if "taken_from" in above else None,
        rule=_rule(table, above),
        blinded=above["blinded"].value.lower() == "yes" if "blinded" in above else None,
        invented=invented or any(name.casefold().startswith(("simulated", "invented")) for name in animals),
        **names,
    )
