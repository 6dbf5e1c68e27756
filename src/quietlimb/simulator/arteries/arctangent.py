"""An artery whose volume is an arctangent of pressure, after Langewouters et al. 1984 (J Biomech 17:425, from memory).

    g(P) = 1 / (1 + (P / P1)^2)

Its tails are heavy: the hardest family for a reader that expects exponential ones. The range for small limbs is
invented.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Self

import numpy as np

from quietlimb.simulator.arteries.artery import Artery, Samples


@dataclass(frozen=True, slots=True, kw_only=True)
class Arctangent(Artery):
    """half_width : P1 above, where compliance has fallen to one half [mmHg]."""

    family: ClassVar[str] = "arctangent"
    half_width: float

    @classmethod
    def draw(cls, rng: np.random.Generator) -> Self:
        """P1 in 8..20 mmHg."""
        return cls(half_width=float(rng.uniform(8.0, 20.0)))

    def volume(self, transmural_mmhg: Samples) -> Samples:
        return self.half_width * np.arctan(transmural_mmhg / self.half_width)
