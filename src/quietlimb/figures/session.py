"""The picture of one session: its readings in the order taken and the pressure charted from them."""

from __future__ import annotations

import math
from typing import Any, Literal

import numpy as np

from quietlimb.engine.errors import ParameterError
from quietlimb.engine.interpretation.interpretation import CategoryProbability, Interpretation
from quietlimb.engine.session.charted import ChartedPressure
from quietlimb.engine.standards.acvim_2018 import BOUNDARIES, CATEGORY_NAMES
from quietlimb.engine.values import TWO_SIDED_95, Estimate
from quietlimb.figures.inline import inline
from quietlimb.figures.invented import invented_words
from quietlimb.figures.look import (
    LINE_HEIGHT,
    LOOKS,
    SMALL_SIZE,
    Look,
    Spec,
    Theme,
    config,
    pressure_axis,
    spread_labels,
    title,
)
from quietlimb.words.categories import decimals

TALLEST = 280  # px; a narrow picture is half as high as it is wide, so that it stays a lying one
LEFT, RIGHT, BOTTOM = 36, 98, 36  # px around the plot; below it without the lines of the caption
TOP = 32  # px above it, without the lines of the title
LANE = 92  # px at the right of the plot, for the labels of the charted pressures
INSET = 14  # px between the edges of the plot and the outermost dots
BEFORE_LANE = 28  # px between the last dot and the labels, for the tick of the guideline average
LARGEST_DOT = 150.0  # area [px^2] of a reading that fits perfectly
SMALLEST_SHARE = 0.12  # a reading without weight still has to be seen
CAPTION_LINE = 14  # px
CROSS = "M-1,-1L1,1M-1,1L1,-1"  # an open mark: a dot on the time axis would be read as a pressure
CROSS_AREA = 30.0  # px^2
ABOVE_AXIS = 7  # px
ABOVE_STRIPE = -8  # px: where it says of which pressure the categories are
ROUND_MINUTES = (1, 2, 5, 10, 20, 30, 60, 120, 240, 480, 1440)

Value = Literal["systolic", "mean", "diastolic"]
VALUES: tuple[Value, ...] = ("systolic", "mean", "diastolic")
Row = dict[str, Any]


def session_figure(
    charted: ChartedPressure,
    interpretation: Interpretation | None,
    *,
    title: str | None = None,
    theme: Theme = "light",
    width: int = 560,
) -> Spec:
    """The Vega-Lite specification of a session.

    Dots are readings, their area the weight (never below 12 % of the largest, so that all are seen), whiskers the 95 %
    interval of a reading's own part where it is known, hollow dots what was set aside. A reading that gave no pressure
    at all is a cross on the time axis. The band is the 95 % interval of the charted systolic pressure. Boundaries are
    those of the interpretation's categories, of the systolic pressure; without an interpretation there are none.

    width : of the whole picture [px], 340 or more; at 390 it fits a phone

    Raises
    ------
    ParameterError : the width is below 340 (`too-narrow`).
    """
    if width < 340:
        raise ParameterError("too-narrow", f"width is {width} px", "give 340 or more")
    return _Drawing(charted, interpretation, LOOKS[theme], width).spec(title, theme)


def _categories(charted: ChartedPressure, interpretation: Interpretation | None) -> tuple[CategoryProbability, ...]:
    """The categories to draw; their limits stand even where there is no pressure to be sorted by them."""
    if interpretation is None or interpretation.today or charted.systolic is not None:
        return () if interpretation is None else interpretation.today
    edges = [None, *(boundary.value for boundary in BOUNDARIES), None]
    return tuple(
        CategoryProbability(name=name, from_mmhg=edges[k], to_mmhg=edges[k + 1], probability=0.0)
        for k, name in enumerate(CATEGORY_NAMES)
    )


def _estimate(charted: ChartedPressure, name: Value) -> Estimate | None:
    estimate: Estimate | None = getattr(charted, name)
    return estimate


