"""Quantiles without numpy's checks, beside numpy's own."""

from __future__ import annotations

import numpy as np
import pytest

from quietlimb.engine.quantiles import high_quantiles, median, medians, quantile, running_median, with_ends


@pytest.mark.parametrize("size", [1, 2, 3, 4, 7, 50, 151, 2000, 2001])
def test_medians_and_quantiles_are_those_of_numpy(size: int):
    """Odd and even numbers of values, one and two among them, and ties.

    Oracle: reference library, median and quantile of NumPy 2.4. Tolerance: rounding.
    """
    values = np.random.default_rng(size).normal(size=size).round(1)
    assert median(values) == pytest.approx(np.median(values), abs=1e-14)
    for share in (0.0, 0.1, 0.5, 0.68, 0.97, 1.0):
        assert quantile(values, share) == pytest.approx(np.quantile(values, share), abs=1e-14)
    rows = np.random.default_rng(size).normal(size=(2, 5, size))
    np.testing.assert_allclose(medians(rows), np.median(rows, axis=-1), atol=1e-14)


def test_the_values_are_left_as_they_are():
    """Sorting happens on a copy.

    Oracle: by construction.
    """
    values = np.array([3.0, 1.0, 2.0])
    median(values), quantile(values, 0.5), medians(values[None, :])
    np.testing.assert_array_equal(values, [3.0, 1.0, 2.0])


@pytest.mark.parametrize(
    ("width", "stride", "share"),
    [(601, 75, 0.97), (600, 150, 0.96), (450, 112, 0.96), (41, 10, 0.9), (41, 10, 0.5), (7, 1, 0.9), (5, 9, 0.8)],
)
@pytest.mark.parametrize("size", [1200, 1207, 607])
def test_high_quantiles_of_windows(width: int, stride: int, share: float, size: int):
    """Windows of whole blocks, of blocks and a rest, and with so low a quantile that blocks do not help.

    Oracle: reference library, numpy.quantile of every window, NumPy 2.4. Tolerance: rounding.
    """
    values = np.random.default_rng(size).normal(size=size)
    windows = np.lib.stride_tricks.sliding_window_view(values, width)[::stride]
    found = high_quantiles(values, width, stride, share)
    np.testing.assert_allclose(found, np.quantile(windows, share, axis=1), atol=1e-14)


def test_running_median_repeats_the_ends():
    """One wild value goes, at an end as well as within.

    Oracle: by construction, three lists short enough to be done by hand.
    """
    np.testing.assert_array_equal(running_median(np.array([9.0, 1.0, 1.0, 8.0, 1.0]), 3), [9.0, 1.0, 1.0, 1.0, 1.0])
    np.testing.assert_array_equal(with_ends(np.array([2.0, 5.0]), 2), [2.0, 2.0, 2.0, 5.0, 5.0, 5.0])
    np.testing.assert_array_equal(with_ends(np.array([2.0, 5.0]), 0), [2.0, 5.0])
