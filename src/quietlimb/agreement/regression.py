"""Lines through two methods that both err: Deming's, and that of Passing and Bablok.

The tested value stands upright (y), the reference lies flat (x), so that slope 1 and intercept 0 are agreement.
With replicates of a constant truth the line goes through the means of each animal. Linked pairs each count for
themselves, and intervals come from leaving out whole animals.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from quietlimb.agreement.interval import CONFIDENCE, Interval
from quietlimb.agreement.jackknife import jackknife_interval
from quietlimb.agreement.laws import normal_quantile
from quietlimb.agreement.pairs import Pairs, Replicates
from quietlimb.engine.errors import PairsError, ParameterError

Array = NDArray[np.float64]
Index = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A line from the reference to the tested method.

    slope, intercept : with intervals; nan ends where there is no interval for such pairs
    error_ratio      : variance of the tested method's error over the reference's, taken for granted by Deming's way;
                       None for the other
    points           : through which it was laid: pairs, or animals
    tied             : of all pairs of points, those with the same value of both methods, left out by Passing and
                       Bablok, and those with the same reference value only, taken for infinitely steep
    """

    name: Literal["Deming", "Passing-Bablok"]
    slope: Interval
    intercept: Interval
    error_ratio: float | None
    points: int
    animals: int
    tied: tuple[int, int] | None = None


def points_of(pairs: Pairs) -> tuple[Array, Array, Index]:
    """Reference, tested, and number of the animal, of each point that a line goes through."""
    if pairs.truth != "constant":
        return pairs.reference, pairs.tested, pairs.index
    each = Replicates.from_pairs(pairs)
    return each.reference_means, each.tested_means, np.arange(len(each.animals))


def deming(pairs: Pairs, *, error_ratio: float = 1.0, confidence: float = CONFIDENCE) -> Line:
    """Deming's line, with jackknife intervals on two degrees of freedom less than animals.

    error_ratio : variance of the tested method's error over that of the reference's. 1 lays the line so that the
                  distances at right angles to it are least. [Linnet1993]

    Raises PairsError with fewer than three animals and where the two do not vary together; ParameterError for a ratio
    that is not above 0.
    """
    if not (math.isfinite(error_ratio) and error_ratio > 0.0):
        raise ParameterError(
            "impossible-error-ratio", f"the ratio of the error variances is {error_ratio:g}", "give a number above 0"
        )
    x, y, index = points_of(pairs)
    _check(pairs, x, y)

    def slope(kept: NDArray[np.bool_]) -> float:
        return deming_line(x[kept], y[kept], error_ratio)[0]

    def intercept(kept: NDArray[np.bool_]) -> float:
        return deming_line(x[kept], y[kept], error_ratio)[1]

    return Line(
        name="Deming",
        slope=jackknife_interval(slope, index, less=2, confidence=confidence),
        intercept=jackknife_interval(intercept, index, less=2, confidence=confidence),
        error_ratio=error_ratio,
        points=x.size,
        animals=len(pairs.animals),
    )


def deming_line(x: Array, y: Array, error_ratio: float) -> tuple[float, float]:
    """Slope and intercept through (n,) points; nan where they do not vary together."""
    mean_x, mean_y = float(x.mean()), float(y.mean())
    sxx, syy = float(((x - mean_x) ** 2).sum()), float(((y - mean_y) ** 2).sum())
    sxy = float(((x - mean_x) * (y - mean_y)).sum())
    if sxy == 0.0:
        return float("nan"), float("nan")
    steep = syy - error_ratio * sxx
    slope = (steep + math.sqrt(steep**2 + 4.0 * error_ratio * sxy**2)) / (2.0 * sxy)
    return slope, mean_y - slope * mean_x


def passing_bablok(pairs: Pairs, *, confidence: float = CONFIDENCE) -> Line:
    """Line of the shifted median slope, with its rank interval. [PassingBablok1983]

    Of the slopes through any two points, those of 0/0 and of exactly -1 are left out. Where only the reference values
    are tied the slope counts as infinitely steep upwards, whatever the order of the points. The interval holds for
    points that are independent, so it is nan for linked pairs with several an animal.

    Raises PairsError with fewer than three animals and where the two do not vary together.
    """
    x, y, index = points_of(pairs)
    _check(pairs, x, y)
    slopes, same, upright = pairwise_slopes(x, y)
    n, shift = slopes.size, int((slopes < -1.0).sum())
    slope = _middle(slopes, shift)
    low, high = float("nan"), float("nan")
    if x.size == int(index.max()) + 1:
        z = normal_quantile(0.5 + 0.5 * confidence)
        half = z * math.sqrt(x.size * (x.size - 1) * (2 * x.size + 5) / 18.0)
        # halves are rounded to even; ranks that run out of the slopes leave the interval open
        first = round((n - half) / 2.0)
        last = n - first + 1
        low = float(slopes[first + shift - 1]) if first >= 1 else -math.inf
        high = float(slopes[last + shift - 1]) if first >= 1 and last + shift <= n else math.inf
    told = Interval(estimate=slope, low=low, high=high, confidence=confidence)
    ends = [float(np.median(y - each * x)) if math.isfinite(each) else -each for each in (high, low)]
    return Line(
        name="Passing-Bablok",
        slope=told,
        intercept=Interval(estimate=float(np.median(y - slope * x)), low=ends[0], high=ends[1], confidence=confidence),
        error_ratio=None,
        points=x.size,
        animals=len(pairs.animals),
        tied=(same, upright),
    )


def pairwise_slopes(x: Array, y: Array) -> tuple[Array, int, int]:
    """Sorted slopes through any two of (n,) points, and how many were left out for being 0/0 or made infinite."""
    i, j = np.triu_indices(x.size, 1)
    run, rise = x[i] - x[j], y[i] - y[j]
    same = (run == 0.0) & (rise == 0.0)
    upright = (run == 0.0) & ~same
    slopes = np.full(run.size, np.inf)
    np.divide(rise, run, out=slopes, where=run != 0.0)
    return np.sort(slopes[~same & (slopes != -1.0)]), int(same.sum()), int(upright.sum())


def _middle(slopes: Array, shift: int) -> float:
    """Median of sorted slopes, moved up by the number of those under -1."""
    n = slopes.size
    if n % 2:
        return float(slopes[(n - 1) // 2 + shift])
    return 0.5 * float(slopes[n // 2 - 1 + shift] + slopes[n // 2 + shift])


def _check(pairs: Pairs, x: Array, y: Array) -> None:
    animals = len(pairs.animals)
    if animals < 3:
        raise PairsError(
            "too-few-animals", f"{pairs.quantity}: a line through {animals} animals tells nothing", "compare in more"
        )
    together = float(((x - x.mean()) * (y - y.mean())).sum())
    if together <= 0.0:
        raise PairsError(
            "not-together",
            f"{pairs.quantity}: tested and reference do not rise together",
            "look whether the columns belong together, and compare over a wider range",
        )
