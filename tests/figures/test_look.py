"""Colours that can be read, and labels that do not touch."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from quietlimb.figures.look import LOOKS, TEXT_SIZE, Look, Theme, spread_labels, title


def contrast(first: str, second: str) -> float:
    """Contrast ratio of two hex colours by the definition in WCAG 2.2 ("relative luminance", "contrast ratio")."""

    def luminance(colour: str) -> float:
        channels = [int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
        linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    high, low = sorted((luminance(first), luminance(second)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_black_on_white_has_the_largest_contrast() -> None:
    """The formula above gives 21 for black on white.

    Oracle: published. WCAG 2.2, definition of contrast ratio: "can range from 1 to 21". Tolerance: rounding of floats.
    """
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0, abs=1e-9)


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_text_and_meaningful_lines_can_be_read(theme: Theme) -> None:
    """Text colours reach 4.5 : 1 and the colours of lines that carry meaning 3 : 1, in both themes.

    Oracle: published. WCAG 2.2, success criteria 1.4.3 and 1.4.11. Limits as printed there, no tolerance.
    """
    look = LOOKS[theme]
    for colour in (look.ink, look.quiet, look.accent):
        assert contrast(colour, look.ground) >= 4.5
    assert contrast(look.depths[2], look.ground) >= 3.0


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_depths_rise_in_contrast_with_the_ground(theme: Theme) -> None:
    """A higher category is always a deeper tone: rank can be seen without seeing the hue.

    Oracle: by construction, the wish of the design.
    """
    look = LOOKS[theme]
    ratios = [contrast(depth, look.ground) for depth in look.depths]
    assert ratios == sorted(ratios)
    assert all(later / earlier > 1.2 for earlier, later in itertools.pairwise(ratios))


def test_the_last_category_has_the_full_depth() -> None:
    """Whether a rule set has one category or seven, the last is drawn deepest and the order is kept.

    Oracle: by construction.
    """
    look: Look = LOOKS["light"]
    for count in (1, 2, 4, 7):
        depths = [look.depths.index(look.depth(k, count)) for k in range(count)]
        assert depths == sorted(depths)
        assert depths[-1] == 3


def test_two_labels_at_one_place_part_evenly() -> None:
    """Two labels wanted at 100 with a gap of 10 go to 95 and 105; one far away stays where it is.

    Oracle: by construction, worked by hand. Exact in floating point.
    """
    assert spread_labels([100.0, 100.0, 200.0], 10.0) == [95.0, 105.0, 200.0]


@given(st.lists(st.floats(0.0, 300.0), min_size=1, max_size=6), st.floats(0.5, 30.0))
def test_spread_labels_keep_their_order_and_distance(wanted: list[float], gap: float) -> None:
    """Labels never stand closer than the gap, never change places and keep their common mean.

    Oracle: by construction. Tolerance: rounding of sums of numbers up to 300.
    """
    places = spread_labels(wanted, gap)
    ranked = [places[k] for k in sorted(range(len(wanted)), key=lambda k: (wanted[k], k))]
    assert all(later - earlier >= gap - 1e-9 for earlier, later in itertools.pairwise(ranked))
    assert sum(places) == pytest.approx(sum(wanted), abs=1e-6)


def test_words_for_invented_data_come_first() -> None:
    """With a heading or without one, the words for invented data are the main line, in the accent colour.

    Oracle: by construction.
    """
    look = LOOKS["light"]
    block = title(look, invented="INVENTED", heading="Pebble", lines=("keep",))
    assert block == {"text": "INVENTED", "color": look.accent, "subtitle": ["Pebble", "keep"]}
    alone = title(look, invented=None, heading=None, lines=("keep",))
    assert alone is not None
    assert alone["fontSize"] == TEXT_SIZE
    assert title(look, invented=None, heading=None, lines=()) is None
