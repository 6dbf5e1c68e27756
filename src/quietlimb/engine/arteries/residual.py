"""Exponential-linear compliance that leaves a residue: one side of an artery that never becomes quite stiff.

    g(x) = (1 - c) (1 + x) exp(-x) + c (1 + (x/m)^2)^(-3/2)        x = |P| / w >= 0, c = 0.15, m = 6
    G(x) = (1 - c) (2 - (2 + x) exp(-x)) + c x / sqrt(1 + (x/m)^2)

A distended artery keeps a small compliance over its whole working range. The share and the reach of the residue are
invented: a seventh of the peak, gone only far beyond any cuff reading.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from quietlimb.engine.arteries import algebraic, exponential_linear

Array = NDArray[np.float64]

SHARE, REACH = 0.15, 6.0
HALF_WIDTH = 1.8948377454058134  # g(x) = 1/2, solved by Newton's rule


def compliance(x: Array) -> Array:
    """g(x), x >= 0. [1]"""
    return (1.0 - SHARE) * exponential_linear.compliance(x) + SHARE * algebraic.compliance(x / REACH)


def both(x: Array) -> tuple[Array, Array]:
    """g(x) and G(x)."""
    (near, near_filled), (far, far_filled) = exponential_linear.both(x), algebraic.both(x / REACH)
    return (1.0 - SHARE) * near + SHARE * far, (1.0 - SHARE) * near_filled + SHARE * REACH * far_filled


def filled(x: Array) -> Array:
    """G(x), x >= 0. [1]"""
    return (1.0 - SHARE) * exponential_linear.filled(x) + SHARE * REACH * algebraic.filled(x / REACH)
