"""The checks of a thing over the years as a picture: each figure with its interval, and the limits that it must keep.

Of static checks also how the error drifts, and when to have it serviced: the moving average as a line, what is usual of
this instrument as a band. Places on paper from values already computed; a template draws them. What failed is a cross,
so that no colour has to tell it.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from quietlimb.clinic.bench.judging import result_of
from quietlimb.clinic.equipment.models import Check, CheckKind
from quietlimb.engine.units import kpa_from_mmhg
from quietlimb.instruments.checks import Figure
from quietlimb.instruments.drift import Drift, DriftPoint, drift, standard_of_readings
from quietlimb.words.checks import drift_sentences, figure_name

WIDTH, HEIGHT = 640, 290
LEFT, RIGHT, TOP, BOTTOM = 56, 140, 52, 36
HALF = 6.0  # of a cross
STEPS = (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0)
MOST_TICKS = 7
CHARTED = (CheckKind.STATIC, CheckKind.DISPLAY, CheckKind.LEAK, CheckKind.EXHAUST, CheckKind.BLEED)


@dataclass(frozen=True, slots=True, kw_only=True)
class Dot:
    """One check: its place, the ends of its whisker, and the words for who listens to the page."""

    x: float
    y: float
    low_y: float | None
    high_y: float | None
    failed: bool
    words: str

    @property
    def left(self) -> float:
        """Of a cross."""
        return self.x - HALF

    @property
    def right(self) -> float:
        """Of a cross."""
        return self.x + HALF

    @property
    def above(self) -> float:
        """Of a cross."""
        return self.y - HALF

    @property
    def below(self) -> float:
        """Of a cross."""
        return self.y + HALF


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """A place on an axis with its words."""

    words: str
    x: float = 0.0
    y: float = 0.0
    anchor: str = "middle"


@dataclass(frozen=True, slots=True, kw_only=True)
class Chart:
    """All that the template draws of one kind of check."""

    kind: str
    title: str
    unit: str
    width: int
    height: int
    left: int
    right: int
    dots: tuple[Dot, ...]
    ticks: tuple[Mark, ...]
    limits: tuple[Mark, ...]
    days: tuple[Mark, ...]
    band: str
    trend: str
    sentences: tuple[str, ...]
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """A check as it is drawn: its day, and figure, interval and limits in the unit of the picture."""

    day: date
    value: float
    low: float
    high: float | None
    least: float | None
    most: float | None
    failed: bool


def charts_of(checks: Sequence[Check], unit: str, today: date) -> list[Chart]:
    """A picture for each kind of check that has figures, of those that count.

    checks : of one thing, in any order
    unit   : in which pressures are shown, mmHg or kPa
    """
    counting = sorted(
        (row for row in checks if row.figure is not None and not hasattr(row, "corrected_by")),
        key=lambda row: (row.done_at, row.entered_at),
    )
    by_kind = {kind: [row for row in counting if row.kind == kind] for kind in CHARTED}
    since = last_service(checks)
    return [_chart(kind, rows, unit, today, since) for kind, rows in by_kind.items() if rows]


def last_service(checks: Sequence[Check]) -> date | None:
    """The day of the last service: of the last good certificate that counts."""
    serviced = [
        timezone.localdate(row.done_at)
        for row in checks
        if row.kind == CheckKind.CERTIFICATE and row.good and not hasattr(row, "corrected_by")
    ]
    return max(serviced, default=None)


def _chart(kind: CheckKind, rows: Sequence[Check], unit: str, today: date, since: date | None) -> Chart:
    in_kpa = unit == "kPa" and rows[-1].unit.startswith("mmHg")
    found = drift_of(rows, since) if kind == CheckKind.STATIC else None
    shown_unit = rows[-1].unit.replace("mmHg", "kPa") if in_kpa else rows[-1].unit

    def shown(value: float) -> float:
        return kpa_from_mmhg(value) if in_kpa else value

    points = [_point(row, shown) for row in rows]
    edges = _edges(points)
    values = [0.0, *edges]
    if found is not None and found.chart is not None:
        centre, half = found.chart.centre_mmhg, found.chart.half_mmhg
        values += [shown(centre - half), shown(centre + half)]
    for point in points:
        values += [point.value, point.low, *([] if point.high is None else [point.high])]
    step, low, high = _scale(min(values), max(values))
    first, last = points[0].day.toordinal(), max(points[-1].day, today).toordinal()
    right, bottom = WIDTH - RIGHT, HEIGHT - BOTTOM

    def x(day: date) -> float:
        return round(LEFT + 14 + (right - LEFT - 28) * (day.toordinal() - first) / max(last - first, 1), 1)

    def y(value: float) -> float:
        return round(bottom - (bottom - TOP) * (value - low) / (high - low), 1)

    name = figure_name(next(iter(result_of(rows[-1]).figures)))
    return Chart(
        kind=kind.value,
        title=str(kind.label).capitalize() if name == kind.value else f"{str(kind.label).capitalize()}: {name}",
        unit=shown_unit,
        width=WIDTH,
        height=HEIGHT,
        left=LEFT,
        right=right,
        dots=tuple(
            Dot(
                x=x(point.day),
                y=y(point.value),
                low_y=y(point.low),
                high_y=y(high if point.high is None else point.high),
                failed=point.failed,
                words=_words(point, shown_unit),
            )
            for point in points
        ),
        ticks=tuple(
            Mark(words=f"{round(k * step, 6):g}", y=y(k * step))
            for k in range(round(low / step), round(high / step) + 1)
        ),
        limits=tuple(Mark(words=_("limit {value}").format(value=f"{round(edge, 2):g}"), y=y(edge)) for edge in edges),
        days=_days(points, today, x),
        band=_band(found, x, y, shown),
        trend=_trend(found, x, y, shown),
        sentences=() if found is None else tuple(_sentences(found, today)),
        words="; ".join(_words(point, shown_unit) for point in points),
    )


def _days(points: Sequence[Point], today: date, x: Any) -> tuple[Mark, ...]:
    first, last = points[0].day, max(points[-1].day, today)
    begin = Mark(words=date_format(first, "M Y"), x=x(first), anchor="start")
    if (last - first).days < 60:
        return (begin,)
    return begin, Mark(words=date_format(last, "M Y"), x=x(last), anchor="end")


def first_figure(row: Check) -> Figure:
    """The figure that a check's verdict rests on first of all."""
    return next(iter(result_of(row).figures.values()))


