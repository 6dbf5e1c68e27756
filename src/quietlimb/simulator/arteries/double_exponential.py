"""An artery that collapses and distends exponentially, after Babbs 2012 (BioMed Eng OnLine 11:56).

    g(P) = exp( a P)   P < 0
    g(P) = exp(-b P)   P >= 0

The equations were seen in public re-implementations, not in the paper itself. Normal in people there: a = 0.11 and
b = 0.03 per mmHg. The ranges for small limbs are invented.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Self

import numpy as np

from quietlimb.simulator.arteries.artery import Artery, Samples
from quietlimb.simulator.draws import log_uniform


@dataclass(frozen=True, slots=True, kw_only=True)
class DoubleExponential(Artery):
    """collapse, distension: a and b above [1/mmHg]."""

    family: ClassVar[str] = "double exponential"
    collapse: float
    distension: float

    @classmethod
    def draw(cls, rng: np.random.Generator) -> Self:
        """a in 0.06..0.16, b in 0.02..0.10 and never above a: a distended wall yields over the wider range."""
        collapse = log_uniform(rng, 0.06, 0.16)
        return cls(collapse=collapse, distension=log_uniform(rng, 0.02, min(0.10, collapse)))

    def volume(self, transmural_mmhg: Samples) -> Samples:
        below = np.exp(self.collapse * np.minimum(transmural_mmhg, 0.0))
        above = np.expm1(-self.distension * np.maximum(transmural_mmhg, 0.0))
        return below / self.collapse - above / self.distension
