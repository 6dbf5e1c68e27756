"""What the keys and columns of a history may be called.

A name of one's own is left out. One that looks like a misspelt one, or stands in the wrong place, would be left out as
well, and nobody would see that at_risk or organ_damage was never read; so it is an error.
"""

from __future__ import annotations

import difflib
from collections.abc import Collection
from typing import Final

from quietlimb.engine.circumstances import CIRCUMSTANCE_NAMES
from quietlimb.exchange.circumstance_lines import MISSPELT_FROM, SHORT_MISSPELT_FROM
from quietlimb.exchange.errors import quoted
from quietlimb.exchange.table import Remark, Table

KEYS: Final = ("organ_damage", "at_risk", "born")  # above the table, beside the circumstances
_ABOVE: Final = ("species", "animal", *KEYS)  # of the animal, not of a session
_OF_BIRTH: Final = frozenset({"birth", "birthday", "birthdate", "birth_date", "date_of_birth"})
_COLUMN_MISSPELT_FROM = 0.85  # likeness of a column's name to a known one, 0..1 [invented]


def refuse_misnamed(table: Table, columns: Collection[str]) -> None:
    """Raise FileError for a key or a column that is probably meant for another, or belongs elsewhere.

    columns : the names that are read

    Raises
    ------
    FileError : `misspelt-column`, `belongs-above`, `misspelt-key`, `belongs-in-a-column`, with the line.
    """
    known = {name.lower(): name for name in columns}
    for shown in table.header:
        _refuse_column(table, shown, known)
    for remark in table.remarks:
        if remark.value and remark.key not in (*CIRCUMSTANCE_NAMES, *KEYS):
            _refuse_key(table, remark, known)


def _refuse_column(table: Table, shown: str, known: dict[str, str]) -> None:
    name = "_".join(shown.lower().split())
    if name in known:
        return
    likely = "born" if name in _OF_BIRTH else _nearest(name, (*known, *_ABOVE), _COLUMN_MISSPELT_FROM)
    if likely in _ABOVE:
        raise table.error(
            "belongs-above",
            f"column {quoted(shown)}: {likely} is told of the animal, not of a session",
            f"write a line '# {likely}: ...' above the table, one file an animal, and leave the column out",
            table.header_line,
        )
    if likely is not None:
        raise table.error(
            "misspelt-column",
            f"there is no column {quoted(shown)}",
            f"if you mean {known[likely]}, name it so; otherwise choose a name less like it",
            table.header_line,
        )


def _refuse_key(table: Table, remark: Remark, known: dict[str, str]) -> None:
    if remark.key in _OF_BIRTH or _nearest(remark.key, ("born",), SHORT_MISSPELT_FROM):
        likely: str | None = "born"
    else:
        likely = _nearest(remark.key, KEYS, MISSPELT_FROM)
    if likely is not None:
        raise table.error(
            "misspelt-key",
            f"there is no key {quoted(remark.key)}",
            f"if you mean '{likely}', write '# {likely}: ...'; otherwise choose a key less like it",
            remark.line,
        )
    if remark.key in known:
        raise table.error(
            "belongs-in-a-column",
            f"{known[remark.key]} stands above the table, but it is told of each session",
            f"make it a column named {known[remark.key]}",
            remark.line,
        )


def _nearest(name: str, names: Collection[str], cutoff: float) -> str | None:
    return next(iter(difflib.get_close_matches(name, names, n=1, cutoff=cutoff)), None)
