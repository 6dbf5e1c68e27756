"""The figures of a comparison as a journal prints them; every number drawn is in the comparison already.

Each pair is drawn as the number of its animal, so that pairs of one animal can be seen to belong together; the numbers
are listed in the table of pairs, in the order in which animals first appear.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np

from quietlimb.agreement.interval import Interval
from quietlimb.agreement.pair_rows import PairRows
from quietlimb.agreement.recruitment import BOUNDS
from quietlimb.agreement.regression import points_of
from quietlimb.agreement.summary import Comparison
from quietlimb.figures.inline import inline
from quietlimb.figures.invented import INVENTED_WORDS
from quietlimb.figures.look import LOOKS, SMALL_SIZE, Look, Spec, Theme, config, title
from quietlimb.words.comparison import interval_words, pairs_words
from quietlimb.words.language import _

WIDTH, HEIGHT = 440, 320  # px of the plot
SQUARE = 340  # px, where both axes are the same
BAND_OPACITY = 0.14
_MINUS = "replace(datum.label, '\u2212', '-')"  # the fonts here have no sign of its own for it


def comparison_figures(
    rows: PairRows, compared: Sequence[Comparison], *, theme: Theme = "light"
) -> Iterator[tuple[str, Spec]]:
    """(name, specification) of each figure that the pairs give, pressure by pressure.

    Differences, scatter and recruitment of every pressure; the four quadrants where the truth changed.
    """
    for each in compared:
        yield f"{each.quantity}-differences", difference_figure(rows, each, theme=theme)
        yield f"{each.quantity}-scatter", scatter_figure(rows, each, theme=theme)
        if each.trending is not None:
            yield f"{each.quantity}-four-quadrants", quadrant_figure(rows, each, theme=theme)
        yield f"{each.quantity}-recruitment", recruitment_figure(rows, each, theme=theme)


def difference_figure(rows: PairRows, found: Comparison, *, theme: Theme = "light") -> Spec:
    """Difference against mean, with bias and limits of agreement and the band of each one's interval."""
    look, pairs = LOOKS[theme], found.pairs
    x, y = _span(pairs.average), _span(pairs.difference, *_lines_of(found))
    across, up = (
        _axis(_("mean of both, mmHg"), x),
        _axis(_("{tested} minus {reference}, mmHg").format(tested=rows.tested_name, reference=rows.reference_name), y),
    )
    layers = [_level(look, 0.0, x, across, up, dash=[2, 3], colour=look.hairline)]
    if found.limits is not None:
        for name, line in (
            (_("bias"), found.limits.bias),
            (_("lower limit"), found.limits.lower),
            (_("upper limit"), found.limits.upper),
        ):
            layers += _line_with_band(look, name, line, x, across, up)
    layers.append(_numbers(look, pairs.index, pairs.average, pairs.difference, across, up))
    caption = [
        _("{counted}, each drawn as the number of its animal").format(counted=pairs_words(pairs.n, len(pairs.animals))),
        _("lines: bias and 95 % limits of agreement; bands: their intervals"),
    ]
    return _finished(rows, found, layers, look, theme, _("difference against mean"), caption, (WIDTH, HEIGHT))


def scatter_figure(rows: PairRows, found: Comparison, *, theme: Theme = "light") -> Spec:
    """Tested against reference, with Deming's line and the line of identity."""
    look, pairs = LOOKS[theme], found.pairs
    reference, tested, index = points_of(pairs)
    both = _span(np.concatenate([reference, tested]))
    across, up = (
        _axis(_("{name}, mmHg").format(name=rows.reference_name), both),
        _axis(_("{name}, mmHg").format(name=rows.tested_name), both),
    )
    layers = [_segment(look, both, both, across, up, colour=look.quiet, dash=[4, 3])]
    caption = [_("dashed: identity")]
    if found.deming is not None:
        slope, intercept = found.deming.slope, found.deming.intercept
        ends = (float(reference.min()), float(reference.max()))
        values = tuple(intercept.estimate + slope.estimate * end for end in ends)
        layers.append(_segment(look, ends, (values[0], values[1]), across, up, colour=look.accent))
        caption += [
            _("line: Deming, slope {slope}, intercept {intercept} mmHg").format(
                slope=interval_words(slope, 2), intercept=interval_words(intercept)
            ),
            _("for a ratio of the error variances of {ratio:g}").format(ratio=found.deming.error_ratio or 1.0),
        ]
    layers.append(_numbers(look, index, reference, tested, across, up))
    return _finished(rows, found, layers, look, theme, _("tested against reference"), caption, (SQUARE, SQUARE))


