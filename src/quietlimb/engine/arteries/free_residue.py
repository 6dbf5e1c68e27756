"""An artery whose stiffness far from collapse is a parameter: exponential-linear, with a residue when distended.

    g(P) = e(-P / wc)                                   P < 0       e, a: exponential-linear and algebraic compliance
    g(P) = (1 - c) e(P / wd) + c a(P / (m wd))          P >= 0      c: share of the residue, m = 6

The fixed families of `artery` each take one c for granted; with c free, one family serves where several had to be
averaged. The reach m of the residue is that of `residual`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from quietlimb.engine.arteries import algebraic, exponential_linear
from quietlimb.engine.arteries.residual import REACH

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Volumes:
    """Volume at transmural pressures, with its derivatives; all of one shape.

    volume        : V, 0 at P = 0 [mmHg x the unit of g]
    compliance    : dV/dP, 1 at P = 0
    by_collapsed  : dV / d ln collapsed
    by_distended  : dV / d ln distended
    by_residue    : dV / dc
    """

    volume: Array
    compliance: Array
    by_collapsed: Array
    by_distended: Array
    by_residue: Array


def volumes(transmural: Array, *, collapsed: float, distended: float, residue: float) -> Volumes:
    """Volumes of the artery above.

    transmural           : any shape [mmHg]
    collapsed, distended : half widths of the exponential-linear part [mmHg]
    residue              : c, 0 to 1
    """
    wc, wd = collapsed / exponential_linear.HALF_WIDTH, distended / exponential_linear.HALF_WIDTH
    below = transmural < 0.0
    x, y = np.where(below, -transmural / wc, 0.0), np.where(below, 0.0, transmural / wd)
    closing, closed = exponential_linear.compliance(x), exponential_linear.filled(x)
    stiff, stiff_filled = exponential_linear.compliance(y), exponential_linear.filled(y)
    left, left_filled = algebraic.compliance(y / REACH), REACH * algebraic.filled(y / REACH)
    opening, opened = (1.0 - residue) * stiff + residue * left, (1.0 - residue) * stiff_filled + residue * left_filled
    nothing = np.zeros_like(transmural)
    return Volumes(
        volume=np.where(below, -wc * closed, wd * opened),
        compliance=np.where(below, closing, opening),
        by_collapsed=np.where(below, -wc * (closed - x * closing), nothing),
        by_distended=np.where(below, nothing, wd * (opened - y * opening)),
        by_residue=np.where(below, nothing, wd * (left_filled - stiff_filled)),
    )
