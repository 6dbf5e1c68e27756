"""An artery whose lumen grows with a logarithm and closes with a sigmoid, after Drzewiecki, Hood and Apple 1994.

    A(P) = ln(a P + b) / (1 + exp(-c P))

(Ann Biomed Eng 22:88-96, form and constants from memory: a = 0.03 and c = 0.1 per mmHg, b = 3.3.) The logarithm ends at
P = -b/a = -110 mmHg. By then the lumen is closed, so P is held at -105. Compliance has its peak near +5 mmHg in these
coordinates; it is found once per artery and moved to 0. The ranges for small limbs are invented.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import ClassVar, Self

import numpy as np
from scipy.special import expit

from quietlimb.simulator.arteries.artery import Artery, Samples
from quietlimb.simulator.draws import log_uniform

_LOWEST_MMHG = -105.0


@dataclass(frozen=True, slots=True, kw_only=True)
class LogSigmoid(Artery):
    """distension, opening: a and c above [1/mmHg]; b follows as 110 a, so that the domain is that of the paper.

    peak_mmhg  : where compliance is greatest in the coordinates of the formula [mmHg]
    compliance : the formula's compliance there [1/mmHg]
    """

    family: ClassVar[str] = "log-sigmoid"
    distension: float
    opening: float
    peak_mmhg: float = field(init=False)
    compliance: float = field(init=False)

    def __post_init__(self) -> None:
        grid = np.linspace(-20.0, 40.0, 1201)
        slope = self._slope(grid)
        k = int(slope.argmax())
        left, top, right = slope[k - 1 : k + 2]
        # the vertex of the parabola through the three highest points
        peak = grid[k] + 0.5 * (grid[1] - grid[0]) * (left - right) / (left - 2.0 * top + right)
        object.__setattr__(self, "peak_mmhg", float(peak))
        object.__setattr__(self, "compliance", float(self._slope(np.array([peak]))[0]))

    @classmethod
    def draw(cls, rng: np.random.Generator) -> Self:
        """a in 0.02..0.045, c in 0.07..0.16 per mmHg."""
        return cls(distension=log_uniform(rng, 0.02, 0.045), opening=log_uniform(rng, 0.07, 0.16))

    def _logarithm(self, pressure: Samples) -> Samples:
        return np.log(self.distension * (pressure + 110.0))

    def _slope(self, pressure: Samples) -> Samples:
        open_share: Samples = expit(self.opening * pressure)
        closing = self.opening * open_share * (1.0 - open_share)
        return open_share / (pressure + 110.0) + self._logarithm(pressure) * closing

    def volume(self, transmural_mmhg: Samples) -> Samples:
        pressure = np.maximum(transmural_mmhg + self.peak_mmhg, _LOWEST_MMHG)
        lumen: Samples = self._logarithm(pressure) * expit(self.opening * pressure)
        return lumen / self.compliance
