"""What the columns of a table may be called.

A name of one's own is left out. One that looks like a misspelt one, or that belongs above the table, would be left out
as well, and nobody would see that it was never read; so it is an error.
"""

from __future__ import annotations

import difflib
from collections.abc import Collection, Mapping
from typing import Final

from quietlimb.exchange.errors import quoted
from quietlimb.exchange.table import Table

_MISSPELT_FROM: Final = 0.85  # likeness of a column's name to a known one, 0..1 [invented]
_NOTHING: Final[Mapping[str, str]] = {}


def refuse_misnamed_columns(
    table: Table,
    columns: Collection[str],
    *,
    above: Collection[str],
    of: str,
    remedy: str,
    other_names: Mapping[str, str] = _NOTHING,
) -> None:
    """Raise FileError for a column that is probably meant for another, or belongs above the table.

    columns     : the names that are read
    above       : what is told above the table
    of          : of what those are told, as in "the animal, not of a session"
    remedy      : what a file has one of, as in "one file an animal"
    other_names : what else one of those above may be called

    Raises
    ------
    FileError : `misspelt-column`, `belongs-above`, with the line.
    """
    known = {name.lower(): name for name in columns}
    for shown in table.header:
        name = "_".join(shown.lower().split())
        if name in known:
            continue
        likely = other_names.get(name) or nearest(name, (*known, *above), _MISSPELT_FROM)
        if likely in above:
            raise table.error(
                "belongs-above",
                f"column {quoted(shown)}: {likely} is told of {of}",
                f"write a line '# {likely}: ...' above the table, {remedy}, and leave the column out",
                table.header_line,
            )
        if likely is not None:
            raise table.error(
                "misspelt-column",
                f"there is no column {quoted(shown)}",
                f"if you mean {known[likely]}, name it so; otherwise choose a name less like it",
                table.header_line,
            )


def nearest(name: str, names: Collection[str], cutoff: float) -> str | None:
    """The one of `names` that is most like `name`, if it is at least as like as `cutoff`, 0..1."""
    return next(iter(difflib.get_close_matches(name, names, n=1, cutoff=cutoff)), None)