def quadrant_figure(rows: PairRows, found: Comparison, *, theme: Theme = "light") -> Spec:
    """Change by the tested method against change by the reference, from pair to pair of an animal.

    The square in the middle holds changes too small to tell. Only where `trending` is there.
    """
    look, pairs = LOOKS[theme], found.pairs
    assert found.trending is not None
    order = np.argsort(pairs.index, kind="stable")
    same = np.diff(pairs.index[order]) == 0
    moved = {name: np.diff(getattr(pairs, name)[order])[same] for name in ("tested", "reference")}
    far = 10.0 * math.ceil(float(max(np.abs(moved["tested"]).max(), np.abs(moved["reference"]).max())) / 10.0 + 0.2)
    across = _axis(_("change of {name}, mmHg").format(name=rows.reference_name), (-far, far))
    up = _axis(_("change of {name}, mmHg").format(name=rows.tested_name), (-far, far))
    out = found.trending.exclusion
    layers = [
        _box(look, (-out, out), (-out, out), across, up),
        _segment(look, (-far, far), (0.0, 0.0), across, up, colour=look.quiet),
        _segment(look, (0.0, 0.0), (-far, far), across, up, colour=look.quiet),
        _segment(look, (-far, far), (-far, far), across, up, colour=look.quiet, dash=[4, 3]),
        _numbers(look, pairs.index[order][1:][same], moved["reference"], moved["tested"], across, up),
    ]
    caption = [
        _("{changes} changes, {left_out} within the square of {out:g} mmHg left out").format(
            changes=found.trending.changes, left_out=found.trending.left_out, out=out
        )
    ]
    if found.trending.concordance is not None:
        share = found.trending.concordance
        caption.append(
            _("the same way: {count} of {n}, {share:.0f} %").format(
                count=share.count, n=share.n, share=100.0 * share.plain.estimate
            )
        )
    return _finished(rows, found, layers, look, theme, _("four quadrants"), caption, (SQUARE, SQUARE))


def recruitment_figure(rows: PairRows, found: Comparison, *, theme: Theme = "light") -> Spec:
    """Reference pressures of each animal, with the ends of the low and the high range."""
    look, pairs = LOOKS[theme], found.pairs
    low, high = (each.value for each in BOUNDS[found.quantity])
    if found.bias_by_bounds:
        low, high = found.bias_by_bounds[0].high, found.bias_by_bounds[2].low
    x = _span(pairs.reference, low, high)
    count = len(pairs.animals)
    across = _axis(_("{name}, mmHg").format(name=rows.reference_name), x)
    up = _axis(_("animal"), (0.0, count + 1.0))
    layers = [
        _segment(look, (edge, edge), (0.0, count + 1.0), across, up, colour=look.quiet, dash=[4, 3])
        for edge in (low, high)
    ]
    layers.append(_numbers(look, pairs.index, pairs.reference, pairs.index + 1.0, across, up))
    caption = [_("dashed: low under {low:g}, high from {high:g} mmHg on").format(low=low, high=high)]
    height = int(min(HEIGHT, 60 + 16 * count))
    return _finished(rows, found, layers, look, theme, _("pressures recruited"), caption, (WIDTH, height))


# -- parts ------------------------------------------------------------------------------------------------------------


def _lines_of(found: Comparison) -> list[float]:
    if found.limits is None:
        return [0.0]
    ends = [edge for line in (found.limits.lower, found.limits.upper) for edge in (line.low, line.high)]
    return [0.0, *[edge for edge in ends if math.isfinite(edge)]]


def _span(values: np.ndarray, *further: float) -> tuple[float, float]:
    """A range of whole tens that holds the values with room for the letters drawn at them."""
    low, high = min(float(values.min()), *further, math.inf), max(float(values.max()), *further, -math.inf)
    return 10.0 * math.floor((low - 3.0) / 10.0), 10.0 * math.ceil((high + 3.0) / 10.0)


