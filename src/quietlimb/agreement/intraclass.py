"""Intraclass correlation in the six forms of Shrout and Fleiss. [ShroutFleiss1979]"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from quietlimb.agreement.interval import CONFIDENCE, Interval
from quietlimb.agreement.laws import f_quantile
from quietlimb.agreement.pairs import Pairs
from quietlimb.engine.errors import PairsError

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Intraclass:
    """Six forms; `single` of one value, `average` of the mean of all k.

    one_way    : (1,1), (1,k): each target has raters of its own, or values have no order
    two_way    : (2,1), (2,k): the same raters throughout, who stand for others; a bias between them counts
    consistency: (3,1), (3,k): the same raters throughout, and only they; a constant bias between them does not count
    """

    targets: int
    raters: int
    one_way_single: Interval
    two_way_single: Interval
    consistency_single: Interval
    one_way_average: Interval
    two_way_average: Interval
    consistency_average: Interval


def intraclass_of_pairs(pairs: Pairs, *, confidence: float = CONFIDENCE) -> Intraclass:
    """The two methods as two raters of each animal. Raises PairsError unless there is one pair an animal."""
    if pairs.n > len(pairs.animals):
        raise PairsError(
            "replicates-of-one",
            f"{pairs.quantity}: animals have several pairs, and these forms know one value a rater",
            "use one pair an animal, or the concordance coefficient, which knows replicates",
        )
    return intraclass(np.column_stack([pairs.tested, pairs.reference]), confidence=confidence)


def intraclass(table: Array, *, confidence: float = CONFIDENCE) -> Intraclass:
    """The six forms of an (n targets, k raters) table, n >= 2, k >= 2.

    Raises PairsError for fewer, and where nothing is left of the variance to judge by.
    """
    n, k = table.shape
    if n < 2 or k < 2:
        raise PairsError(
            "too-few-animals", f"there are {n} targets and {k} values of each", "give two of each, at least"
        )
    grand = float(table.mean())
    rows, columns = table.mean(axis=1), table.mean(axis=0)
    between = k * float(((rows - grand) ** 2).sum())
    raters = n * float(((columns - grand) ** 2).sum())
    within = float(((table - rows[:, None]) ** 2).sum())
    error = float(((table - rows[:, None] - columns[None, :] + grand) ** 2).sum())
    b, c, w, e = between / (n - 1), raters / (k - 1), within / (n * (k - 1)), error / ((n - 1) * (k - 1))
    if not (w > 0.0 and e > 0.0):
        raise PairsError(
            "differences-alike",
            "the raters never differ, or always by the same",
            "look whether the values are real",
        )
    one, two, three = (
        _one_way(b, w, n, k, confidence),
        _two_way(b, c, e, n, k, confidence),
        _consistency(b, e, n, k, confidence),
    )
    return Intraclass(
        targets=n,
        raters=k,
        one_way_single=one,
        two_way_single=two,
        consistency_single=three,
        one_way_average=_of_average(one, k),
        two_way_average=_of_average(two, k),
        consistency_average=_of_average(three, k),
    )


def _quantile(confidence: float, first: float, second: float) -> float:
    return f_quantile(0.5 + 0.5 * confidence, first, second)


def _one_way(b: float, w: float, n: int, k: int, confidence: float) -> Interval:
    f, df, error_df = b / w, n - 1, n * (k - 1)
    low, high = f / _quantile(confidence, df, error_df), f * _quantile(confidence, error_df, df)
    return Interval(
        estimate=(f - 1.0) / (f + k - 1.0),
        low=(low - 1.0) / (low + k - 1.0),
        high=(high - 1.0) / (high + k - 1.0),
        confidence=confidence,
    )


def _consistency(b: float, e: float, n: int, k: int, confidence: float) -> Interval:
    f, df, error_df = b / e, n - 1, (n - 1) * (k - 1)
    low, high = f / _quantile(confidence, df, error_df), f * _quantile(confidence, error_df, df)
    return Interval(
        estimate=(f - 1.0) / (f + k - 1.0),
        low=(low - 1.0) / (low + k - 1.0),
        high=(high - 1.0) / (high + k - 1.0),
        confidence=confidence,
    )


def _two_way(b: float, c: float, e: float, n: int, k: int, confidence: float) -> Interval:
    """Degrees of freedom by Satterthwaite, as printed in the paper's appendix."""
    value = (b - e) / (b + (k - 1) * e + k * (c - e) / n)
    ratio = c / e
    rest = n * (1.0 + (k - 1) * value) - k * value
    squares = (n - 1) * (k * value * ratio) ** 2 + rest**2
    df = (k - 1) * (n - 1) * (k * value * ratio + rest) ** 2 / squares
    down, up = _quantile(confidence, n - 1, df), _quantile(confidence, df, n - 1)
    rest_ms = k * c + (k * n - k - n) * e
    return Interval(
        estimate=value,
        low=n * (b - down * e) / (down * rest_ms + n * b),
        high=n * (up * b - e) / (rest_ms + n * up * b),
        confidence=confidence,
    )


def _of_average(single: Interval, k: int) -> Interval:
    """The same of the mean of k values, by Spearman and Brown."""

    def risen(value: float) -> float:
        below = 1.0 + (k - 1) * value
        return k * value / below if below > 0.0 else float("-inf")

    return Interval(
        estimate=risen(single.estimate), low=risen(single.low), high=risen(single.high), confidence=single.confidence
    )
