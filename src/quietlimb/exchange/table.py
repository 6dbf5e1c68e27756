"""The plain table that recordings and typed sessions share.

Lines "# key: value" first, then one header row whose names carry the units, then rows. Cells are separated by comma,
semicolon or tab; numbers have a decimal point, or a decimal comma where the separator is no comma. A first line
"sep=;", with which spreadsheets are told the separator, is believed if the header row has it.
"""

from __future__ import annotations

import csv
import math
import os
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import ClassVar, Protocol

from quietlimb.exchange.errors import FileError, quoted
from quietlimb.exchange.text_file import read_text

_NUMBER = re.compile(r"[+-]?(?:[0-9]+(?P<mark>[.,])?[0-9]*|(?P<leading>[.,])[0-9]+)(?:[eE][+-]?[0-9]+)?")
_SEPARATOR_LINE = re.compile(r'"?sep=([,;\t])"?[,;\t]*', re.IGNORECASE)
_NOT_FINITE = re.compile(r"[+-]?(?:nan|inf|infinity)", re.IGNORECASE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Remark:
    """One "# key: value": key in lower case with underscores, value as text, 1-based line where the file has lines."""

    key: str
    value: str
    line: int | None


def remark_of(text: str, line: int | None) -> Remark | None:
    """The remark in "# key: value"; None for a comment without a colon."""
    key, colon, value = text.strip().lstrip("#").partition(":")
    return Remark(key="_".join(key.lower().split()), value=value.strip(), line=line) if colon else None


class Remarked(Protocol):
    """A file that says something in remarks.

    remark_place : where one would write them, as in "a line at the top"
    """

    @property
    def remarks(self) -> tuple[Remark, ...]:
        """In their order."""

    @property
    def remark_place(self) -> str:
        """Follows "as"."""

    def error(self, code: str, says: str, remedy: str, line: int | None) -> FileError:
        """An error in this file."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """Where a quantity stands, and its unit as the header names it."""

    index: int
    unit: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Table:
    """A table as text.

    remarks     : the "# key: value" lines in their order
    header      : names of the columns
    header_line : 1-based
    rows, lines : (n,) the rows that are not blank, and the 1-based line of each
    """

    remark_place: ClassVar[str] = "a line at the top"

    path: str | os.PathLike[str]
    remarks: tuple[Remark, ...]
    header: tuple[str, ...]
    header_line: int
    separator: str
    rows: list[str]
    lines: range | list[int]

    def error(self, code: str, says: str, remedy: str, line: int | None) -> FileError:
        """An error in this file."""
        return FileError(code, says, remedy, path=self.path, line=line)

    def cells(self) -> Iterator[tuple[int, list[str]]]:
        """(line, cells) of each row, checked to have as many cells as the header."""
        for line, row in zip(self.lines, self.rows, strict=True):
            yield line, self.cells_of(line, row)

    def cells_of(self, line: int, row: str) -> list[str]:
        """The cells of a row, checked to be as many as the header has."""
        cells = _cells(row, self.separator, self.path, line)
        if len(cells) != len(self.header):
            comma = self.separator == "," and len(cells) > len(self.header)
            raise self.error(
                "wrong-number-of-cells",
                f"{len(cells)} cells under {len(self.header)} columns",
                "separate cells by semicolons where the decimal mark is a comma"
                if comma
                else "give every row as many cells as the header row",
                line,
            )
        return cells

    def column(self, quantity: str, units: Mapping[str, str]) -> Column | None:
        """Where `quantity` stands; None where no column bears its name. units: name -> unit; case is no matter."""
        names = [name.lower() for name in self.header]
        wanted = {name.lower(): unit for name, unit in units.items()}
        found = [(k, wanted[name]) for k, name in enumerate(names) if name in wanted]
        if len(found) > 1:
            both = " and ".join(self.header[k] for k, _ in found)
            raise self.error("column-twice", f"two columns for one quantity: {both}", "keep one", self.header_line)
        if found:
            return Column(index=found[0][0], unit=found[0][1])
        if quantity in units:
            return None  # its name has no unit, so that a longer name, as cuff_width_cm beside cuff, is another column
        known = " or ".join(units)
        for name, shown in zip(names, self.header, strict=True):
            if name == quantity:
                raise self.error(
                    "unit-missing", f"column {quoted(shown)} has no unit", f"name it {known}", self.header_line
                )
            if re.match(rf"{quantity}[_ (\[]", name):
                raise self.error(
                    "unit-unknown", f"the unit of column {quoted(shown)} is not known", f"use {known}", self.header_line
                )
        return None


def read_table(path: str | os.PathLike[str]) -> Table:
    """The table in a file.

    Raises
    ------
    FileError : those of `read_text`, `empty`, `not-a-table`, `header-missing`, `quotation-open`.
    """
    lines = read_text(path).split("\n")
    told = _SEPARATOR_LINE.fullmatch(lines[0].rstrip(" "))
    remark_rows = []
    start = 0
    for start, row in enumerate(lines):
        if start == 0 and told:
            continue
        if row.lstrip(' \t"').startswith("#"):
            remark_rows.append((start + 1, row))
        elif row.strip(" \t,;"):
            break
    else:
        raise FileError("empty", "the file has no header row and no data", "export it again", path=path)
    header_row = lines[start]
    if header_row.lstrip().startswith("<"):
        raise FileError(
            "not-a-table",
            f"this begins with {quoted(header_row)}, as a web page or other markup does, and is not a table",
            "save or export the table itself as CSV",
            path=path,
            line=start + 1,
        )
    marks = (told[1] if told else "") + "\t;"
    separator = next((mark for mark in marks if mark in header_row), ",")
    header = tuple(cell.strip() for cell in _cells(header_row, separator, path, start + 1))
    remarks = _remarks(remark_rows, separator, len(header), path)
    if all(_NUMBER.fullmatch(cell) for cell in header if cell):
        raise FileError(
            "header-missing",
            "numbers begin without a header row",
            "put a row with the names and units of the columns above them",
            path=path,
            line=start + 1,
        )
    rows = lines[start + 1 :]
    numbers: range | list[int] = range(start + 2, start + 2 + len(rows))
    while rows and not rows[-1].strip():
        rows.pop()
    numbers = numbers[: len(rows)]
    if not all(rows) or any(map(str.isspace, rows)):
        numbers = [line for line, row in zip(numbers, rows, strict=True) if row.strip()]
        rows = [row for row in rows if row.strip()]
    return Table(
        path=path,
        remarks=remarks,
        header=header,
        header_line=start + 1,
        separator=separator,
        rows=rows,
        lines=numbers,
    )


def _remarks(
    rows: list[tuple[int, str]], separator: str, columns: int, path: str | os.PathLike[str]
) -> tuple[Remark, ...]:
    # A spreadsheet fills every line up to the width of the table and quotes what holds a separator.
    filling = separator * (columns - 1)
    filled = all(row.endswith(filling) for _, row in rows)
    remarks = []
    for line, row in rows:
        text = row.removesuffix(filling) if filled else row
        if text.lstrip().startswith('"'):
            text = _cells(text.strip(), separator, path, line)[0]
        remarks.append(remark_of(text, line))
    return tuple(remark for remark in remarks if remark is not None)


def _cells(row: str, separator: str, path: str | os.PathLike[str], line: int) -> list[str]:
    if '"' not in row:
        return row.split(separator)
    try:
        return next(csv.reader([row], delimiter=separator, strict=True))
    except csv.Error:
        raise FileError(
            "quotation-open", "a quotation mark is not closed", "close it or leave it out", path=path, line=line
        ) from None


class Decimals:
    """Turns the cells or remarks of one file into numbers, holding it to one decimal mark throughout."""

    def __init__(self, table: Remarked) -> None:
        self._table = table
        self._mark: str | None = None

    def number(self, cell: str, name: str, line: int | None) -> float:
        """The finite number in a cell.

        Python's own `float` is not asked first: it takes 1_000, nan, 1e309 and digits of other scripts.
        """
        text = cell.strip()
        found = _NUMBER.fullmatch(text)
        if not found:
            if _NOT_FINITE.fullmatch(text):
                raise self._error("not-finite", f"{name} is {quoted(text)}", "leave such rows out", line)
            if not text:
                raise self._error("cell-empty", f"{name} is empty", "fill the cell or leave the row out", line)
            raise self._error("not-a-number", f"{name} is {quoted(text)}, not a number", "write plain digits", line)
        mark = found["mark"] or found["leading"]
        if mark and mark != (self._mark or mark):
            raise self._error(
                "decimal-marks-mixed",
                f"{name} is {quoted(text)}, but '{self._mark}' was the decimal mark before",
                "use one decimal mark, and no mark for thousands",
                line,
            )
        self._mark = mark or self._mark
        value = float(text.replace(",", "."))
        if not math.isfinite(value):
            raise self._error("not-finite", f"{name} is {quoted(text)}, beyond any number", "correct it", line)
        return value

    def _error(self, code: str, says: str, remedy: str, line: int | None) -> FileError:
        return self._table.error(code, says, remedy, line)
