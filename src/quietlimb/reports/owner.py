"""The owner's page: one animal in large type, as an accessible PDF (PDF/UA-1). Finished sentences are arranged."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import Any, get_args

from quietlimb.engine.errors import ParameterError
from quietlimb.reports.typesetting import Paper, cleaned, typeset
from quietlimb.words.dates import date_and_time

TEMPLATE = Path(__file__).parent / "owner.typ"
BOXES = 28  # days in the tick-list
LONGEST_NAME = 80
LONGEST_LINE = 300
MOST_LINES = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnerPage:
    """What stands on it.

    day              : when it was measured, as text
    sentence         : how high the pressure was
    not_looked_at    : a sentence; empty where everything was
    next             : when to come again
    preparing        : a line each
    by_day, by_night : telephone numbers; empty leaves room to write them in
    tablets          : a sentence; empty where the animal has no treatment
    ticked_from      : the first day of the tick-list; None without treatment
    signed           : by whom and when
    invented         : the words that a page of demo data must carry; None for a patient
    """

    practice: str
    animal: str
    day: str
    sentence: str
    not_looked_at: str
    next: str
    preparing: tuple[str, ...]
    danger: str
    by_day: str
    by_night: str
    tablets: str
    ticked_from: date | None
    signed: str
    invented: str | None

    @property
    def boxes(self) -> list[str]:
        """The days of the tick-list: `4 Jan`."""
        if self.ticked_from is None:
            return []
        days = [self.ticked_from + timedelta(days=k) for k in range(BOXES)]
        return [" ".join(word[:3] for word in date_and_time(day.isoformat()).split()[:2]) for day in days]


def owner_pdf(
    page: OwnerPage, *, paper: Paper = "a4", created: str | None = None, substitute: str | None = None
) -> bytes:
    """The page as PDF. The same input gives the same bytes.

    created    : ISO 8601 date or date and time, kept in the file
    substitute : stands for each letter that no font here has; None refuses such a page

    Raises
    ------
    ParameterError : another paper or date (`unknown-paper`, `not-a-date`).
    ReportError    : as `reports.page.report_pdf`.
    """
    return typeset(TEMPLATE, _content(page, paper, created), created, "pdf", substitute=substitute)[0]


def owner_png(page: OwnerPage, *, paper: Paper = "a4", created: str | None = None) -> list[bytes]:
    """The same as pictures at 144 dots an inch, one for each sheet."""
    return typeset(TEMPLATE, _content(page, paper, created), created, "png")


def _content(page: OwnerPage, paper: Paper, created: str | None) -> dict[str, Any]:
    if paper not in get_args(Paper):
        raise ParameterError("unknown-paper", f"paper is {paper!r}", f"use one of: {', '.join(get_args(Paper))}")
    names = ("practice", "animal", "day", "by_day", "by_night")
    lines = ("sentence", "not_looked_at", "next", "danger", "tablets", "signed")
    return {
        "paper": paper,
        "created": created,
        "invented": page.invented,
        **{name: cleaned(getattr(page, name), LONGEST_NAME) for name in names},
        **{name: cleaned(getattr(page, name), LONGEST_LINE) for name in lines},
        "preparing": [cleaned(line, LONGEST_LINE) for line in page.preparing[:MOST_LINES]],
        "boxes": page.boxes,
    }