class _Drawing:
    """The layers of one picture; every number drawn is in the charted pressure or the interpretation already."""

    def __init__(self, charted: ChartedPressure, interpretation: Interpretation | None, look: Look, width: int) -> None:
        self.charted, self.look = charted, look
        self.categories = _categories(charted, interpretation)
        self.category = None if interpretation is None else interpretation.category
        self.digits = decimals(interpretation, None if charted.systolic is None else charted.systolic.value)
        self.right = RIGHT if self.categories else INSET
        self.width = width - LEFT - self.right
        self.height = min(TALLEST, width // 2)
        self.lane_x = self.width - LANE
        self.rows = [row for name in VALUES for row in self._reading_rows(name)]
        self.crosses = self._cross_rows()
        minutes = charted.series.minute
        first, last = (float(minutes[0]), float(minutes[-1])) if minutes.size else (0.0, 1.0)
        self.first, self.last = first, last
        per_px = max(last - first, 1.0) / (self.lane_x - INSET - BEFORE_LANE)
        self.minutes = (first - INSET * per_px, first + (self.width - INSET) * per_px)
        self.mmhg = self._pressure_domain()
        self.mmhg_per_px = (self.mmhg[1] - self.mmhg[0]) / self.height

    def _pressure_domain(self) -> tuple[float, float]:
        seen = [row[key] for row in self.rows for key in ("low", "high", "mmhg")]
        for name in VALUES:
            estimate = _estimate(self.charted, name)
            seen += [] if estimate is None else [estimate.low, estimate.high]
        guideline = self.charted.guideline
        seen += [guideline.systolic] if guideline is not None and guideline.systolic is not None else []
        # All boundaries are always in view, with room for the words beyond the outer ones.
        boundaries = [c.from_mmhg for c in self.categories if c.from_mmhg]  # neither None nor 0
        seen += [min(boundaries) - 18.0, max(boundaries) + 22.0] if boundaries else []
        if not seen:
            return (80.0, 200.0)
        return (10.0 * math.floor((min(seen) - 2.0) / 10.0), 10.0 * math.ceil((max(seen) + 2.0) / 10.0))

    def spec(self, heading: str | None, theme: Theme) -> Spec:
        import altair as alt

        words = invented_words(self.charted.series.circumstances)
        under = (self._headline(),) if heading else ()
        block = title(self.look, invented=words, heading=heading or self._headline(), lines=under)
        lines = 1 + len(under) + (words is not None)
        layers = [
            self._floor_layer(),
            *self._category_layers(),
            *self._charted_layers(),
            *self._reading_layers(),
            *self._cross_layers(),
            *self._guideline_layers(),
            *self._label_layers(),
        ]
        picture = alt.layer(*layers).properties(
            width=self.width,
            height=self.height,
            title=alt.TitleParams(**block) if block else alt.Undefined,
            description=self._description(words),
        )
        spec: Spec = picture.to_dict()
        spec["config"] = config(self.look)
        # No automatic size: the words at the edge are outside the plot, and the whole must be as wide as was asked.
        spec["autosize"] = "none"
        bottom = BOTTOM + CAPTION_LINE * (len(self._caption()) - 1)
        spec["padding"] = {"left": LEFT, "right": self.right, "top": TOP + 17 * lines, "bottom": bottom}
        spec["usermeta"] = {"theme": theme}
        return spec

    def _headline(self) -> str:
        estimate = self.charted.systolic
        if estimate is None:
            return "no pressure could be charted" if self.rows else "no pressure obtained"
        value, low, high = (f"{v:.{self.digits}f}" for v in (estimate.value, estimate.low, estimate.high))
        return f"systolic {value} ({low} to {high}) mmHg"

    def _description(self, words: str | None) -> str:
        n = len(self.charted.series)
        category = f", {self.category}" if self.category else ""
        lead = f"{words}. " if words else ""
        without = f", {len(self.crosses)} without a value" if self.crosses else ""
        return f"{lead}{n} reading{'' if n == 1 else 's'} in the order taken{without}: {self._headline()}{category}."

    def _caption(self) -> list[str]:
        """What stands below the time axis, line by line: only of marks that are there."""
        dots = ["larger dots weigh more, hollow ones were set aside"] if self.rows else []
        return ["minutes", *dots, *(["× no value"] if self.crosses else [])]

    # -- scales -------------------------------------------------------------------------------------------------

    def _x(self, field: str) -> Any:
        import altair as alt

        step = next((s for s in ROUND_MINUTES if (self.last - self.first) / s <= 6), 2880)
        ticks = np.arange(math.ceil(self.first / step) * step, self.last + 1e-9, step)
        axis = alt.Axis(
            title=self._caption(),
            values=[float(t) for t in ticks],
            titleAnchor="start",
            titleAlign="left",
            titleX=0,
            grid=False,
            domain=False,
            format=".2~f",
        )
        return alt.X(f"{field}:Q", axis=axis, scale=alt.Scale(domain=list(self.minutes), nice=False, zero=False))

    def _y(self, field: str) -> Any:
        return pressure_axis(field, self.mmhg)

    def _floor_layer(self) -> Any:
        """The time axis as a hairline. It is in every picture, so that one without any reading still has its scales."""
        import altair as alt

        start, end = self.minutes
        end = start + (end - start) * self.lane_x / self.width
        floor = alt.Chart(inline([{"axis_from": start, "axis_to": end, "floor": self.mmhg[0]}]))
        line = floor.mark_rule(color=self.look.hairline, strokeWidth=1)
        return line.encode(x=self._x("axis_from"), x2="axis_to:Q", y=self._y("floor"))

    # -- readings -----------------------------------------------------------------------------------------------

    def _reading_rows(self, name: Value) -> list[Row]:
        series = self.charted.series
        values, sds = getattr(series, name), getattr(series, f"{name}_sd")
        rows: list[Row] = []
        for k, judged in enumerate(self.charted.readings):
            mmhg = float(values[k])
            if not math.isfinite(mmhg):
                continue
            weight: float | None = getattr(judged, f"{name}_weight")
            reach = TWO_SIDED_95 * float(sds[k]) if math.isfinite(sds[k]) else 0.0
            rows.append(
                {
                    "reading": k + 1,
                    "minute": float(series.minute[k]),
                    "value": name,
                    "mmhg": mmhg,
                    "low": mmhg - reach,
                    "high": mmhg + reach,
                    "weight": weight,
                    "area": LARGEST_DOT * max(SMALLEST_SHARE, weight or 0.0),
                    "verdict": judged.verdict,
                }
            )
        return rows

    def _cross_rows(self) -> list[Row]:
        valued = {row["reading"] for row in self.rows}
        return [
            {"without_value": k + 1, "minute": float(judged.minute), "verdict": judged.verdict}
            for k, judged in enumerate(self.charted.readings)
            if k + 1 not in valued
        ]

    def _cross_layers(self) -> list[Any]:
        import altair as alt

        if not self.crosses:
            return []
        cross = alt.Chart(inline(self.crosses)).mark_point(
            shape=CROSS, size=CROSS_AREA, filled=False, stroke=self.look.quiet, strokeWidth=1.5, opacity=1
        )
        layers = [
            cross.encode(
                x=self._x("minute"),
                y=alt.value(self.height - ABOVE_AXIS),
                tooltip=["without_value:O", "minute:Q", "verdict:N"],
            )
        ]
        if not self.rows:
            n = len(self.crosses)
            words = "the reading gave no value" if n == 1 else f"none of the {n} readings gave a value"
            # From the left, so that in a narrow picture they run on into the empty lane; a little above the middle,
            # where no boundary passes.
            note = alt.Chart(inline([{"words": words}])).mark_text(
                align="left", baseline="middle", color=self.look.quiet
            )
            layers.append(note.encode(x=alt.value(INSET), y=alt.value(0.44 * self.height), text="words:N"))
        return layers

    def _reading_layers(self) -> list[Any]:
        import altair as alt

        tips = ["reading:O", "minute:Q", "value:N", "mmhg:Q", "weight:Q", "verdict:N"]
        layers = []
        for name in reversed(VALUES):
            main = name == "systolic"
            colour = self.look.accent if main else self.look.depths[2]
            for hollow in (True, False):
                rows = [r for r in self.rows if r["value"] == name and (r["verdict"] == "discard") is hollow]
                if not rows:
                    continue
                if not main:
                    rows = [row | {"area": row["area"] * 0.45} for row in rows]
                stroke = self.look.quiet if hollow else colour
                data = inline(rows)
                whisker = alt.Chart(data).mark_rule(color=stroke, strokeWidth=1.4 if main else 0.8)
                dot = alt.Chart(data).mark_point(
                    shape="circle",
                    fill=self.look.ground if hollow else colour,
                    stroke=stroke,
                    strokeWidth=1.3,
                    opacity=1,
                )
                layers += [
                    whisker.encode(x=self._x("minute"), y=self._y("low"), y2="high:Q"),
                    dot.encode(
                        x=self._x("minute"), y=self._y("mmhg"), size=alt.Size("area:Q", scale=None), tooltip=tips
                    ),
                ]
        return layers

    # -- the charted pressure -----------------------------------------------------------------------------------

    def _charted_rows(self) -> list[Row]:
        rows = []
        for name in VALUES:
            e = _estimate(self.charted, name)
            if e is not None:
                rows.append({"value": name, "mmhg": e.value, "low": e.low, "high": e.high})
        return rows

    def _charted_layers(self) -> list[Any]:
        import altair as alt

        layers = []
        for row in self._charted_rows():
            main = row["value"] == "systolic"
            data = inline([row])
            colour = self.look.accent if main else self.look.depths[2]
            if main:
                band = alt.Chart(data).mark_rect(color=colour, opacity=0.16)
                layers.append(band.encode(x=alt.value(0), x2=alt.value(self.lane_x), y=self._y("low"), y2="high:Q"))
            line = alt.Chart(data).mark_rule(color=colour, strokeWidth=1.6 if main else 0.8)
            layers.append(line.encode(x=alt.value(0), x2=alt.value(self.lane_x), y=self._y("mmhg")))
        return layers

    def _guideline_layers(self) -> list[Any]:
        import altair as alt

        guideline = self.charted.guideline
        if guideline is None or guideline.systolic is None:
            return []
        data = inline([{"mmhg": guideline.systolic, "rule": guideline.rule}])
        tick = alt.Chart(data).mark_rule(color=self.look.ink, strokeWidth=2.5)
        return [
            tick.encode(
                x=alt.value(self.lane_x - 12),
                x2=alt.value(self.lane_x),
                y=self._y("mmhg"),
                tooltip=["rule:N", "mmhg:Q"],
            )
        ]

    def _label_layers(self) -> list[Any]:
        import altair as alt

        rows = [
            {
                "words": f"charted {row['mmhg']:.{self.digits}f}"
                if row["value"] == "systolic"
                else f"{row['value']} {row['mmhg']:.0f}",
                "mmhg": row["mmhg"],
                "main": row["value"] == "systolic",
            }
            for row in self._charted_rows()
        ]
        guideline = self.charted.guideline
        if guideline is not None and guideline.systolic is not None:
            words = f"guideline {guideline.systolic:.{self.digits}f}"
            rows.append({"words": words, "mmhg": guideline.systolic, "main": False})
        if not rows:
            return []
        places = spread_labels([row["mmhg"] for row in rows], LINE_HEIGHT * self.mmhg_per_px)
        rows = [row | {"label_mmhg": place} for row, place in zip(rows, places, strict=True)]
        leader = alt.Chart(inline(rows)).mark_rule(color=self.look.quiet, strokeWidth=0.8)
        layers = [
            leader.encode(x=alt.value(self.lane_x), x2=alt.value(self.lane_x + 8), y=self._y("mmhg"), y2="label_mmhg:Q")
        ]
        for main in (True, False):
            some = [row for row in rows if row["main"] is main]
            if some:
                text = alt.Chart(inline(some)).mark_text(
                    align="left",
                    baseline="middle",
                    fontWeight="bold" if main else "normal",
                    color=self.look.accent if main else self.look.ink,
                )
                layers.append(text.encode(x=alt.value(self.lane_x + 11), y=self._y("label_mmhg"), text="words:N"))
        return layers

    # -- categories ---------------------------------------------------------------------------------------------

    def _category_layers(self) -> list[Any]:
        import altair as alt

        if not self.categories:
            return []
        low, high = self.mmhg
        rows = [self._category_row(k, category) for k, category in enumerate(self.categories)]
        boundaries = [{"boundary": r["from"]} for r in rows if low < r["from"] < high]
        hairline = alt.Chart(inline(boundaries)).mark_rule(color=self.look.hairline, strokeWidth=1)
        layers = [hairline.encode(x=alt.value(0), x2=alt.value(self.lane_x), y=self._y("boundary"))]
        heading = alt.Chart(inline([{"of": "systolic"}])).mark_text(
            align="left", baseline="middle", fontSize=SMALL_SIZE, color=self.look.quiet
        )
        layers.append(heading.encode(x=alt.value(self.width), y=alt.value(ABOVE_STRIPE), text="of:N"))
        for row in rows:
            here = row["name"] == self.category
            data = inline([row])
            strip = alt.Chart(data).mark_rect(color=row["depth"])
            words = alt.Chart(data).mark_text(
                align="left",
                baseline="middle",
                fontSize=SMALL_SIZE,
                fontWeight="bold" if here else "normal",
                color=self.look.ink if here else self.look.quiet,
                lineBreak="\n",
                lineHeight=12,
            )
            layers += [
                strip.encode(x=alt.value(self.width), x2=alt.value(self.width + 5), y=self._y("from"), y2="to:Q"),
                words.encode(x=alt.value(self.width + 10), y=self._y("middle"), text="words:N"),
            ]
        return layers

    def _category_row(self, ordinal: int, category: CategoryProbability) -> Row:
        low, high = self.mmhg
        start = low if category.from_mmhg is None else max(low, category.from_mmhg)
        end = high if category.to_mmhg is None else min(high, category.to_mmhg)
        return {
            "name": category.name,
            "words": category.name.replace(" ", "\n") if len(category.name) > 16 else category.name,
            "from": start,
            "to": end,
            "middle": (start + end) / 2,
            "depth": self.look.depth(ordinal, len(self.categories)),
        }
