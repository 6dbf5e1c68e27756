"""An artery under the cuff: two sides, collapsed and distended, each with its own shape and width.

Compliance g(P) = dV/dP is 1 at transmural pressure P = 0 and 1/2 at P = -collapsed and at P = +distended, the half
widths.

    V(P) = -wc Gc(-P / wc)     P < 0         wc, wd: half widths over the shape's own half width
    V(P) =  wd Gd( P / wd)     P >= 0        V(0) = 0: only differences of volume can be seen

Valid for every P; V and g are continuous at 0.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from quietlimb.engine.arteries import algebraic, exponential_linear, residual

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Side:
    """Shape of one side: compliance g(x), its integral G(x), both together, and the x at which g is 1/2."""

    compliance: Callable[[Array], Array]
    filled: Callable[[Array], Array]
    both: Callable[[Array], tuple[Array, Array]]
    half_width: float


EXPONENTIAL_LINEAR, ALGEBRAIC, RESIDUAL = (
    Side(shape.compliance, shape.filled, shape.both, shape.HALF_WIDTH)
    for shape in (exponential_linear, algebraic, residual)
)


@dataclass(frozen=True, slots=True)
class Family:
    """Arteries of one shape: what the collapsed and the distended side look like."""

    collapsed: Side
    distended: Side

    def compliance(self, transmural: Array, collapsed: Array, distended: Array) -> Array:
        """g at transmural pressures [mmHg] for half widths [mmHg]; arguments broadcast. [1]"""
        below, width = self._side(transmural, collapsed, distended)
        x = np.abs(transmural) / width
        return np.where(below, self.collapsed.compliance(x), self.distended.compliance(x))

    def volume(self, transmural: Array, collapsed: Array, distended: Array) -> Array:
        """V at transmural pressures [mmHg] for half widths [mmHg]; arguments broadcast. [mmHg x the unit of g]"""
        below, width = self._side(transmural, collapsed, distended)
        x = np.abs(transmural) / width
        filled = self.collapsed.filled(x)
        if self.distended is not self.collapsed:
            filled = np.where(below, filled, self.distended.filled(x))
        return np.where(below, -width, width) * filled

    def volume_and_slopes(
        self, transmural: Array, collapsed: Array, distended: Array
    ) -> tuple[Array, Array, Array, Array]:
        """V, g, and the derivatives of V by ln collapsed and ln distended: -w (G - x g) and w (G - x g)."""
        below, width = self._side(transmural, collapsed, distended)
        x = np.abs(transmural) / width
        if self.collapsed is self.distended:
            g, filled = self.collapsed.both(x)
        else:
            (closing, closed), (opening, opened) = self.collapsed.both(x), self.distended.both(x)
            g, filled = np.where(below, closing, opening), np.where(below, closed, opened)
        by_width = width * (filled - x * g)
        return (
            np.where(below, -width, width) * filled,
            g,
            np.where(below, -by_width, 0.0),
            np.where(below, 0.0, by_width),
        )

    def _side(self, transmural: Array, collapsed: Array, distended: Array) -> tuple[NDArray[np.bool_], Array]:
        """Where the artery is collapsed, and the width of the side that it is on."""
        below = transmural < 0.0
        return below, np.where(below, collapsed / self.collapsed.half_width, distended / self.distended.half_width)


FAMILIES: Mapping[str, Family] = {
    "exponential-linear": Family(EXPONENTIAL_LINEAR, EXPONENTIAL_LINEAR),
    "slow when distended": Family(EXPONENTIAL_LINEAR, ALGEBRAIC),
    "never stiff": Family(EXPONENTIAL_LINEAR, RESIDUAL),
    "slow": Family(ALGEBRAIC, ALGEBRAIC),
}
