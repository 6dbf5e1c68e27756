"""Concordance: how near the pairs lie to the line of identity, in one number.

Lin's coefficient, total deviation index and coverage probability. The last two say in mmHg and in per cent what the
coefficient hides: it grows with the range of pressures, as every correlation does.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from quietlimb.agreement.correlation import atanh
from quietlimb.agreement.interval import CONFIDENCE, Interval
from quietlimb.agreement.jackknife import jackknife_interval
from quietlimb.agreement.laws import normal_quantile, t_quantile
from quietlimb.agreement.pairs import Pairs, Replicates
from quietlimb.agreement.spread import Spread, spread_of
from quietlimb.engine.errors import PairsError

Array = NDArray[np.float64]
STEP = 1e-4  # of a standard deviation, for slopes taken by differences


@dataclass(frozen=True, slots=True, kw_only=True)
class Deviation:
    """What the law of the differences says if it is normal.

    index       : total deviation index, within which `share` of the differences lie [unit]
    index_by_lin: its usual approximation, good where the bias is small beside the scatter: z sqrt(bias^2 + SD^2) [unit]
    coverage    : share of the differences that lie within `within`
    """

    share: float
    index: Interval
    index_by_lin: float
    within: float
    coverage: Interval


def concordance(pairs: Pairs, *, confidence: float = CONFIDENCE) -> Interval:
    """Lin's concordance correlation coefficient. [Lin1989], the variance as corrected in 2000

    With one pair an animal the interval is Lin's, normal in atanh; with several it comes from leaving out animals, on
    the same scale. Raises PairsError with fewer than four animals, or where a method gave one value throughout.
    """
    animals = len(pairs.animals)
    if animals < 4:
        raise PairsError(
            "too-few-animals",
            f"{pairs.quantity}: {animals} animals are too few for a concordance",
            "compare in four animals at least",
        )
    x, y = pairs.tested, pairs.reference
    if math.isnan(_lin(x, y)):
        raise PairsError(
            "pressures-alike",
            f"{pairs.quantity}: one of the methods gave the same value throughout",
            "compare over a wider range",
        )
    if pairs.n > animals:
        return jackknife_interval(
            lambda kept: _lin(x[kept], y[kept]), pairs.index, onto=atanh, back=math.tanh, confidence=confidence
        )
    return _lin_interval(x, y, confidence)


def _lin(x: Array, y: Array) -> float:
    """The coefficient, with 1/n variances; nan where one of the two does not vary."""
    if np.ptp(x) == 0.0 or np.ptp(y) == 0.0:
        return float("nan")
    apart = float(x.var() + y.var() + (x.mean() - y.mean()) ** 2)
    return 2.0 * float(((x - x.mean()) * (y - y.mean())).mean()) / apart


def _lin_interval(x: Array, y: Array, confidence: float) -> Interval:
    c, n = _lin(x, y), x.size
    spread = math.sqrt(float(x.std() * y.std()))
    r = float(((x - x.mean()) * (y - y.mean())).mean()) / spread**2
    if r == 0.0 or abs(c) >= 1.0:
        half = float("nan") if abs(c) < 1.0 else 0.0
    else:
        u2 = float(x.mean() - y.mean()) ** 2 / spread**2
        variance = (1.0 - r**2) * c**2 / ((1.0 - c**2) * r**2)
        variance += 2.0 * c**3 * (1.0 - c) * u2 / (r * (1.0 - c**2) ** 2)
        variance -= c**4 * u2**2 / (2.0 * r**2 * (1.0 - c**2) ** 2)
        half = normal_quantile(0.5 + 0.5 * confidence) * math.sqrt(max(variance, 0.0) / (n - 2))
    middle = atanh(c)
    return Interval(estimate=c, low=math.tanh(middle - half), high=math.tanh(middle + half), confidence=confidence)


def deviation(
    given: Pairs | Replicates, *, share: float = 0.90, within: float = 10.0, confidence: float = CONFIDENCE
) -> Deviation:
    """Total deviation index and coverage probability of normal differences. [Lin2000]

    Both follow from bias and standard deviation; their intervals from how well those are known, to first order on the
    logarithm and on the logit, by t with the degrees of freedom of the scatter. Replicates count as in the limits of
    agreement. Raises PairsError with fewer than two animals and where no difference varies.
    """
    spread = spread_of(given)
    if spread.variance == 0.0:
        raise PairsError(
            "differences-alike",
            f"{given.quantity}: every difference is {spread.mean:g}",
            "look whether the values are real: two methods never differ by the same",
        )
    return Deviation(
        share=share,
        index=_by_delta(spread, lambda m, s: _index(m, s, share), math.log, math.exp, confidence),
        index_by_lin=normal_quantile(0.5 + 0.5 * share) * math.hypot(spread.mean, spread.sd),
        within=within,
        coverage=_by_delta(spread, lambda m, s: coverage(m, s, within), _logit, _from_logit, confidence),
    )


def coverage(mean: float, sd: float, within: float) -> float:
    """Share of a normal law, sd > 0, that lies within -/+ `within`."""
    return float(stats.norm.cdf((within - mean) / sd) - stats.norm.cdf((-within - mean) / sd))


def _index(mean: float, sd: float, share: float) -> float:
    return sd * math.sqrt(float(stats.ncx2.ppf(share, 1, (mean / sd) ** 2)))


def _by_delta(
    spread: Spread,
    quantity: Callable[[float, float], float],
    onto: Callable[[float], float],
    back: Callable[[float], float],
    confidence: float,
) -> Interval:
    mean, sd = spread.mean, spread.sd
    h = STEP * sd
    by_mean = (onto(quantity(mean + h, sd)) - onto(quantity(mean - h, sd))) / (2.0 * h)
    by_sd = (onto(quantity(mean, sd + h)) - onto(quantity(mean, sd - h))) / (2.0 * h)
    se = math.sqrt(by_mean**2 * spread.mean_variance + by_sd**2 * spread.sd_variance)
    df = min(part.df for part in spread.parts)
    half = t_quantile(0.5 + 0.5 * confidence, df) * se
    value = onto(quantity(mean, sd))
    return Interval(estimate=back(value), low=back(value - half), high=back(value + half), confidence=confidence)


LEAST_SHARE = 1e-12  # nearer to 0 or 1 a logit would be infinite


def _logit(share: float) -> float:
    inside = min(max(share, LEAST_SHARE), 1.0 - LEAST_SHARE)
    return math.log(inside / (1.0 - inside))


def _from_logit(value: float) -> float:
    return 1.0 / (1.0 + math.exp(-value)) if value > -700.0 else 0.0
