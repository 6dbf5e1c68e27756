"""How every picture looks: one accent hue, greys, tabular numerals, in a light and a dark theme.

A category is told in words and by the depth of the one hue, never by traffic-light colours and never by colour alone.
Every text colour reaches 4.5 : 1 against its ground (WCAG 2.2, success criterion 1.4.3), every line that carries
meaning 3 : 1 (1.4.11); the tests measure it. Noto Sans sets all digits equally wide, so columns of figures line up.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

Theme = Literal["light", "dark"]
Spec = dict[str, Any]

FONT = "Noto Sans"
FONT_DIRECTORY = Path(__file__).parent / "fonts"
TEXT_SIZE = 11
SMALL_SIZE = 10
TITLE_SIZE = 13
LINE_HEIGHT = 15


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """The colours of one theme, as hex.

    ground   : behind everything
    ink      : the main text and the measured line
    quiet    : secondary text, axes
    hairline : boundaries and grids, which carry no meaning alone
    accent   : the one hue: pressures and what is kept
    depths   : the accent from faint to full, for categories of rising pressure
    """

    ground: str
    ink: str
    quiet: str
    hairline: str
    accent: str
    depths: tuple[str, str, str, str]

    def depth(self, ordinal: int, count: int) -> str:
        """The depth for category `ordinal` (from 0) of `count`: the last is always the deepest."""
        last = len(self.depths) - 1
        return self.depths[last if count < 2 else round(ordinal * last / (count - 1))]


LOOKS: Mapping[Theme, Look] = {
    "light": Look(
        ground="#ffffff",
        ink="#1b2328",
        quiet="#5b666e",
        hairline="#c9d0d5",
        accent="#0f5c78",
        depths=("#dcebf1", "#a3cbdb", "#4f93ae", "#0f5c78"),
    ),
    "dark": Look(
        ground="#11171b",
        ink="#e9eef1",
        quiet="#a0abb3",
        hairline="#3a464e",
        accent="#7cc7e2",
        depths=("#1d323c", "#2b5567", "#4b8fa9", "#7cc7e2"),
    ),
}


def config(look: Look) -> Spec:
    """The Vega-Lite `config` of a theme: fonts, sizes and colours for everything a mark does not set itself."""
    text = {"labelFont": FONT, "titleFont": FONT, "labelColor": look.quiet, "titleColor": look.quiet}
    return {
        "background": look.ground,
        "font": FONT,
        "view": {"stroke": None},
        "axis": text
        | {
            "labelFontSize": TEXT_SIZE,
            "titleFontSize": TEXT_SIZE,
            "titleFontWeight": "normal",
            "domainColor": look.hairline,
            "tickColor": look.hairline,
            "gridColor": look.hairline,
            "gridOpacity": 0.45,
            "labelPadding": 4,
            "tickSize": 4,
        },
        "title": {
            "font": FONT,
            "subtitleFont": FONT,
            "color": look.ink,
            "subtitleColor": look.quiet,
            "fontSize": TITLE_SIZE,
            "subtitleFontSize": TEXT_SIZE,
            "fontWeight": "bold",
            "anchor": "start",
            "frame": "bounds",
            "offset": 8,
            "subtitlePadding": 4,
        },
        "text": {"font": FONT, "fontSize": TEXT_SIZE, "color": look.ink},
    }


def title(look: Look, *, invented: str | None, heading: str | None, lines: tuple[str, ...]) -> Spec | None:
    """The title block: the invented-data words first, in bold accent, whatever else there is; None when empty."""
    first, quiet = (invented, ((heading,) if heading else ()) + lines) if invented is not None else (heading, lines)
    block: Spec
    if first:
        block = {"text": first, "color": look.accent if invented is not None else look.ink}
    elif lines:
        block, quiet = {"text": list(lines), "color": look.quiet, "fontSize": TEXT_SIZE, "fontWeight": "normal"}, ()
    else:
        return None
    # An empty subtitle would still take the room of a line.
    return block | {"subtitle": list(quiet)} if quiet else block


def spread_labels(wanted: list[float], gap: float) -> list[float]:
    """Positions as close as possible to those wanted, in the same order, at least `gap` apart.

    wanted : (n,) any unit, in any order
    gap    : the same unit, > 0

    Least squares under the gap: labels that touch are moved as one block about their common mean.
    """
    order = sorted(range(len(wanted)), key=lambda k: (wanted[k], k))
    blocks: list[tuple[float, int]] = []  # (position of the first label, number of labels)
    for k in order:
        blocks.append((wanted[k], 1))
        while len(blocks) > 1 and blocks[-2][0] + blocks[-2][1] * gap > blocks[-1][0]:
            (low, n), (high, m) = blocks[-2], blocks[-1]
            blocks[-2:] = [((n * low + m * (high - n * gap)) / (n + m), n + m)]
    places = [first + j * gap for first, n in blocks for j in range(n)]
    result = [0.0] * len(wanted)
    for k, place in zip(order, places, strict=True):
        result[k] = place
    return result


def pressure_axis(field: str, mmhg: tuple[float, float]) -> Any:
    """The upright axis of pressures over a range [mmHg], its unit above it."""
    import altair as alt

    axis = alt.Axis(
        title="mmHg",
        titleAngle=0,
        titleAlign="left",
        titleAnchor="end",
        titleX=-28,
        titleY=-12,
        tickMinStep=20,
        grid=False,
        domain=False,
    )
    return alt.Y(f"{field}:Q", axis=axis, scale=alt.Scale(domain=list(mmhg), nice=False, zero=False))
