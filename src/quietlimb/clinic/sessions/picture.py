"""The picture at the table as places on paper, from values already computed. A template draws it as SVG.

The specification of `figures.session` is for the record: it takes 0.2 to 0.4 s to build, and here every reading asks
for a new picture. Marks and their meaning are the same: dots in the order taken, area by weight, hollow ones set aside,
the charted pressure as a band, boundaries as hairlines with words at the edge, the guideline average as a tick.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from quietlimb.clinic.charting import Told, places_in_the_series
from quietlimb.clinic.sessions.models import Reading
from quietlimb.engine.values import TWO_SIDED_95
from quietlimb.figures.look import spread_labels
from quietlimb.words.categories import category_name

WIDTH, HEIGHT = 640, 320
LEFT, RIGHT, TOP, BOTTOM = 48, 204, 44, 30
LANE = 32  # right of the band, where the page puts readings that are not known to be saved
LARGEST_RADIUS = 9.0
SMALLEST_SHARE = 0.12  # a reading without weight still has to be seen
LINE = 30.0
STEPS_MMHG = (20, 50, 100)
MOST_TICKS = 8  # on a telephone the labels of more would touch each other


@dataclass(frozen=True, slots=True, kw_only=True)
class Dot:
    """One reading: centre and radius [px], ends of its whisker or None, and the words for who listens to the page."""

    x: float
    y: float
    radius: float
    hollow: bool
    low_y: float | None
    high_y: float | None
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """A height on the pressure axis [px], the words beside it, and where those stand without touching others."""

    y: float
    label_y: float
    words: str

    @property
    def lines(self) -> list[str]:
        """The words one below the other: on a telephone there is no room for two beside each other."""
        return self.words.split()


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """All that the template draws. band is None where nothing is charted or it is kept hidden.

    top, bottom, low_mmhg, high_mmhg, lane_x : where the page itself draws readings that are not known to be saved
    """

    width: int
    height: int
    left: int
    right: int
    bottom: float
    top: float
    low_mmhg: int
    high_mmhg: int
    lane_x: float
    dots: tuple[Dot, ...]
    ticks: tuple[Mark, ...]
    band: tuple[float, float, float] | None
    band_height: float
    band_width: int
    guideline_y: float | None
    boundaries: tuple[float, ...]
    categories: tuple[Mark, ...]
    last_minute: str
    words: str


def picture(readings: Sequence[Reading], answer: Told | None, *, hidden: bool) -> Picture | None:
    """The picture of a series; None where there is nothing to draw.

    readings : of the series in the order taken; those struck through are not drawn
    hidden   : without band, boundaries and guideline average, so that nobody steers towards a line
    """
    rows = [row for row in readings if row.struck_at is None]
    weights, whiskers = _judged(readings, answer)
    points = [(row, value) for row in rows if (value := _systolic(row, readings, answer)) is not None]
    if not points:
        return None
    charted = None if answer is None or hidden else answer.charted.systolic
    categories = () if answer is None or hidden else answer.interpretation.today
    edges = [each.from_mmhg for each in categories if each.from_mmhg]
    shown = [value for _, value in points] + edges + ([charted.low, charted.high] if charted else [])
    step, low, high = _scale(min(shown) - 12, max(shown) + 12)
    first = points[0][0].taken_at
    minutes = [(row.taken_at - first).total_seconds() / 60.0 for row, _ in points]
    last = max(minutes[-1], 1.0)
    average = _guideline_mmhg(answer)
    right, bottom = WIDTH - RIGHT - LANE, float(HEIGHT - BOTTOM)

    def x(minute: float) -> float:
        return round(LEFT + 20 + (right - LEFT - 40) * minute / last, 1)

    def y(mmhg: float) -> float:
        return round(bottom - (bottom - TOP) * (mmhg - low) / (high - low), 1)

    dots = []
    for (row, value), minute in zip(points, minutes, strict=True):
        weight, reach = weights.get(row.pk, 0.0), whiskers.get(row.pk)
        dots.append(
            Dot(
                x=x(minute),
                y=y(value),
                radius=round(LARGEST_RADIUS * math.sqrt(max(SMALLEST_SHARE, 1.0 if hidden else weight)), 1),
                hollow=not row.counts or (weight == 0.0 and not hidden),
                low_y=None if reach is None else y(value - reach),
                high_y=None if reach is None else y(value + reach),
                words=f"{value:.0f} mmHg",
            )
        )
    middles = [y((max(c.from_mmhg or low, low) + min(c.to_mmhg or high, high)) / 2) for c in categories]
    return Picture(
        width=WIDTH,
        height=HEIGHT,
        left=LEFT,
        right=right,
        bottom=bottom,
        top=float(TOP),
        low_mmhg=low,
        high_mmhg=high,
        lane_x=right + LANE / 2,
        dots=tuple(dots),
        ticks=tuple(Mark(y=y(v), label_y=y(v), words=str(v)) for v in range(low, high + 1, step)),
        band=(y(charted.high), y(charted.value), y(charted.low)) if charted else None,
        band_height=round(y(charted.low) - y(charted.high), 1) if charted else 0.0,
        band_width=right - LEFT,
        guideline_y=None if hidden or average is None else y(average),
        boundaries=tuple(y(edge) for edge in edges),
        categories=tuple(
            Mark(y=middle, label_y=round(place, 1), words=category_name(category.name))
            for category, middle, place in zip(categories, middles, spread_labels(middles, LINE), strict=True)
        ),
        last_minute=f"{minutes[-1]:.0f}",
        words=f"{len(points)} readings in the order taken, systolic "
        + ", ".join(f"{value:.0f}" for _, value in points)
        + " mmHg",
    )


def _scale(lowest: float, highest: float) -> tuple[int, int, int]:
    """Step, bottom and top of the axis in mmHg: the finest step with so few labels that none touches another."""
    for step in STEPS_MMHG:
        low, high = step * math.floor(lowest / step), step * math.ceil(highest / step)
        if (high - low) // step < MOST_TICKS:
            break
    return step, low, high


def _guideline_mmhg(answer: Told | None) -> float | None:
    guideline = None if answer is None else answer.charted.guideline
    return None if guideline is None else guideline.systolic


def _judged(readings: Sequence[Reading], answer: Told | None) -> tuple[dict[object, float], dict[object, float]]:
    """Weight and reach of the whisker [mmHg] by row."""
    weights: dict[object, float] = {}
    reaches: dict[object, float] = {}
    if answer is None:
        return weights, reaches
    for k, index in enumerate(places_in_the_series(readings)):
        judged = answer.charted.readings[k]
        row = readings[index]
        weights[row.pk] = 0.0 if judged.verdict == "discard" else judged.systolic_weight or 0.0
        sd = float(answer.charted.series.systolic_sd[k])
        if math.isfinite(sd):
            reaches[row.pk] = TWO_SIDED_95 * sd
    return weights, reaches


def _systolic(row: Reading, readings: Sequence[Reading], answer: Told | None) -> float | None:
    if row.recording_id is None or answer is None:
        return row.systolic
    counted = [readings[index].pk for index in places_in_the_series(readings)]
    if row.pk not in counted:
        return None
    value = float(answer.charted.series.systolic[counted.index(row.pk)])
    return value if math.isfinite(value) else None
