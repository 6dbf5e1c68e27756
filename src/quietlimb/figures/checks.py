"""Pictures of checks: errors against pressure, the fit of a leak, and errors from check to check."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

import numpy as np

from quietlimb.engine.circumstances import Circumstances
from quietlimb.engine.errors import ParameterError
from quietlimb.figures.inline import inline
from quietlimb.figures.invented import invented_words
from quietlimb.figures.look import LOOKS, Look, Spec, Theme, config, title
from quietlimb.instruments.checks import CheckResult, StaticPoints
from quietlimb.instruments.drift import Drift
from quietlimb.instruments.limits import PressureLimit
from quietlimb.instruments.settling import HoldFit
from quietlimb.words import checks as words

HEIGHT = 260
DOT = 70.0  # px^2
Row = dict[str, Any]


def static_figure(
    points: StaticPoints,
    result: CheckResult,
    limit: PressureLimit,
    *,
    title: str | None = None,
    theme: Theme = "light",
    width: int = 640,
) -> Spec:
    """The Vega-Lite specification of errors at rest against the reference pressure.

    Filled dots were reached going up, hollow ones going down; whiskers are the 95 % interval of all points at once. The
    lines are the limit.

    Raises
    ------
    ParameterError : the width is below 340 (`too-narrow`).
    """
    import altair as alt

    look, worst = _look(theme, width), result.figures["worst_error"]
    half = worst.high - worst.value
    rows: list[Row] = []
    for shown, instrument, direction in zip(
        points.reference_mmhg, points.instrument_mmhg, points.direction, strict=True
    ):
        pressure = shown + points.reference.correction_mmhg
        error = instrument - pressure
        rows.append(
            {"mmhg": pressure, "error": error, "low": error - half, "high": error + half, "direction": direction}
        )
    ends = (min(row["mmhg"] for row in rows) - 5.0, max(row["mmhg"] for row in rows) + 5.0)
    edges: list[Row] = [
        {"mmhg": float(at), "side": side, "edge": side * limit.at(float(at)).value}
        for side in (-1, 1)
        for at in np.linspace(*ends, 30)
    ]
    x = alt.X("mmhg:Q", title="reference mmHg", scale=alt.Scale(domain=list(ends), nice=False))
    layers = [
        _line(edges, look.quiet, dash=True).encode(x=x, y=_y("edge", "error mmHg"), detail=alt.Detail("side:N")),
        _whiskers(rows, look).encode(x=x, y=_y("low", "error mmHg"), y2="high:Q"),
    ]
    for direction in ("up", "down"):
        chosen = [row for row in rows if row["direction"] == direction]
        if chosen:
            dots = _dots(chosen, look, hollow=direction == "down")
            layers.append(dots.encode(x=x, y=_y("error", "error mmHg")))
    lines = ("filled: going up; hollow: going down; whiskers: 95 % of all points; dashed: limit",)
    return _spec(layers, look, theme, width, heading=title, says=words.check_sentence(result), lines=lines)


def leak_figure(
    holds: Sequence[HoldFit],
    result: CheckResult,
    circumstances: Circumstances,
    *,
    title: str | None = None,
    theme: Theme = "light",
    width: int = 640,
) -> Spec:
    """The Vega-Lite specification of the holds of a closed cuff: means of short stretches, the fit, and the leak alone.

    The dashed line is the leak by itself, laid through the end of the fit: what lies above it at first is settling.

    Raises
    ------
    ParameterError : there is no hold (`no-hold`), or the width is below 340 (`too-narrow`).
    """
    import altair as alt

    look = _look(theme, width)
    if not holds:
        raise ParameterError("no-hold", "no cuff was closed in this recording", "record a cuff that is held closed")
    measured: list[Row] = []
    fitted: list[Row] = []
    alone: list[Row] = []
    ends: list[Row] = []
    for number, hold in enumerate(holds, start=1):
        since, start = (hold.time_s - hold.start_s).tolist(), hold.start_mmhg
        for at, mean, fit in zip(since, hold.held_mmhg.tolist(), hold.fitted_mmhg.tolist(), strict=True):
            measured.append({"s": at, "mmhg": mean - start, "hold": number})
            fitted.append({"s": at, "mmhg": fit - start, "hold": number})
        last = float(hold.fitted_mmhg[-1]) - start
        alone += [
            {"s": since[0], "mmhg": last + hold.rate * (since[-1] - since[0]) / 60.0, "hold": number},
            {"s": since[-1], "mmhg": last, "hold": number},
        ]
        ends.append({"s": since[-1], "mmhg": last, "words": f"from {start:.0f}"})
    x = alt.X("s:Q", title="s since the beginning of the hold", scale=alt.Scale(zero=False))
    y = _y("mmhg", "mmHg since the beginning of the hold")
    detail = alt.Detail("hold:N")
    dots = alt.Chart(inline(measured)).mark_point(size=10, color=look.quiet, filled=True, opacity=1)
    names = alt.Chart(inline(ends)).mark_text(align="left", dx=4, color=look.quiet)
    layers = [
        dots.encode(x=x, y=y),
        _line(fitted, look.accent).encode(x=x, y=y, detail=detail),
        _line(alone, look.ink, dash=True).encode(x=x, y=y, detail=detail),
        names.encode(x=x, y=y, text="words:N"),
    ]
    return _spec(
        layers,
        look,
        theme,
        width,
        heading=title,
        says=words.check_sentence(result),
        lines=("dots: measured; line: leak and settling; dashed: leak alone",),
        invented=invented_words(circumstances),
    )


def drift_figure(found: Drift, *, title: str | None = None, theme: Theme = "light", width: int = 640) -> Spec:
    """The Vega-Lite specification of errors from check to check.

    Dots are the checks, hollow where a rule of the chart sounded; the band holds what single checks used to show; the
    line is their weighted mean; dashed lines are the limit. Of fewer than three checks there are only dots.

    Raises
    ------
    ParameterError : the width is below 340 (`too-narrow`).
    """
    import altair as alt

    look, chart = _look(theme, width), found.chart
    sounded = set() if chart is None else {signal.at for signal in chart.signals}
    days = [point.on for point in found.points]
    margin = max(3, (days[-1] - days[0]).days // 30)
    domain = [date.fromordinal(days[0].toordinal() - margin).isoformat()]
    domain.append(date.fromordinal(days[-1].toordinal() + margin).isoformat())
    x = alt.X(
        "date:T",
        axis=alt.Axis(title=None, grid=False, labelOverlap=True, tickCount=max(2, width // 100)),
        scale=alt.Scale(type="utc", domain=domain, nice=False),
    )
    limits: list[Row] = [
        {"date": day, "edge": side * found.limit.value, "side": side} for side in (-1, 1) for day in domain
    ]
    layers = [_line(limits, look.quiet, dash=True).encode(x=x, y=_y("edge", "error mmHg"), detail=alt.Detail("side:N"))]
    if chart is not None:
        band: list[Row] = [
            {"date": day, "low": chart.centre_mmhg - chart.half_mmhg, "high": chart.centre_mmhg + chart.half_mmhg}
            for day in domain
        ]
        area = alt.Chart(inline(band)).mark_area(color=look.accent, opacity=0.14)
        mean: list[Row] = [
            {"date": day.isoformat(), "ewma": value} for day, value in zip(days, chart.ewma_mmhg.tolist(), strict=True)
        ]
        layers += [
            area.encode(x=x, y=_y("low", "error mmHg"), y2="high:Q"),
            _line(mean, look.accent).encode(x=x, y=_y("ewma", "error mmHg")),
        ]
    for hollow in (False, True):
        rows: list[Row] = [
            {"date": point.on.isoformat(), "error": point.error_mmhg}
            for k, point in enumerate(found.points)
            if (k in sounded) == hollow
        ]
        if rows:
            layers.append(_dots(rows, look, hollow=hollow).encode(x=x, y=_y("error", "error mmHg")))
    lines = (
        "dots: checks, hollow where the chart sounded; line: weighted mean",
        "band: what single checks used to show; dashed: limit",
    )
    told = words.drift_sentences(found)
    return _spec(layers, look, theme, width, heading=title, says=" ".join(told), lines=lines)


def _look(theme: Theme, width: int) -> Look:
    if width < 340:
        raise ParameterError("too-narrow", f"width is {width} px", "give 340 or more")
    return LOOKS[theme]


def _y(field: str, name: str) -> Any:
    """An upright axis; the sign of negative numbers is one that the font has."""
    import altair as alt

    axis = alt.Axis(title=name, labelExpr="replace(datum.label, '\u2212', '-')")
    return alt.Y(f"{field}:Q", axis=axis, scale=alt.Scale(zero=False))


def _line(rows: Sequence[Mapping[str, Any]], colour: str, *, dash: bool = False) -> Any:
    import altair as alt

    return alt.Chart(inline(rows)).mark_line(
        color=colour, strokeWidth=1.6, strokeDash=[4, 3] if dash else alt.Undefined
    )


def _whiskers(rows: Sequence[Mapping[str, Any]], look: Look) -> Any:
    import altair as alt

    return alt.Chart(inline(rows)).mark_rule(color=look.accent, strokeWidth=1.2)


def _dots(rows: Sequence[Mapping[str, Any]], look: Look, *, hollow: bool) -> Any:
    import altair as alt

    return alt.Chart(inline(rows)).mark_point(
        shape="circle",
        fill=look.ground if hollow else look.accent,
        stroke=look.accent,
        strokeWidth=1.3,
        size=DOT,
        opacity=1,
    )


def _spec(
    layers: list[Any],
    look: Look,
    theme: Theme,
    width: int,
    *,
    heading: str | None,
    says: str,
    lines: tuple[str, ...],
    invented: str | None = None,
) -> Spec:
    import altair as alt

    block = title(look, invented=invented, heading=heading, lines=lines)
    lead = f"{invented}. " if invented else ""
    picture = alt.layer(*layers).properties(
        width=width - 90,
        height=HEIGHT,
        title=alt.TitleParams(**block) if block else alt.Undefined,
        description=f"{lead}{says}",
    )
    spec: Spec = picture.to_dict()
    spec["config"] = config(look)
    spec["padding"] = {"left": 6, "right": 6, "top": 8, "bottom": 6}
    spec["usermeta"] = {"theme": theme}
    return spec
