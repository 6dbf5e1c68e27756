"""Bias: the mean of tested minus reference, over all, by range of pressure, and as it changes with pressure.

With replicates the number of animals counts, not that of pairs: the interval is a t interval on one less than animals.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from quietlimb.agreement.interval import CONFIDENCE, Interval
from quietlimb.agreement.laws import chi_squared_quantile, t_quantile
from quietlimb.agreement.mixed import fit_mixed
from quietlimb.agreement.pairs import Pairs, Replicates, Truth
from quietlimb.agreement.spread import Spread, spread_of
from quietlimb.engine.errors import PairsError

Against = Literal["average", "reference"]
RangeName = Literal["low", "normal", "high"]
RANGES: tuple[RangeName, ...] = ("low", "normal", "high")
NOT_KNOWN = float("nan")


@dataclass(frozen=True, slots=True, kw_only=True)
class Bias:
    """Mean difference, tested minus reference.

    bias : with its t interval [unit]
    sd   : of a difference between one tested and one reference value, with its interval [unit]
    """

    truth: Truth
    animals: int
    pairs: int
    bias: Interval
    sd: Interval


@dataclass(frozen=True, slots=True, kw_only=True)
class RangeBias:
    """Bias where the pressure was low, normal or high.

    low, high : the range, low included and high not; infinite at either end [unit]
    bias      : None where no pair lies in the range; its interval is nan where they are of one animal
    """

    name: RangeName
    low: float
    high: float
    animals: int
    pairs: int
    bias: Interval | None
    sd: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ProportionalBias:
    """Straight line of the difference on the pressure.

    against   : what it is regressed on. The mean of the two is the usual choice: the error of the reference stands in
                the difference and in the reference with opposite sign, so that on the reference a slope appears where
                there is none (a negative one, by the share of its error in its variance). On the mean this cancels if
                both err alike. On the reference is right for a reference without error.
    slope     : per unit of pressure
    intercept : difference at pressure 0, far outside the data [unit]
    at_middle : difference at the mean pressure of the pairs [unit]
    """

    against: Against
    animals: int
    pairs: int
    slope: Interval
    intercept: Interval
    at_middle: Interval

    @property
    def is_shown(self) -> bool:
        """Whether the interval of the slope leaves out 0."""
        return self.slope.is_known and not self.slope.holds(0.0)


def bias_of(given: Pairs | Replicates, *, confidence: float = CONFIDENCE) -> Bias:
    """Bias and scatter of the differences. Raises PairsError with fewer than two animals."""
    spread = spread_of(given)
    return Bias(
        truth=spread.truth,
        animals=spread.animals,
        pairs=spread.pairs,
        bias=mean_interval(spread, confidence=confidence),
        sd=sd_interval(spread, confidence=confidence),
    )


def mean_interval(spread: Spread, *, confidence: float = CONFIDENCE) -> Interval:
    """t interval of the mean difference."""
    half = t_quantile(0.5 + 0.5 * confidence, spread.mean_df) * math.sqrt(spread.mean_variance)
    return Interval(estimate=spread.mean, low=spread.mean - half, high=spread.mean + half, confidence=confidence)


def sd_interval(spread: Spread, *, confidence: float = CONFIDENCE) -> Interval:
    """Interval of the standard deviation of a difference: by chi squared, or by MOVER where it has several parts."""
    low, high = variance_interval(spread, confidence=confidence)
    return Interval(estimate=spread.sd, low=math.sqrt(low), high=math.sqrt(high), confidence=confidence)


def variance_interval(spread: Spread, *, confidence: float = CONFIDENCE) -> tuple[float, float]:
    """Interval of the variance: the parts' own, recovered and joined ([Zou2013]). With one part it is the exact one."""
    tail = 0.5 - 0.5 * confidence
    down = up = 0.0
    for part in spread.parts:
        down += (part.variance * (1.0 - part.df / chi_squared_quantile(1.0 - tail, part.df))) ** 2
        up += (part.variance * (part.df / chi_squared_quantile(tail, part.df) - 1.0)) ** 2
    middle = sum(part.variance for part in spread.parts)
    low, high = middle - math.sqrt(down), middle + math.sqrt(up)
    return max(0.0, min(low, spread.variance)), max(high, spread.variance)


