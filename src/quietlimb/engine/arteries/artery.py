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
    """Shape of one side: compliance g(x), its integral G(x), and the x at which g is 1/2."""

    compliance: Callable[[Array], Array]
    filled: Callable[[Array], Array]
    half_width: float


EXPONENTIAL_LINEAR = Side(exponential_linear.compliance, exponential_linear.filled, exponential_linear.HALF_WIDTH)
RESIDUAL = Side(residual.compliance, residual.filled, residual.HALF_WIDTH)
ALGEBRAIC = Side(algebraic.compliance, algebraic.filled, algebraic.HALF_WIDTH)


@dataclass(frozen=True, slots=True)
class Family:
    """Arteries of one shape: what the collapsed and the distended side look like."""

    collapsed: Side
    distended: Side

    def compliance(self, transmural: Array, collapsed: Array, distended: Array) -> Array:
        """g at transmural pressures [mmHg] for half widths [mmHg]; arguments broadcast. [1]"""
        x, y = self._scaled(transmural, collapsed, distended)
        return np.where(transmural < 0.0, self.collapsed.compliance(x), self.distended.compliance(y))

    def volume(self, transmural: Array, collapsed: Array, distended: Array) -> Array:
        """V at transmural pressures [mmHg] for half widths [mmHg]; arguments broadcast. [mmHg x the unit of g]"""
        x, y = self._scaled(transmural, collapsed, distended)
        wc, wd = collapsed / self.collapsed.half_width, distended / self.distended.half_width
        return np.where(transmural < 0.0, -wc * self.collapsed.filled(x), wd * self.distended.filled(y))

    def volume_and_slopes(
        self, transmural: Array, collapsed: Array, distended: Array
    ) -> tuple[Array, Array, Array, Array]:
        """V, g, and the derivatives of V by ln collapsed and ln distended: -w (G - x g) and w (G - x g)."""
        x, y = self._scaled(transmural, collapsed, distended)
        wc, wd = collapsed / self.collapsed.half_width, distended / self.distended.half_width
        closing, closed = self.collapsed.compliance(x), self.collapsed.filled(x)
        opening, opened = self.distended.compliance(y), self.distended.filled(y)
        below = transmural < 0.0
        return (
            np.where(below, -wc * closed, wd * opened),
            np.where(below, closing, opening),
            -wc * (closed - x * closing),
            wd * (opened - y * opening),
        )

    def _scaled(self, transmural: Array, collapsed: Array, distended: Array) -> tuple[Array, Array]:
        return (
            np.maximum(-transmural, 0.0) / collapsed * self.collapsed.half_width,
            np.maximum(transmural, 0.0) / distended * self.distended.half_width,
        )


FAMILIES: Mapping[str, Family] = {
    "exponential-linear": Family(EXPONENTIAL_LINEAR, EXPONENTIAL_LINEAR),
    "slow when distended": Family(EXPONENTIAL_LINEAR, ALGEBRAIC),
    "never stiff": Family(EXPONENTIAL_LINEAR, RESIDUAL),
    "slow": Family(ALGEBRAIC, ALGEBRAIC),
}
