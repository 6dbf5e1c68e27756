"""Plain text for 80 columns: no boxes, no colours, numbers under numbers."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Iterable, Sequence

from quietlimb.engine.values import Estimate
from quietlimb.exchange.errors import one_line

WIDTH = 80


def wrapped(text: str, *, indent: str = "  ", bullet: str = "") -> list[str]:
    """A sentence on as many lines as it needs; the lines after the first stand under the text, not the bullet."""
    return textwrap.wrap(
        one_line(text), WIDTH, initial_indent=indent + bullet, subsequent_indent=indent + " " * len(bullet)
    )


def paragraphs(*sections: list[str]) -> list[str]:
    """The sections that hold something, an empty line between."""
    told = [section for section in sections if section]
    return [line for k, section in enumerate(told) for line in (["", *section] if k else section)]


def bullets(sentences: Iterable[str]) -> list[str]:
    """Sentences as a list."""
    return [line for sentence in sentences for line in wrapped(sentence, bullet="- ")]


def table(header: Sequence[str], rows: Iterable[Sequence[str]], *, left: frozenset[str] = frozenset()) -> list[str]:
    """Columns under their names, to the right except those in `left`; two blanks between columns."""
    body = [list(header), *(list(row) for row in rows)]
    widths = [max(len(row[k]) for row in body) for k in range(len(header))]
    lines = []
    for row in body:
        cells = [
            cell.ljust(width) if name in left else cell.rjust(width)
            for name, cell, width in zip(header, row, widths, strict=True)
        ]
        lines.append(("  " + "  ".join(cells)).rstrip())
    return lines


def whole(value: float | None) -> str:
    """A pressure or a rate without decimals; a hyphen where there is none."""
    return "-" if value is None or not math.isfinite(value) else f"{value:.0f}"


def weight(share: float | None) -> str:
    """A weight with two decimals; a hyphen where there is none."""
    return "-" if share is None else f"{share:.2f}"


ESTIMATE_HEADER = ("", "value", "95 % interval", "own SD", "shared SD", "unit")


def estimate_table(estimates: Iterable[tuple[str, Estimate | None]], digits: int = 0) -> list[str]:
    """Systolic, mean, diastolic, pulse rate with their intervals and both parts of the standard deviation.

    digits : decimals of the first value; the others have none
    """
    rows: list[tuple[str, ...]] = []
    for name, estimate in estimates:
        if estimate is None:
            rows.append((name, "-", "", "", "", "not given"))
            continue
        decimals = 0 if rows else digits
        interval = f"{estimate.low:.0f} to {estimate.high:.0f}"
        shared = "not known" if estimate.shared_sd is None else f"{estimate.shared_sd:.1f}"
        parts = (f"{estimate.own_sd:.1f}", shared)
        rows.append((name, f"{estimate.value:.{decimals}f}", interval, *parts, estimate.unit))
    return table(ESTIMATE_HEADER, rows, left=frozenset({"", "unit"}))
