"""An artery whose tails are heavy, the distended one more than the collapsed one. The form is invented.

With x = P / P1 and skew s the compliance is the arctangent's, weighed from 1 - s to 1 + s:

    g(x) = (1 + s x / sqrt(1 + x^2)) / (1 + x^2)
    V(x) = P1 * (atan(x) - s / sqrt(1 + x^2))

Compliance has its peak at x / sqrt(1 + x^2) = (sqrt(1 + 3 s^2) - 1) / (3 s); it is moved to 0. The range for small
limbs is that of the arctangent, the skew is invented.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import ClassVar, Self

import numpy as np

from quietlimb.simulator.arteries.artery import Artery, Samples


@dataclass(frozen=True, slots=True, kw_only=True)
class SkewedArctangent(Artery):
    """width : P1 above [mmHg]; skew : s above, over 0 and below 1."""

    family: ClassVar[str] = "skewed arctangent"
    width: float
    skew: float

    @classmethod
    def draw(cls, rng: np.random.Generator) -> Self:
        """P1 in 8..20 mmHg, s in 0.1..0.7."""
        return cls(width=float(rng.uniform(8.0, 20.0)), skew=float(rng.uniform(0.1, 0.7)))

    def volume(self, transmural_mmhg: Samples) -> Samples:
        sine = (math.sqrt(1.0 + 3.0 * self.skew**2) - 1.0) / (3.0 * self.skew)
        greatest = (1.0 + self.skew * sine) * (1.0 - sine**2)
        x = transmural_mmhg / self.width + sine / math.sqrt(1.0 - sine**2)
        bent: Samples = np.arctan(x) - self.skew / np.sqrt(1.0 + x**2)
        return self.width / greatest * bent
