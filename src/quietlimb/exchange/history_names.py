"""What the keys and columns of a history may be called.

A name of one's own is left out. One that looks like a misspelt one, or stands in the wrong place, would be left out as
well, and nobody would see that at_risk or organ_damage was never read; so it is an error.
"""

from __future__ import annotations

from collections.abc import Collection
from typing import Final

from quietlimb.engine.circumstances import CIRCUMSTANCE_NAMES
from quietlimb.exchange.circumstance_lines import MISSPELT_FROM, SHORT_MISSPELT_FROM
from quietlimb.exchange.column_names import nearest, refuse_misnamed_columns
from quietlimb.exchange.errors import quoted
from quietlimb.exchange.table import Remark, Table

KEYS: Final = ("organ_damage", "at_risk", "born")  # above the table, beside the circumstances
_ABOVE: Final = ("species", "animal", *KEYS)  # of the animal, not of a session
_OF_BIRTH: Final = frozenset({"birth", "birthday", "birthdate", "birth_date", "date_of_birth"})


def refuse_misnamed(table: Table, columns: Collection[str]) -> None:
    """Raise FileError for a key or a column that is probably meant for another, or belongs elsewhere.

    columns : the names that are read

    Raises
    ------
    FileError : `misspelt-column`, `belongs-above`, `misspelt-key`, `belongs-in-a-column`, with the line.
    """
    known = {name.lower(): name for name in columns}
    refuse_misnamed_columns(
        table,
        columns,
        above=_ABOVE,
        of="the animal, not of a session",
        remedy="one file an animal",
        other_names=dict.fromkeys(_OF_BIRTH, "born"),
    )
    for remark in table.remarks:
        if remark.value and remark.key not in (*CIRCUMSTANCE_NAMES, *KEYS):
            _refuse_key(table, remark, known)


def _refuse_key(table: Table, remark: Remark, known: dict[str, str]) -> None:
    if remark.key in _OF_BIRTH or nearest(remark.key, ("born",), SHORT_MISSPELT_FROM):
        likely: str | None = "born"
    else:
        likely = nearest(remark.key, KEYS, MISSPELT_FROM)
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