def range_bounds(values: NDArray[np.float64], bounds: tuple[float, float] | None) -> tuple[float, float]:
    """The bounds that were given, or those that part the values in thirds.

    Raises PairsError where the lower bound is not below the upper.
    """
    if bounds is None:
        low, high = np.quantile(values, [1.0 / 3.0, 2.0 / 3.0])
        return float(low), float(high)
    if not bounds[0] < bounds[1]:
        raise PairsError(
            "bounds-out-of-order",
            f"the bounds of the ranges are {bounds[0]:g} and {bounds[1]:g}",
            "give the end of the low range first, then the beginning of the high one",
        )
    return bounds


def in_ranges(
    pairs: Pairs, *, by: Against = "reference", bounds: tuple[float, float] | None = None
) -> tuple[tuple[RangeName, float, float, Pairs | None], ...]:
    """The pairs at low, normal and high pressure; each range holds its lower end and not its upper."""
    values = pairs.average if by == "average" else pairs.reference
    low, high = range_bounds(values, bounds)
    edges = (-math.inf, low, high, math.inf)
    return tuple(
        (name, edges[i], edges[i + 1], pairs.where((values >= edges[i]) & (values < edges[i + 1])))
        for i, name in enumerate(RANGES)
    )


def bias_by_range(
    pairs: Pairs,
    *,
    by: Against = "average",
    bounds: tuple[float, float] | None = None,
    confidence: float = CONFIDENCE,
) -> tuple[RangeBias, ...]:
    """Bias at low, normal and high pressure: in thirds of the pairs, or between two bounds. [unit]

    by : what pressure is meant. Thirds of the reference show a bias towards the middle of their own where the
         reference errs, see `ProportionalBias`; criteria that name the reference want it all the same.
    """
    found = []
    for name, low, high, part in in_ranges(pairs, by=by, bounds=bounds):
        bias, sd = (None, NOT_KNOWN) if part is None else _bias_if_any(part, confidence)
        found.append(
            RangeBias(
                name=name,
                low=low,
                high=high,
                animals=0 if part is None else len(part.animals),
                pairs=0 if part is None else part.n,
                bias=bias,
                sd=sd,
            )
        )
    return tuple(found)


def _bias_if_any(part: Pairs, confidence: float) -> tuple[Interval, float]:
    if len(part.animals) < 2:
        mean = float(part.difference.mean())
        return Interval(estimate=mean, low=NOT_KNOWN, high=NOT_KNOWN, confidence=confidence), NOT_KNOWN
    spread = spread_of(part)
    return mean_interval(spread, confidence=confidence), spread.sd


def proportional_bias(
    pairs: Pairs, *, against: Against = "average", confidence: float = CONFIDENCE
) -> ProportionalBias:
    """Regression of the difference on the mean of the two, or on the reference.

    With one pair an animal, and for replicates of a constant truth by the means of each animal, plain least squares;
    for linked pairs a line with a level of its own for each animal. Raises PairsError with fewer than three animals,
    and where all pressures are alike.
    """
    if pairs.truth == "constant":
        each = Replicates.from_pairs(pairs)
        tested, reference = each.tested_means, each.reference_means
        index = np.arange(tested.size)
    else:
        tested, reference, index = pairs.tested, pairs.reference, pairs.index
    pressure = 0.5 * (tested + reference) if against == "average" else reference
    animals = len(pairs.animals)
    if animals < 3:
        raise PairsError(
            "too-few-animals", f"{pairs.quantity}: a line through {animals} animals tells nothing", "compare in more"
        )
    if np.ptp(pressure) == 0.0:
        raise PairsError(
            "pressures-alike", f"{pairs.quantity}: all pressures are {pressure[0]:g}", "compare over a wider range"
        )
    middle = float(pressure.mean())
    x = np.column_stack([np.ones(pressure.size), pressure - middle])
    fit = fit_mixed(tested - reference, x, index)

    def told(row: list[float]) -> Interval:
        variance, df = fit.variance_and_df(np.array(row), new_animal=False)
        value = float(np.array(row) @ fit.coefficients)
        half = t_quantile(0.5 + 0.5 * confidence, df) * math.sqrt(variance)
        return Interval(estimate=value, low=value - half, high=value + half, confidence=confidence)

    return ProportionalBias(
        against=against,
        animals=animals,
        pairs=pairs.n,
        slope=told([0.0, 1.0]),
        intercept=told([1.0, -middle]),
        at_middle=told([1.0, 0.0]),
    )
