"""Algebraic compliance: one side of an artery whose compliance dies away slowly, with the third power of pressure.

    g(x) = (1 + x^2)^(-3/2)             x = |P| / w >= 0, scaled to g(0) = 1
    G(x) = x / sqrt(1 + x^2)            the integral of g from 0

Arteries measured in the laboratory keep more compliance far from zero transmural pressure than an exponential leaves
them. This is our own stand-in for such tails (invented): between the exponential and the heavier curves in use, smooth
at zero, and integrable in closed form.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

HALF_WIDTH = float(np.sqrt(np.cbrt(4.0) - 1.0))  # g(x) = 1/2


def compliance(x: Array) -> Array:
    """g(x), x >= 0. [1]"""
    return np.asarray((1.0 + x * x) ** -1.5)


def both(x: Array) -> tuple[Array, Array]:
    """g(x) and G(x), which share the root."""
    root = 1.0 / np.sqrt(1.0 + x * x)
    return root * root * root, x * root


def filled(x: Array) -> Array:
    """G(x), x >= 0. [1]"""
    return np.asarray(x / np.sqrt(1.0 + x * x))
