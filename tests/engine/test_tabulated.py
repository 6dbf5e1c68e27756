"""Smooth functions of the cuff pressure at many pressures."""

from __future__ import annotations

import numpy as np

from quietlimb.engine.tabulated import POINTS, tabulated


def bells(at: np.ndarray) -> np.ndarray:
    """Two bells of 7 mmHg, one a column, as narrow as anything that is tabulated."""
    return np.exp(-0.5 * ((at[:, None] - np.array([90.0, 140.0])) / 7.0) ** 2)


def test_many_pressures_are_put_between():
    """At more pressures than the table has, a bell of 7 mmHg over 200 mmHg is met within 0.03 % of its height.

    Oracle: by construction; the error of straight lines is step^2 / 8 times the curvature, 0.33^2 / 8 / 49 = 0.03 %.
    """
    at = np.random.default_rng(2).uniform(20.0, 220.0, 3 * POINTS)
    calls: list[int] = []

    def counted(where: np.ndarray) -> np.ndarray:
        calls.append(where.size)
        return bells(where)

    np.testing.assert_allclose(tabulated(counted, at), bells(at), atol=3e-4)
    assert calls == [POINTS]


def test_few_pressures_are_met_exactly():
    """Up to that many, the function itself is asked, once.

    Oracle: by construction.
    """
    at = np.random.default_rng(3).uniform(20.0, 220.0, POINTS)
    np.testing.assert_array_equal(tabulated(bells, at), bells(at))


def test_one_pressure_many_times():
    """A cuff that stands still gives its one value everywhere.

    Oracle: by construction.
    """
    np.testing.assert_allclose(tabulated(bells, np.full(2 * POINTS, 90.0)), bells(np.full(2 * POINTS, 90.0)))
