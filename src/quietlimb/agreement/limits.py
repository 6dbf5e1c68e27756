"""Limits of agreement: between which 95 % of the differences between two single values lie.

One pair an animal: exact intervals of the limits by the noncentral t law ([Carkeet2015]), the approximate ones beside
them ([BlandAltman1999], section 4), and limits that hold both at once ([Howe1969]). Replicates: the scatter that
averaging took away is put back, or taken from an analysis of variance, and the intervals are joined from those of
their parts ([Zou2013], from memory). There the bias has its normal quantile, as the method has it, and not Student's.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from typing import Literal

from scipy import stats

from quietlimb.agreement.differences import mean_interval, variance_interval
from quietlimb.agreement.interval import CONFIDENCE, Interval
from quietlimb.agreement.laws import chi_squared_quantile, normal_quantile, t_quantile
from quietlimb.agreement.pairs import Pairs, Replicates
from quietlimb.agreement.spread import Spread, spread_of

# Standard deviations to either side, as [BlandAltman1999] has it: 1.96, not 1.95996...
MULTIPLIER = 1.96


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """Limits of agreement with their intervals. [unit]

    spread     : what they were computed from
    multiplier : half their distance, in standard deviations
    bias       : with its t interval
    lower, upper : each with its interval
    how        : by which way the intervals were made
    se_of_limit: standard error of either limit, to first order
    tolerance  : limits that with `confidence` hold 95 % of all differences, both taken together; None for replicates
    """

    spread: Spread
    multiplier: float
    bias: Interval
    lower: Interval
    upper: Interval
    how: Literal["noncentral t", "MOVER"]
    se_of_limit: float
    tolerance: tuple[float, float] | None

    @property
    def sd(self) -> float:
        """Standard deviation of a difference. [unit]"""
        return self.spread.sd

    def approximate(self) -> tuple[Interval, Interval]:
        """Lower and upper limit with t intervals from `se_of_limit`, as they are mostly printed."""
        confidence = self.bias.confidence
        half = t_quantile(0.5 + 0.5 * confidence, self.spread.mean_df) * self.se_of_limit
        lower, upper = (
            Interval(estimate=each, low=each - half, high=each + half, confidence=confidence)
            for each in (self.lower.estimate, self.upper.estimate)
        )
        return lower, upper


def limits_of_agreement(
    given: Pairs | Replicates, *, multiplier: float = MULTIPLIER, confidence: float = CONFIDENCE
) -> Limits:
    """Limits of agreement, by what is known of the true value. Raises PairsError with fewer than two animals."""
    spread = spread_of(given)
    exact = spread.truth == "single"
    lower, upper = (_exact if exact else _recovered)(spread, multiplier, confidence)
    return Limits(
        spread=spread,
        multiplier=multiplier,
        bias=mean_interval(spread, confidence=confidence),
        lower=lower,
        upper=upper,
        how="noncentral t" if exact else "MOVER",
        se_of_limit=math.sqrt(spread.mean_variance + multiplier**2 * spread.sd_variance),
        tolerance=_tolerance(spread, confidence) if exact else None,
    )


def rough_se_of_limit(sd: float, n: int) -> float:
    """Standard error of a limit by the rule of thumb of [BlandAltman1986]: sqrt(3 / n) sd."""
    return math.sqrt(3.0 / n) * sd


@cache
def limit_factors(n: int, *, multiplier: float = MULTIPLIER, confidence: float = CONFIDENCE) -> tuple[float, float]:
    """Factors k for which bias + k sd are the ends of the exact interval of the upper limit, n >= 2. [Carkeet2015]

    They are quantiles of the noncentral t law with n - 1 degrees of freedom, shifted by multiplier sqrt(n), over
    sqrt(n).
    """
    tail = 0.5 - 0.5 * confidence
    low, high = (float(stats.nct.ppf(p, n - 1, multiplier * math.sqrt(n))) / math.sqrt(n) for p in (tail, 1.0 - tail))
    return low, high


def tolerance_factor(n: int, *, share: float = 0.95, confidence: float = CONFIDENCE) -> float:
    """Factor k for which bias -/+ k sd hold a share of all differences with that confidence. [Howe1969]"""
    z = normal_quantile(0.5 + 0.5 * share)
    return z * math.sqrt((n - 1) * (1.0 + 1.0 / n) / chi_squared_quantile(1.0 - confidence, n - 1))


def _tolerance(spread: Spread, confidence: float) -> tuple[float, float]:
    half = tolerance_factor(spread.animals, confidence=confidence) * spread.sd
    return spread.mean - half, spread.mean + half


def _exact(spread: Spread, multiplier: float, confidence: float) -> tuple[Interval, Interval]:
    near, far = limit_factors(spread.animals, multiplier=multiplier, confidence=confidence)
    return _both(spread, multiplier, confidence, near * spread.sd, far * spread.sd)


def _recovered(spread: Spread, multiplier: float, confidence: float) -> tuple[Interval, Interval]:
    low, high = variance_interval(spread, confidence=confidence)
    of_mean = normal_quantile(0.5 + 0.5 * confidence) ** 2 * spread.mean_variance
    inwards = math.sqrt(of_mean + (multiplier * (spread.sd - math.sqrt(low))) ** 2)
    outwards = math.sqrt(of_mean + (multiplier * (math.sqrt(high) - spread.sd)) ** 2)
    half = multiplier * spread.sd
    return _both(spread, multiplier, confidence, half - inwards, half + outwards)


def _both(spread: Spread, multiplier: float, confidence: float, near: float, far: float) -> tuple[Interval, Interval]:
    """Lower and upper limit, whose intervals end `near` and `far` from the bias."""
    middle, half = spread.mean, multiplier * spread.sd
    return (
        Interval(estimate=middle - half, low=middle - far, high=middle - near, confidence=confidence),
        Interval(estimate=middle + half, low=middle + near, high=middle + far, confidence=confidence),
    )
