"""What is known of the catheters' lines of a comparison: how far each figure ranged, what is wrong, and how often."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from quietlimb.agreement.arterial_line import ArterialLine
from quietlimb.agreement.pair_rows import PairRows

Span = tuple[float, float]
_ORDER = ("zero", "level", "flush")


@dataclass(frozen=True, slots=True, kw_only=True)
class LineFigures:
    """Least and greatest of each figure of `ArterialLine` over some determinations; None where none tells it.

    offset_mmhg : of those that tell zero or level
    """

    zero_mmhg: Span | None
    below_heart_cm: Span | None
    offset_mmhg: Span | None
    natural_hz: Span | None
    damping: Span | None
    systolic_error_mmhg: Span | None


@dataclass(frozen=True, slots=True, kw_only=True)
class LineFault:
    """Something that is wrong with a line, or was not looked at.

    code           : of `ArterialLine.faults`
    determinations : in which it is so
    figures        : of these
    """

    code: str
    determinations: int
    figures: LineFigures


@dataclass(frozen=True, slots=True, kw_only=True)
class LineSummary:
    """The lines of a comparison.

    rows           : determinations in all
    determinations : of them, those that tell anything of a line
    adequate       : of these, those with no fault
    faults         : in the order zero, level, flush; empty where nothing is wrong
    """

    rows: int
    determinations: int
    adequate: int
    figures: LineFigures
    faults: tuple[LineFault, ...]


def summarise_lines(rows: PairRows) -> LineSummary | None:
    """Of all determinations that tell anything of a line; None where none does."""
    lines = [row.line for row in rows.rows if row.line is not None]
    if not lines:
        return None
    codes = sorted({code for line in lines for code in line.faults}, key=lambda code: (_place(code), code))
    with_fault = {code: [line for line in lines if code in line.faults] for code in codes}
    return LineSummary(
        rows=len(rows.rows),
        determinations=len(lines),
        adequate=sum(not line.faults for line in lines),
        figures=_figures(lines),
        faults=tuple(
            LineFault(code=code, determinations=len(some), figures=_figures(some)) for code, some in with_fault.items()
        ),
    )


def _place(code: str) -> int:
    return _ORDER.index(code.partition("-")[0])


def _figures(lines: Sequence[ArterialLine]) -> LineFigures:
    responses = [line.response for line in lines if line.response is not None]
    told = [line for line in lines if not (line.zero_mmhg is None and line.below_heart_cm is None)]
    return LineFigures(
        zero_mmhg=_span(line.zero_mmhg for line in lines),
        below_heart_cm=_span(line.below_heart_cm for line in lines),
        offset_mmhg=_span(line.offset_mmhg for line in told),
        natural_hz=_span(each.natural_hz for each in responses),
        damping=_span(each.damping for each in responses),
        systolic_error_mmhg=_span(line.systolic_error_mmhg for line in lines),
    )


def _span(values: Iterable[float | None]) -> Span | None:
    told = [value for value in values if value is not None]
    return (min(told), max(told)) if told else None
