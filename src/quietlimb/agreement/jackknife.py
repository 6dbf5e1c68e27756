"""Intervals by leaving out one animal after the other, for statistics that have no other interval with replicates."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from quietlimb.agreement.interval import CONFIDENCE, Interval
from quietlimb.agreement.laws import t_quantile

Array = NDArray[np.float64]
Index = NDArray[np.int64]
Statistic = Callable[[NDArray[np.bool_]], float]


def jackknife_se(statistic: Statistic, index: Index) -> tuple[float, float]:
    """Value of a statistic and its standard error.

    Parameters
    ----------
    statistic : of the pairs that a (n,) mask leaves in
    index     : (n,) number of the animal of each pair, from 0 without a gap; all pairs of one are left out together

    The standard error is nan with fewer than three animals, or where a value without one of them is not finite.
    """
    whole = statistic(np.ones(index.size, dtype=bool))
    k = int(index.max()) + 1
    if k < 3:
        return whole, float("nan")
    without = np.array([statistic(index != i) for i in range(k)])
    if not np.isfinite(without).all():
        return whole, float("nan")
    return whole, math.sqrt((k - 1) / k * float(((without - without.mean()) ** 2).sum()))


def jackknife_interval(
    statistic: Statistic,
    index: Index,
    *,
    onto: Callable[[float], float] = float,
    back: Callable[[float], float] = float,
    less: int = 1,
    confidence: float = CONFIDENCE,
) -> Interval:
    """t interval on (animals - `less`) degrees of freedom, made on the scale `onto` and brought `back`."""
    value, se = jackknife_se(lambda kept: onto(statistic(kept)), index)
    df = int(index.max()) + 1 - less
    half = t_quantile(0.5 + 0.5 * confidence, df) * se if df > 0 else float("nan")
    return Interval(estimate=back(value), low=back(value - half), high=back(value + half), confidence=confidence)
