"""A class over time: error, discards, minutes; by month, by case, and by person where persons wished it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from math import floor
from statistics import median

from django.utils import timezone

from quietlimb.clinic.teaching.models import TrainingResult

CLOSE_MMHG = 10.0  # as a class the share within this of the truth is told [invented]


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """Figures of some runs.

    charted    : in how many something was charted; the errors are of these
    error_mmhg : charted minus truth, the median: too high and too low cancel each other [mmHg]
    off_mmhg   : the same without sign, the median of distances [mmHg]
    within     : of these within 10 mmHg of the truth
    wasted     : inflations without use, of all inflations
    told       : in how many it was asked what the owner is told; the next three are of these
    told_holds : it followed from what was charted, and held for the truth
    told_astray: it did not follow from what was charted
    told_misled: it followed, and the truth was another
    minutes    : from the animal's coming in to the end of the last inflation, waiting included; the median
    """

    name: str
    runs: int
    charted: int
    error_mmhg: float | None
    off_mmhg: float | None
    within: int
    wasted: int
    inflations: int
    minutes: float
    told: int = 0
    told_holds: int = 0
    told_astray: int = 0
    told_misled: int = 0

    @property
    def error_told(self) -> str:
        """The error with its sign, which tells it from a distance."""
        if self.error_mmhg is None:
            return ""
        whole = floor(abs(self.error_mmhg) + 0.5)  # halves go up, as with the distance beside it
        sign = "+" if self.error_mmhg > 0.0 else "-"
        return f"{sign}{whole}" if whole else "0"


@dataclass(frozen=True, slots=True, kw_only=True)
class Figures:
    """All of a practice."""

    months: tuple[Line, ...]
    cases: tuple[Line, ...]
    people: tuple[Line, ...]


def figures_of(results: Iterable[TrainingResult]) -> Figures:
    """The figures, the latest month first."""
    rows = list(results)
    by_month = _lines(rows, lambda row: timezone.localtime(row.finished_at).strftime("%Y-%m"))
    return Figures(
        months=tuple(sorted(by_month, key=lambda line: line.name, reverse=True)),
        cases=tuple(sorted(_lines(rows, lambda row: row.title), key=lambda line: line.name)),
        people=tuple(
            sorted(_lines([row for row in rows if row.person], lambda row: str(row.person)), key=lambda line: line.name)
        ),
    )


def _lines(rows: list[TrainingResult], name_of: Callable[[TrainingResult], str]) -> list[Line]:
    groups: dict[str, list[TrainingResult]] = defaultdict(list)
    for row in rows:
        groups[name_of(row)].append(row)
    return [_line(name, group) for name, group in groups.items()]


def _line(name: str, rows: list[TrainingResult]) -> Line:
    errors = [row.error_mmhg for row in rows if row.error_mmhg is not None]
    return Line(
        name=name,
        runs=len(rows),
        charted=len(errors),
        error_mmhg=median(errors) if errors else None,
        off_mmhg=median(map(abs, errors)) if errors else None,
        within=sum(abs(error) <= CLOSE_MMHG for error in errors),
        wasted=sum(row.wasted for row in rows),
        inflations=sum(row.inflations for row in rows),
        minutes=median(row.minutes for row in rows),
        told=sum(bool(row.owner_told) for row in rows),
        told_holds=sum(row.owner_told == "holds" for row in rows),
        told_astray=sum(row.owner_told == "does not follow" for row in rows),
        told_misled=sum(row.owner_told == "truth is another" for row in rows),
    )
