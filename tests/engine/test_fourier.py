"""Sizes at which a Fourier transform is quick."""

from __future__ import annotations

import pytest

from quietlimb.engine.fourier import quick_size


@pytest.mark.parametrize(
    ("least", "step", "found"),
    [(1, 1, 1), (11, 1, 12), (13, 1, 14), (12001, 1, 12005), (11399, -1, 11340)],
)
def test_quick_sizes(least: int, step: int, found: int):
    """Upwards and downwards.

    Oracle: by construction, factors by hand: 12005 = 5 x 7^4, 11340 = 2^2 x 3^4 x 5 x 7.
    """
    assert quick_size(least, step) == found


@pytest.mark.parametrize("least", [6000, 11399, 12503, 600_001])
def test_the_next_quick_size_is_near(least: int):
    """Little is padded or cut off: at most 1.5 % of sizes as recordings have them.

    Oracle: by construction.
    """
    assert least <= quick_size(least) <= 1.015 * least
    assert 0.985 * least <= quick_size(least, step=-1) <= least
