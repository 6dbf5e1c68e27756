"""Bytes of a table as lines of named cells: encoding and separator are found out and told, never asked for."""

from __future__ import annotations

import codecs
import csv
import io
from collections.abc import Mapping
from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from quietlimb.engine.errors import QuietlimbError

MOST_BYTES = 500_000
MOST_LINES = 5_000

OF_ANIMAL = {
    "animal_id": "link_id",
    "animal": "name",
    "species": "species",
    "breed": "breed",
    "colour": "colour",
    "born": "born",
    "sex": "sex",
    "remarks": "remarks",
    "deceased_on": "deceased_on",
}
OF_OWNER = {
    "owner_id": "link_id",
    "owner": "name",
    "telephone": "telephone",
    "email": "email",
    "address": "address",
}
HEADERS = (*OF_ANIMAL, *OF_OWNER)
SEPARATORS = {",": gettext_lazy("comma"), ";": gettext_lazy("semicolon"), "\t": gettext_lazy("tab")}


class ImportFileError(QuietlimbError):
    """This file cannot be imported at all."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One line: its number in the file, counted from 1 with the header, and its cells that are not empty, by header."""

    number: int
    cells: Mapping[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Refused:
    """A line that is left out, why, and what to do."""

    number: int
    says: str
    remedy: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """What a file holds.

    encoding, separator : as they were found
    unread              : headers that mean nothing here; their columns are left out
    """

    encoding: str
    separator: str
    unread: tuple[str, ...]
    lines: tuple[Line, ...]
    refused: tuple[Refused, ...]


def read_table(content: bytes) -> Table:
    """The table in a file.

    Raises ImportFileError where it is too large, no text, has no header that is known, or a quote is not closed.
    """
    if len(content) > MOST_BYTES:
        raise ImportFileError(
            "too-large",
            _("The file is larger than {most} kB").format(most=MOST_BYTES // 1000),
            _("divide it into several"),
        )
    text, encoding = _text(content)
    separator, header = _header(text)
    names = [_plain(cell) for cell in header]
    repeated = sorted({name for name in names if name in HEADERS and names.count(name) > 1})
    if repeated:
        raise ImportFileError(
            "header-twice",
            _("The header {name} stands there twice").format(name=repeated[0]),
            _("leave one of the two columns out"),
        )
    lines, refused = _lines(text, separator, names)
    return Table(
        encoding=encoding,
        separator=str(SEPARATORS[separator]),
        unread=tuple(
            cell.strip() for cell, name in zip(header, names, strict=True) if cell.strip() and name not in HEADERS
        ),
        lines=tuple(lines),
        refused=tuple(refused),
    )


def _text(content: bytes) -> tuple[str, str]:
    if content.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        candidates = [("utf-16", "UTF-16")]
    else:
        candidates = [("utf-8-sig", "UTF-8"), ("cp1252", "Windows-1252")]
    for codec, name in candidates:
        try:
            text = content.decode(codec)
        except UnicodeDecodeError:
            continue
        if "\0" not in text:
            return text, name
    raise ImportFileError("no-text", _("The file is not a text table"), _("export it as CSV, best in UTF-8"))


def _header(text: str) -> tuple[str, list[str]]:
    """The separator by which most headers are known, and the cells of the first line by it."""
    first = text.split("\n", 1)[0]
    rows = {}
    for separator in SEPARATORS:
        try:
            rows[separator] = next(csv.reader([first], delimiter=separator, strict=True), [])
        except csv.Error:
            rows[separator] = []
    known = {separator: sum(_plain(cell) in HEADERS for cell in row) for separator, row in rows.items()}
    best = max(known, key=lambda separator: known[separator])
    names = {_plain(cell) for cell in rows[best]}
    if not {"animal_id", "owner_id"} & names:
        raise ImportFileError(
            "no-header",
            _("The first line names neither animal_id nor owner_id"),
            _("write the headers into the first line: {names}").format(names=", ".join(HEADERS)),
        )
    if len(names & set(OF_OWNER)) and "owner_id" not in names:
        raise ImportFileError(
            "no-owner-id",
            _("There are owners and no column owner_id"),
            _("add the number that each owner has in your records, or leave the owner's columns out"),
        )
    if len(names & set(OF_ANIMAL)) and "animal_id" not in names:
        raise ImportFileError(
            "no-animal-id",
            _("There are animals and no column animal_id"),
            _("add the number that each animal has in your records, or leave the animal's columns out"),
        )
    return best, rows[best]


def _lines(text: str, separator: str, names: list[str]) -> tuple[list[Line], list[Refused]]:
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    lines: list[Line] = []
    refused: list[Refused] = []
    start = 1
    try:
        for row in reader:
            number, start = start, reader.line_num + 1
            cells = [cell.strip() for cell in row]
            if number == 1 or not any(cells):
                continue
            if len(lines) + len(refused) >= MOST_LINES:
                raise ImportFileError(
                    "too-many-lines",
                    _("The file has more than {most} lines").format(most=MOST_LINES),
                    _("divide it into several"),
                )
            while len(cells) > len(names) and not cells[-1]:
                cells.pop()
            if len(cells) != len(names):
                says = _("{cells} cells under {headers} headers").format(cells=len(cells), headers=len(names))
                refused.append(
                    Refused(number=number, says=says, remedy=_("put quotes around a cell with a separator in it"))
                )
                continue
            told = {name: cell for name, cell in zip(names, cells, strict=True) if name in HEADERS and cell}
            lines.append(Line(number=number, cells=told))
    except csv.Error as error:
        raise ImportFileError(
            "broken-table",
            _("The table breaks off at line {line} ({why})").format(line=reader.line_num, why=error),
            _("look for a quote that is not closed"),
        ) from error
    return lines, refused


def _plain(header: str) -> str:
    """Capitals, blanks and hyphens do not matter in a header."""
    return "_".join(header.strip().lower().replace("-", " ").replace("_", " ").split())
