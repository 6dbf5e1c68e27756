"""An artery that follows the law of a thin elastic tube, after Shapiro 1977 (J Biomech Eng 99:126-147, from memory).

    P = K * (A^n1 - A^-n2)        A: lumen area over that of the unstressed tube

Distended it stiffens as a power, collapsed it never quite closes: its tail there falls as |P|^-(1 + 1/n2). Compliance
has its peak where n1 (n1 - 1) A^(n1 + n2) = n2 (n2 + 1), at a P below 0 that is moved to 0. n1 is 10 to 20 and n2 1.5,
from memory; the range of K for small limbs is invented.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import ClassVar, Self

import numpy as np

from quietlimb.simulator.arteries.artery import Artery, Samples
from quietlimb.simulator.draws import log_uniform

_COLLAPSING = 1.5
# So fine that a straight line between two points misses the volume by less than 0.0001 mmHg.
_AREA = np.exp(np.linspace(math.log(0.01), math.log(4.0), 8193))


@dataclass(frozen=True, slots=True, kw_only=True)
class TubeLaw(Artery):
    """stiffness : K above [mmHg]; distension : n1 above.

    area_mmhg  : (8193,) transmural pressure at each area of the table, its peak moved to 0 [mmHg]
    compliance : the law's compliance at the peak [1/mmHg]
    """

    family: ClassVar[str] = "tube law"
    stiffness: float
    distension: float
    area_mmhg: Samples = field(init=False, repr=False, compare=False)
    compliance: float = field(init=False)

    def __post_init__(self) -> None:
        n1, n2 = self.distension, _COLLAPSING
        peak = (n2 * (n2 + 1.0) / (n1 * (n1 - 1.0))) ** (1.0 / (n1 + n2))
        pressure = _AREA**n1 - _AREA**-n2 - (peak**n1 - peak**-n2)
        object.__setattr__(self, "area_mmhg", self.stiffness * pressure)
        slope = self.stiffness * (n1 * peak ** (n1 - 1.0) + n2 * peak ** (-n2 - 1.0))
        object.__setattr__(self, "compliance", 1.0 / slope)

    @classmethod
    def draw(cls, rng: np.random.Generator) -> Self:
        """K in 8..20 mmHg, n1 in 10..20: compliance halves 7 to 24 mmHg below its peak and 3 to 19 mmHg above it."""
        return cls(stiffness=log_uniform(rng, 8.0, 20.0), distension=float(rng.uniform(10.0, 20.0)))

    def volume(self, transmural_mmhg: Samples) -> Samples:
        return np.interp(transmural_mmhg, self.area_mmhg, _AREA) / self.compliance
