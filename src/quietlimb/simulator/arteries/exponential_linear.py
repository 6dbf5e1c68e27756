"""An artery with exponential-linear compliance: the form that the engine's fit assumes, written here a second time.

    g(P) = (1 - P / wn) exp( P / wn)   P < 0
    g(P) = (1 + P / wp) exp(-P / wp)   P >= 0

(Dhamotharan et al. 2023, IEEE Trans Biomed Eng 70:715-722; form and laws of the widths from memory.) It is never drawn,
only named: a reader scored on its own artery is flattered, and what that score tells is its efficiency.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import ClassVar, Self

import numpy as np

from quietlimb.simulator.arteries.artery import Artery, Samples


@dataclass(frozen=True, slots=True, kw_only=True)
class ExponentialLinear(Artery):
    """collapsed, distended : wn and wp above [mmHg]."""

    family: ClassVar[str] = "exponential-linear"
    collapsed: float
    distended: float

    @classmethod
    def draw(cls, rng: np.random.Generator) -> Self:
        """ln wn ~ N(ln 11, 0.35) mmHg, ln(wp / wn) ~ N(0.3, 0.4). For other priors construct it from its widths."""
        collapsed = math.exp(rng.normal(math.log(11.0), 0.35))
        return cls(collapsed=collapsed, distended=collapsed * math.exp(rng.normal(0.3, 0.4)))

    def volume(self, transmural_mmhg: Samples) -> Samples:
        below, above = np.minimum(transmural_mmhg, 0.0), np.maximum(transmural_mmhg, 0.0)
        closed = (2.0 * self.collapsed - below) * np.exp(below / self.collapsed)
        opened = (2.0 * self.distended + above) * np.exp(-above / self.distended)
        return closed + 2.0 * self.distended - opened
