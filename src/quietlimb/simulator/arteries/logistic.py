"""An artery whose volume is a logistic function of pressure: symmetric, with exponential tails and a smooth top.

    V(P) = 4 s / (1 + exp(-P / s))

Family and range are invented.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Self

import numpy as np
from scipy.special import expit

from quietlimb.simulator.arteries.artery import Artery, Samples


@dataclass(frozen=True, slots=True, kw_only=True)
class Logistic(Artery):
    """scale : s above [mmHg]."""

    family: ClassVar[str] = "logistic"
    scale: float

    @classmethod
    def draw(cls, rng: np.random.Generator) -> Self:
        """s in 6..14 mmHg."""
        return cls(scale=float(rng.uniform(6.0, 14.0)))

    def volume(self, transmural_mmhg: Samples) -> Samples:
        rising: Samples = expit(transmural_mmhg / self.scale)
        return 4.0 * self.scale * rising
