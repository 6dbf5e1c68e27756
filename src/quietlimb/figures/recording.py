"""The picture of one recording: why the reading says what it says.

One upright pressure axis is shared. On the left the cuff pressure falls with time; on the right the pulse heights grow
sideways from the same axis, with the fitted envelope. Systolic, mean and diastolic run as whiskers across both.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from quietlimb.engine.errors import ParameterError
from quietlimb.engine.findings import Finding
from quietlimb.engine.reading import Evidence, Reading
from quietlimb.engine.values import TWO_SIDED_95, Estimate
from quietlimb.figures.inline import inline
from quietlimb.figures.invented import invented_words
from quietlimb.figures.look import LINE_HEIGHT, LOOKS, SMALL_SIZE, Look, Spec, Theme, config, spread_labels, title
from quietlimb.figures.trace import thin_trace

MOST_TRACE_POINTS = 1500
HEIGHT = 320
LABEL_WIDTH = 160
AXIS_WIDTH = 46
# Wide enough for the longest digits of Noto Sans at SMALL_SIZE; only used to keep marks of findings apart.
CHARACTER_WIDTH = 5.6
# A set-aside pulse higher than this many times the highest kept one is drawn at the edge: it must not squash the rest.
HIGHEST_DRAWN = 1.3
WHISKER_LANE, WHISKER_CAP = 10, 3  # px: from whisker to whisker, and half a whisker's end

Row = dict[str, Any]


def recording_figure(reading: Reading, *, title: str | None = None, theme: Theme = "light", width: int = 720) -> Spec:
    """The Vega-Lite specification of a reading's evidence.

    title : a heading; the words for invented data are added by themselves and cannot be left out
    width : nominal width of the whole picture [px], 480 or more

    Raises
    ------
    ParameterError : the reading did not come from a recording (`no-evidence`), or the width is below 480
                     (`too-narrow`).
    """
    if reading.evidence is None:
        raise ParameterError(
            "no-evidence", "this reading did not come from a recording", "draw the series instead of the reading"
        )
    if width < 480:
        raise ParameterError("too-narrow", f"width is {width} px", "give 480 or more")
    return _Drawing(reading, reading.evidence, LOOKS[theme], width).spec(title, theme)


def _number(value: float) -> str:
    return f"{value:.0f}"


def estimate_label(name: str, estimate: Estimate) -> str:
    """A pressure in words: `systolic 143 (137 to 149)`."""
    return f"{name} {_number(estimate.value)} ({_number(estimate.low)} to {_number(estimate.high)})"


def _plain(code: str) -> str:
    return code.replace("-", " ")


class _Drawing:
    """The layers of one picture; every number drawn is in the reading already."""

    def __init__(self, reading: Reading, evidence: Evidence, look: Look, width: int) -> None:
        self.reading, self.evidence, self.look = reading, evidence, look
        inner = width - LABEL_WIDTH - AXIS_WIDTH
        self.left_width, self.right_width = round(inner * 0.64), round(inner * 0.36)
        recording = evidence.recording
        self.time, self.pressure = recording.time_s, recording.cuff_pressure_mmhg
        self.marks = self._finding_marks()
        rows = 1 + max((mark["row"] for mark in self.marks), default=-1)
        lowest, highest = float(self.pressure.min()), float(self.pressure.max())
        values = [e for e in (reading.systolic, reading.mean, reading.diastolic) if e is not None]
        lowest = min([lowest, *(e.low for e in values)])
        highest = max([highest, *(e.high for e in values)])
        low = 10.0 * math.floor(lowest / 10.0)
        room = rows * LINE_HEIGHT
        high = low + (highest + 3.0 - low) * HEIGHT / (HEIGHT - room)
        self.domain = (low, high)
        self.mmhg_per_px = (high - low) / HEIGHT
        for mark in self.marks:
            mark["label_mmhg"] = high - (mark["row"] + 0.5) * LINE_HEIGHT * self.mmhg_per_px

    def spec(self, heading: str | None, theme: Theme) -> Spec:
        import altair as alt

        words = invented_words(self.evidence.recording.circumstances)
        block = title(self.look, invented=words, heading=heading, lines=(self._verdict_line(),))
        whole = alt.hconcat(
            self._time_panel(), self._height_panel(), self._label_panel(), spacing=0, bounds="flush"
        ).resolve_scale(y="shared")
        spec: Spec = whole.properties(
            title=alt.TitleParams(**block) if block else alt.Undefined, description=self._description(words)
        ).to_dict()
        spec["config"] = config(self.look)
        spec["padding"] = {"left": 6, "right": 6, "top": 8, "bottom": 6}
        spec["usermeta"] = {"theme": theme}
        return spec

    def _verdict_line(self) -> str:
        doubts = sorted({_plain(f.code) for f in self.reading.findings if f.severity != "note"})
        why = f": {', '.join(doubts)}" if doubts else ""
        return f"{self.reading.verdict}{why} · by {self.reading.method}"

    def _description(self, words: str | None) -> str:
        parts = [estimate_label(name, e) for name, e in self._named() if e is not None]
        values = ", ".join(parts) + " mmHg" if parts else "no pressure could be given"
        return f"{words + '. ' if words else ''}Cuff pressure against time, pulse heights beside it: {values}."

    def _given(self) -> bool:
        """Whether any pressure is given: without one no pulse was used, whatever became of each."""
        return any(e is not None for _, e in self._named())

    def _named(self) -> tuple[tuple[str, Estimate | None], ...]:
        return (
            ("systolic", self.reading.systolic),
            ("mean", self.reading.mean),
            ("diastolic", self.reading.diastolic),
        )

    def _y(self, field: str, *, axis: Any = None) -> Any:
        """The shared pressure axis; `axis` is given by one layer of the first panel and left open by its others."""
        import altair as alt

        return alt.Y(f"{field}:Q", axis=axis, scale=alt.Scale(domain=list(self.domain), nice=False, zero=False))

    def _pressure_layers(self, width: int, axis: Any = None) -> list[Any]:
        import altair as alt

        rows = [
            {"pressure": name, "value": e.value, "low": e.low, "high": e.high}
            for name, e in self._named()
            if e is not None
        ]
        data = inline(rows)
        tips = ["pressure:N", "value:Q", "low:Q", "high:Q"]
        band = alt.Chart(data).mark_rect(color=self.look.accent, opacity=0.1)
        line = alt.Chart(data).mark_rule(color=self.look.accent, strokeWidth=1.2)
        layers = [
            band.encode(y=self._y("low", axis=axis), y2="high:Q", tooltip=tips),
            line.encode(y=self._y("value", axis=axis), tooltip=tips),
        ]
        # Bands that overlap become one: each interval also has a whisker in a lane of its own, at the right.
        for k, row in enumerate(rows):
            x = width - WHISKER_LANE * (k + 0.5)
            layers += self._whisker(row, x, axis)
        return layers

    def _whisker(self, row: Row, x: float, axis: Any) -> list[Any]:
        import altair as alt

        def rule(ends: list[Row], stroke: float) -> Any:
            return alt.Chart(inline(ends)).mark_rule(color=self.look.accent, strokeWidth=stroke)

        caps = [{"whisker": row["pressure"], "cap": row[end]} for end in ("low", "high")]
        stem = [{"whisker": row["pressure"], "from": row["low"], "to": row["high"]}]
        across = {"x": alt.value(x - WHISKER_CAP), "x2": alt.value(x + WHISKER_CAP)}
        dot = alt.Chart(inline([{"whisker": row["pressure"], "at": row["value"]}])).mark_point(
            shape="circle", size=14, fill=self.look.accent, stroke=self.look.accent, opacity=1
        )
        return [
            rule(stem, 1.4).encode(x=alt.value(x), y=self._y("from", axis=axis), y2="to:Q"),
            rule(caps, 1.4).encode(**across, y=self._y("cap", axis=axis)),
            dot.encode(x=alt.value(x), y=self._y("at", axis=axis)),
        ]

    # -- left ---------------------------------------------------------------------------------------------------

    def _trace_rows(self) -> list[Row]:
        index = thin_trace(self.pressure, MOST_TRACE_POINTS)
        bounds = self.evidence.deflation_s
        rows: list[Row] = []
        for k in index:
            t = float(self.time[k])
            part = "recording" if bounds is None else ("before" if t < bounds[0] else "deflation")
            if bounds is not None and t > bounds[1]:
                part = "after"
            row = {"time_s": round(t, 4), "cuff_pressure_mmhg": round(float(self.pressure[k]), 2), "part": part}
            if rows and rows[-1]["part"] != part:
                # Each part ends where the next begins, or the line would have a gap.
                rows.append(row | {"part": rows[-1]["part"]})
            rows.append(row)
        return rows

    def _pulse_rows(self) -> list[Row]:
        pulses = self.evidence.pulses
        if pulses is None:
            return []
        edge = self._height_edge()
        unused = not self._given()
        return [
            {
                "time_s": float(pulses.time_s[k]),
                "cuff_pressure_mmhg": float(pulses.cuff_pressure_mmhg[k]),
                "height_mmhg": float(pulses.height_mmhg[k]),
                "low_mmhg": _within(float(pulses.height_mmhg[k] - TWO_SIDED_95 * pulses.height_sd_mmhg[k]), edge),
                "high_mmhg": _within(float(pulses.height_mmhg[k] + TWO_SIDED_95 * pulses.height_sd_mmhg[k]), edge),
                "drawn_at_mmhg": _within(float(pulses.height_mmhg[k]), edge),
                "beyond": not 0.0 <= pulses.height_mmhg[k] <= edge,
                "set_aside": _plain(reason) or ("not used" if unused else "kept"),
                "kept": reason == "" and not unused,
            }
            for k, reason in enumerate(pulses.set_aside)
        ]

    def _finding_marks(self) -> list[Row]:
        """Findings with a moment, each with the first free row above the trace where its words fit."""
        start, end = float(self.time[0]), float(self.time[-1])
        px_per_s = self.left_width / (end - start)
        ends: list[float] = []
        rows: list[Row] = []
        moments = sorted((f for f in self.reading.findings if f.at_s is not None), key=lambda f: (f.at_s, f.code))
        for finding in _one_mark_each(moments):
            assert finding.at_s is not None
            at = min(max(finding.at_s, start), end)
            size = (len(finding.code) + 2) * CHARACTER_WIDTH / px_per_s
            # Words start at their moment; at the right edge they end there instead.
            backwards = at + size > end
            left, right = (at - size, at) if backwards else (at, at + size)
            row = next((r for r, taken in enumerate(ends) if left >= taken), len(ends))
            ends[row : row + 1] = [right]
            rows.append(
                {
                    "at_s": at,
                    "code": finding.code,
                    "words": _plain(finding.code),
                    "severity": finding.severity,
                    "trace_mmhg": float(np.interp(at, self.time, self.pressure)),
                    "row": row,
                    "backwards": backwards,
                }
            )
        return rows

    def _time_panel(self) -> Any:
        import altair as alt

        start, end = float(self.time[0]), float(self.time[-1])
        axis = alt.Axis(title="time, s", grid=False, tickCount=6)
        scale = alt.Scale(domain=[start, end + 0.03 * (end - start)], nice=False, zero=False)
        x = alt.X("time_s:Q", axis=axis, scale=scale)
        pressure_axis = alt.Axis(
            title="cuff pressure, mmHg",
            titleAngle=0,
            titleAlign="left",
            titleAnchor="end",
            titleX=-38,
            titleY=-8,
            tickCount=8,
            grid=False,
        )
        trace = (
            alt.Chart(inline(self._trace_rows()))
            .mark_line(strokeWidth=1, strokeJoin="round", interpolate="linear")
            .encode(
                x=x,
                y=self._y("cuff_pressure_mmhg", axis=pressure_axis),
                detail="part:N",
                color=alt.Color(
                    "part:N",
                    legend=None,
                    scale=alt.Scale(
                        domain=["before", "deflation", "after", "recording"],
                        range=[self.look.quiet, self.look.ink, self.look.quiet, self.look.ink],
                    ),
                ),
            )
        )
        # Along the trace a pulse is a small dot, so that the trace itself stays visible.
        layers = [*self._pressure_layers(self.left_width, pressure_axis), trace]
        layers += self._pulse_points(x, pressure_axis, size=3, beyond="circle")
        if self.marks:
            layers += self._mark_layers(x.copy(), pressure_axis)
        return alt.layer(*layers).properties(width=self.left_width, height=HEIGHT)

    def _mark_layers(self, x: Any, axis: Any) -> list[Any]:
        import altair as alt

        def chart(rows: Sequence[Row]) -> Any:
            return alt.Chart(inline(list(rows)))

        x.shorthand = "at_s:Q"
        rule = chart(self.marks).mark_rule(color=self.look.quiet, strokeDash=[2, 2], strokeWidth=1)
        layers = [rule.encode(x=x, y=self._y("label_mmhg", axis=axis), y2="trace_mmhg:Q")]
        for backwards, align, shift in ((False, "left", 3), (True, "right", -3)):
            rows = [mark for mark in self.marks if mark["backwards"] is backwards]
            if rows:
                text = chart(rows).mark_text(
                    align=align, dx=shift, baseline="middle", fontSize=SMALL_SIZE, color=self.look.ink
                )
                layers.append(text.encode(x=x, y=self._y("label_mmhg", axis=axis), text="words:N"))
        return layers

    # -- right --------------------------------------------------------------------------------------------------

    def _height_edge(self) -> float:
        """The largest pulse height on the axis."""
        pulses, curve = self.evidence.pulses, self.evidence.envelope_height_mmhg
        heights = [float(curve.max())] if curve.size else []
        if pulses is not None and len(pulses):
            kept = pulses.height_mmhg[pulses.kept]
            heights.append(float((kept if kept.size else pulses.height_mmhg).max()))
        return HIGHEST_DRAWN * max(heights, default=1.0)

    def _pulse_points(self, x: Any, y_axis: Any, *, size: int, beyond: str) -> list[Any]:
        import altair as alt

        rows = self._pulse_rows()
        tips = ["time_s:Q", "cuff_pressure_mmhg:Q", "height_mmhg:Q", "set_aside:N"]
        layers = []
        for kept, is_beyond in ((False, False), (False, True), (True, False), (True, True)):
            shape = beyond if is_beyond else "circle"
            some = [row for row in rows if row["kept"] is kept and row["beyond"] is is_beyond]
            if not some:
                continue
            fill = self.look.accent if kept else self.look.ground
            stroke = self.look.accent if kept else self.look.quiet
            points = alt.Chart(inline(some)).mark_point(
                shape=shape, size=size, fill=fill, stroke=stroke, strokeWidth=1, opacity=1
            )
            layers.append(points.encode(x=x, y=self._y("cuff_pressure_mmhg", axis=y_axis), tooltip=tips))
        return layers

    def _height_panel(self) -> Any:
        import altair as alt

        rows = self._pulse_rows()
        kept = sum(row["kept"] for row in rows)
        count = f"{kept} kept, {len(rows) - kept} set aside (hollow)" if self._given() else _none_used(len(rows))
        words = ["pulse height, mmHg", count]
        words += ["diamond: off the axis"] if any(row["beyond"] for row in rows) else []
        # Words start with the panel: in a narrow one they run on below the labels, not into the words of the time axis.
        layout: dict[str, Any] = {"titleAnchor": "start", "titleAlign": "left", "titleX": 0}
        x_axis = alt.Axis(title=words, grid=False, tickCount=4, **layout) if rows else None
        scale = alt.Scale(domain=[0.0, self._height_edge()], nice=False)
        x = alt.X("drawn_at_mmhg:Q", axis=x_axis, scale=scale)
        upright = (
            alt.Chart(inline([{"x": 0.0}]))
            .mark_rule(color=self.look.quiet, strokeWidth=1)
            .encode(x=alt.X("x:Q", scale=scale, axis=x_axis))
        )
        layers = [*self._pressure_layers(self.right_width), upright]
        if not rows:
            note = alt.Chart(inline([{"words": "no pulses found"}])).mark_text(color=self.look.quiet)
            layers.append(note.encode(x=alt.value(self.right_width / 2), y=alt.value(HEIGHT / 2), text="words:N"))
            return alt.layer(*layers).properties(width=self.right_width, height=HEIGHT)
        noise = alt.Chart(inline([row for row in rows if row["kept"]])).mark_rule(
            color=self.look.accent, opacity=0.35, strokeWidth=1
        )
        layers.append(
            noise.encode(
                x=alt.X("low_mmhg:Q", scale=scale, axis=x_axis), x2="high_mmhg:Q", y=self._y("cuff_pressure_mmhg")
            )
        )
        curve = self._envelope_rows()
        if curve:
            line = alt.Chart(inline(curve)).mark_line(color=self.look.ink, strokeWidth=1.5, interpolate="linear")
            layers.append(
                line.encode(
                    x=alt.X("envelope_mmhg:Q", scale=scale, axis=x_axis),
                    y=self._y("cuff_pressure_mmhg"),
                    order="order:Q",
                )
            )
        layers += self._pulse_points(x, None, size=26, beyond="diamond")
        return alt.layer(*layers).properties(width=self.right_width, height=HEIGHT)

    def _envelope_rows(self) -> list[Row]:
        low, high = self.domain
        return [
            {"cuff_pressure_mmhg": float(p), "envelope_mmhg": float(h), "order": k}
            for k, (p, h) in enumerate(
                zip(self.evidence.envelope_pressure_mmhg, self.evidence.envelope_height_mmhg, strict=True)
            )
            if low <= p <= high
        ]

    # -- labels -------------------------------------------------------------------------------------------------

    def _label_panel(self) -> Any:
        import altair as alt

        named = self._named()
        missing = [name for name, e in named if e is None]
        # The missing are named at the foot, or in the middle when there is nothing else to say.
        floor = self.domain[0] + (HEIGHT / 2 if len(missing) == len(named) else 6) * self.mmhg_per_px
        rows: list[Row] = []
        for name, e in named:
            if e is None:
                continue
            rows.append({"pressure": name, "words": estimate_label(name, e), "value": e.value})
        gap = (LINE_HEIGHT + 1) * self.mmhg_per_px
        places = spread_labels([row["value"] for row in rows], gap)
        for row, place in zip(rows, places, strict=True):
            row["label_mmhg"] = place
        layers = []
        if rows:
            data = inline(rows)
            leader = alt.Chart(data).mark_rule(color=self.look.accent, strokeWidth=1)
            words = alt.Chart(data).mark_text(align="left", baseline="middle", color=self.look.ink)
            layers += [
                leader.encode(x=alt.value(0), x2=alt.value(9), y=self._y("value"), y2="label_mmhg:Q"),
                words.encode(x=alt.value(13), y=self._y("label_mmhg"), text="words:N"),
            ]
        if missing:
            without = f"no {' or '.join(missing)}" if rows else "no pressure given"
            note = alt.Chart(inline([{"words": without, "label_mmhg": floor}])).mark_text(
                align="left", baseline="bottom", color=self.look.quiet
            )
            layers.append(note.encode(x=alt.value(13), y=self._y("label_mmhg"), text="words:N"))
        return alt.layer(*layers).properties(width=LABEL_WIDTH, height=HEIGHT)


def _none_used(pulses: int) -> str:
    return f"{pulses} pulse{'' if pulses == 1 else 's'} found, none used"


def _within(height_mmhg: float, edge_mmhg: float) -> float:
    """The height moved onto the axis: a spoiled pulse can have any height, even below zero."""
    return min(max(height_mmhg, 0.0), edge_mmhg)


def _one_mark_each(findings: Sequence[Finding]) -> list[Finding]:
    """Two findings of the same code at the same tenth of a second would print over each other."""
    seen: set[tuple[str, int]] = set()
    kept = []
    for finding in findings:
        assert finding.at_s is not None
        key = (finding.code, round(finding.at_s * 10))
        if key not in seen:
            seen.add(key)
            kept.append(finding)
    return kept
