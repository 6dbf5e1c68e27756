"""Exponential-linear compliance: one side of an artery, as seen against transmural pressure in units of its width.

    g(x) = (1 + x) exp(-x)              x = |P| / w >= 0, scaled to g(0) = 1
    G(x) = 2 - (2 + x) exp(-x)          the integral of g from 0

The family was found to fit the oscillograms of 122 people with known arterial pressure as well as or better than seven
others [Dhamotharan2023]_; its printed form was not at hand: it is from memory, supported by the published weight of the
systolic pressure in the pressure of the largest pulse (0.45) and the published errors of the slope rule
[Chandrasekhar2019]_.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

HALF_WIDTH = 1.6783469900166605  # g(x) = 1/2


def compliance(x: Array) -> Array:
    """g(x), x >= 0. [1]"""
    return np.asarray((1.0 + x) * np.exp(-x))


def both(x: Array) -> tuple[Array, Array]:
    """g(x) and G(x), which share the exponential function."""
    fading = np.exp(-x)
    g = (1.0 + x) * fading
    return g, 2.0 - fading - g


def filled(x: Array) -> Array:
    """G(x), x >= 0. [1]"""
    return np.asarray(2.0 - (2.0 + x) * np.exp(-x))
