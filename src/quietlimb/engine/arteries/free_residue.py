"""An artery whose stiffness far from collapse is a parameter: exponential-linear, with a residue when distended.

    g(P) = e(-P / wc)                      P < 0       e: exponential-linear compliance
    g(P) = (1 - c) e(P / wd) + c           P >= 0      c: share of the residue

A distended artery keeps a small compliance over its whole working range. The fixed families of `artery` each take one
residue for granted; with c free, one family serves where several had to be averaged. A residue that dies away, as that
of `residual` does, left a larger error on simulated log-sigmoid arteries.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from quietlimb.engine.arteries import exponential_linear

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
    width = np.where(below, wc, wd)
    x, share = np.abs(transmural) / width, np.where(below, 0.0, residue)
    fading = np.exp(-x)
    yields = (1.0 + x) * fading  # both sides have the same form: one exponential function serves them
    filled = 2.0 - fading - yields
    compliance = yields + share * (1.0 - yields)
    volume = filled + share * (x - filled)
    by_width = width * (volume - x * compliance)
    return Volumes(
        volume=np.where(below, -wc, wd) * volume,
        compliance=compliance,
        by_collapsed=np.where(below, -by_width, 0.0),
        by_distended=np.where(below, 0.0, by_width),
        by_residue=np.where(below, 0.0, wd * (x - filled)),
    )


def volume_alone(transmural: Array, *, collapsed: float, distended: float, residue: float) -> Array:
    """The volume of `volumes`, where nothing else is asked for."""
    wc, wd = collapsed / exponential_linear.HALF_WIDTH, distended / exponential_linear.HALF_WIDTH
    below = transmural < 0.0
    x = np.abs(transmural) / np.where(below, wc, wd)
    filled = 2.0 - (2.0 + x) * np.exp(-x)
    return np.asarray(np.where(below, -wc * filled, wd * (filled + residue * (x - filled))))
