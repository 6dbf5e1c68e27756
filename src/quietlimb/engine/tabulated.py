"""Smooth functions of the cuff pressure at many pressures: the cost must not grow as their square."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

POINTS = 600  # over a whole deflation: half a mmHg apart, where the functions change over 7 mmHg and more


def tabulated(function: Callable[[Array], Array], at: Array) -> Array:
    """function(at), by straight lines through `POINTS` values of it where `at` holds more.

    function : (m,) -> (m, ...)
    at       : (n,) in any order
    """
    return read_off(function(table_for(at)), at)


def table_for(at: Array) -> Array:
    """Where a function has to be known to be read off at (n,) pressures: there, or at `POINTS` evenly apart."""
    return at if at.size <= POINTS else np.linspace(float(at.min()), float(at.max()), POINTS)


def read_off(values: Array, at: Array) -> Array:
    """A function at (n,) pressures from its values (m, ...) at `table_for` these."""
    if at.size <= POINTS:
        return values
    lowest, highest = float(at.min()), float(at.max())
    place = (at - lowest) / max((highest - lowest) / (POINTS - 1), 1e-12)
    low = np.clip(place.astype(np.intp), 0, POINTS - 2)
    part = (place - low).reshape(-1, *(1,) * (values.ndim - 1))
    return np.asarray(values[low] * (1.0 - part) + values[low + 1] * part)