def _point(row: Check, shown: Callable[[float], float]) -> Point:
    figure = first_figure(row)
    return Point(
        day=timezone.localdate(row.done_at),
        value=shown(figure.value),
        low=shown(figure.low),
        high=shown(figure.high) if math.isfinite(figure.high) else None,
        least=None if figure.least is None else shown(figure.least.value),
        most=None if figure.most is None else shown(figure.most.value),
        failed=not row.good,
    )


def drift_of(rows: Sequence[Check], since: date | None) -> Drift | None:
    """How the error went, by the last static check of each day; None where there is none since the last service.

    rows  : static checks that count, in the order made
    since : the day of the last service
    """
    by_day = {timezone.localdate(row.done_at): row for row in rows}
    kept = {day: row for day, row in by_day.items() if since is None or day >= since}
    if not kept:
        return None
    points = [
        DriftPoint(on=day, error_mmhg=first_figure(row).value, standard_mmhg=standard_of_readings(*_steps(row)))
        for day, row in kept.items()
    ]
    most = first_figure(list(kept.values())[-1]).most
    return None if most is None else drift(points, most)


def _steps(row: Check) -> tuple[float, float]:
    """To which the instrument and the reference were read. [mmHg]"""
    typed = json.loads(row.typed)
    return typed["resolution_mmhg"], typed["reference"]["resolution_mmhg"]


def _sentences(found: Drift, today: date) -> list[str]:
    told = drift_sentences(found)
    if found.forecast.service_by is not None and found.forecast.service_by <= today:
        told.append(_("That day has come: check it again, or have it serviced."))
    return told


def _band(found: Drift | None, x: Any, y: Any, shown: Callable[[float], float]) -> str:
    """What is usual of this instrument, as corners."""
    if found is None or found.chart is None:
        return ""
    first, last = x(found.points[0].on), x(found.points[-1].on)
    centre, half = found.chart.centre_mmhg, found.chart.half_mmhg
    top, bottom = y(shown(centre + half)), y(shown(centre - half))
    return f"{first},{top} {last},{top} {last},{bottom} {first},{bottom}"


def _trend(found: Drift | None, x: Any, y: Any, shown: Callable[[float], float]) -> str:
    """The moving average, as corners."""
    if found is None or found.chart is None:
        return ""
    places = zip(found.points, found.chart.ewma_mmhg, strict=True)
    return " ".join(f"{x(point.on)},{y(shown(float(value)))}" for point, value in places)


def _edges(points: Sequence[Point]) -> list[float]:
    """The limits of the latest check."""
    return [edge for edge in (points[-1].least, points[-1].most) if edge is not None]


def _words(point: Point, unit: str) -> str:
    told = f"{date_format(point.day, 'j F Y')}: {point.value:.1f} {unit}"
    return _("{told}, failed").format(told=told) if point.failed else told


def _scale(lowest: float, highest: float) -> tuple[float, float, float]:
    """Step, bottom and top of the axis: the finest step with so few labels that none touches another."""
    span = max(highest - lowest, 0.1)
    low, high = lowest - 0.1 * span, highest + 0.1 * span
    for step in STEPS:
        bottom, top = step * math.floor(low / step), step * math.ceil(high / step)
        if (top - bottom) / step <= MOST_TICKS:
            break
    return step, bottom, top