def _axis(name: str, span: tuple[float, float]) -> Spec:
    return {"title": name, "domain": list(span)}


def _encoding(field: str, axis: Spec, kind: str) -> Any:
    import altair as alt

    scale = alt.Scale(domain=axis["domain"], nice=False, zero=False)
    encode = alt.X if kind == "x" else alt.Y
    return encode(
        f"{field}:Q", scale=scale, axis=alt.Axis(title=axis["title"], grid=False, tickCount=8, labelExpr=_MINUS)
    )


def _segment(
    look: Look,
    xs: tuple[float, float],
    ys: tuple[float, float],
    across: Spec,
    up: Spec,
    *,
    colour: str,
    dash: list[int] | None = None,
) -> Any:
    import altair as alt

    data = inline([{"x": x, "y": y} for x, y in zip(xs, ys, strict=True)])
    line = alt.Chart(data).mark_line(color=colour, strokeWidth=1.4, strokeDash=dash or [1, 0])
    return line.encode(x=_encoding("x", across, "x"), y=_encoding("y", up, "y"), order="x:Q")


def _level(
    look: Look, value: float, x: tuple[float, float], across: Spec, up: Spec, *, dash: list[int], colour: str
) -> Any:
    return _segment(look, x, (value, value), across, up, colour=colour, dash=dash)


def _box(look: Look, xs: tuple[float, float], ys: tuple[float, float], across: Spec, up: Spec) -> Any:
    import altair as alt

    data = inline([{"x": xs[0], "x_to": xs[1], "y": ys[0], "y_to": ys[1]}])
    box = alt.Chart(data).mark_rect(color=look.accent, opacity=BAND_OPACITY)
    return box.encode(x=_encoding("x", across, "x"), x2="x_to:Q", y=_encoding("y", up, "y"), y2="y_to:Q")


def _line_with_band(look: Look, name: str, line: Interval, x: tuple[float, float], across: Spec, up: Spec) -> list[Any]:
    import altair as alt

    layers = []
    if line.is_known and math.isfinite(line.low) and math.isfinite(line.high):
        layers.append(_box(look, x, (line.low, line.high), across, up))
    layers.append(_segment(look, x, (line.estimate, line.estimate), across, up, colour=look.accent))
    words = f"{name} {line.estimate:+.1f}"
    label = alt.Chart(inline([{"y": line.estimate, "words": words}])).mark_text(
        align="left", baseline="middle", color=look.accent, fontSize=SMALL_SIZE
    )
    layers.append(label.encode(x=alt.value(WIDTH + 6), y=_encoding("y", up, "y"), text="words:N"))
    return layers


def _numbers(look: Look, index: np.ndarray, xs: np.ndarray, ys: np.ndarray, across: Spec, up: Spec) -> Any:
    import altair as alt

    data = [{"animal": str(int(k) + 1), "x": float(x), "y": float(y)} for k, x, y in zip(index, xs, ys, strict=True)]
    marks = alt.Chart(inline(data)).mark_text(fontSize=SMALL_SIZE, color=look.ink, baseline="middle")
    return marks.encode(x=_encoding("x", across, "x"), y=_encoding("y", up, "y"), text="animal:N")


def _finished(
    rows: PairRows,
    found: Comparison,
    layers: list[Any],
    look: Look,
    theme: Theme,
    what: str,
    caption: list[str],
    size: tuple[int, int],
) -> Spec:
    import altair as alt

    invented = INVENTED_WORDS if rows.invented else None
    heading = f"{found.quantity.capitalize()} pressure: {what}"
    block = title(look, invented=invented, heading=heading, lines=tuple(caption))
    lead = f"{invented}. " if invented else ""
    picture = alt.layer(*layers).properties(
        width=size[0],
        height=size[1],
        title=alt.TitleParams(**block) if block else alt.Undefined,
        description=f"{lead}{heading}. {rows.tested_name} against {rows.reference_name}. {'. '.join(caption)}.",
    )
    spec: Spec = picture.to_dict()
    spec["config"] = config(look)
    spec["padding"] = {"left": 10, "right": 20, "top": 10, "bottom": 10}
    spec["usermeta"] = {"theme": theme}
    return spec
