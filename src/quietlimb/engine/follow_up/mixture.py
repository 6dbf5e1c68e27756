"""Mixtures of normal laws: what is believed of a pressure when its variances are not known but weighed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from quietlimb.engine.values import Estimate

Array = NDArray[np.float64]
_HALVINGS = 60  # from a bracket of some hundred mmHg down to rounding
_REACH = 9.0  # standard deviations; outside lies less than 1e-18


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class NormalMixture:
    """A law on the line.

    weight, mean, sd : (w,) weights that sum to 1; standard deviations may be 0
    """

    weight: Array
    mean: Array
    sd: Array

    def below(self, x: float) -> float:
        """Probability of a value under `x`; a component without spread counts half at its very value."""
        with np.errstate(divide="ignore", invalid="ignore"):
            z = np.nan_to_num((x - self.mean) / self.sd, nan=0.0, posinf=np.inf, neginf=-np.inf)
        return float(min(1.0, max(0.0, self.weight @ ndtr(z))))

    def above(self, x: float) -> float:
        """Probability of a value over `x`."""
        return NormalMixture(weight=self.weight, mean=-self.mean, sd=self.sd).below(-x)

    def quantile(self, probability: float) -> float:
        """The value that is not exceeded with this probability, 0 < probability < 1."""
        low, high = float((self.mean - _REACH * self.sd).min()), float((self.mean + _REACH * self.sd).max())
        for _ in range(_HALVINGS):
            middle = 0.5 * (low + high)
            if self.below(middle) < probability:
                low = middle
            else:
                high = middle
        return 0.5 * (low + high)

    def spread(self) -> float:
        """Its standard deviation."""
        mean = float(self.weight @ self.mean)
        return float(np.sqrt(self.weight @ (self.sd**2 + (self.mean - mean) ** 2)))

    def with_noise(self, sd: Array | float) -> NormalMixture:
        """The law of the value plus independent normal noise. sd : (w,) or one for all."""
        return NormalMixture(weight=self.weight, mean=self.mean, sd=np.hypot(self.sd, sd))

    def estimate(self) -> Estimate:
        """Median and 95 % interval; all of its standard deviation as its own part."""
        low, value, high = (self.quantile(p) for p in (0.025, 0.5, 0.975))
        return Estimate(value=value, low=min(low, value), high=max(high, value), own_sd=self.spread(), shared_sd=None)
