"""Correlation of two methods over all pairs, and within animals.

A high one is no agreement: it grows with the range of pressures, and no bias lowers it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from quietlimb.agreement.interval import CONFIDENCE, Interval
from quietlimb.agreement.jackknife import jackknife_interval
from quietlimb.agreement.laws import normal_quantile
from quietlimb.agreement.pairs import Pairs, Replicates
from quietlimb.engine.errors import PairsError

Array = NDArray[np.float64]

ALIKE = 1e-12  # of a value: what is left of the same numbers when their mean is taken out


@dataclass(frozen=True, slots=True, kw_only=True)
class Correlation:
    """Two correlations, each with its interval.

    pooled  : Pearson's, over all pairs; for replicates of a constant truth over the means of each animal. It grows
              with the range of pressures
    within  : whether a rise within an animal by one method goes with a rise by the other, differences between animals
              taken out; None where no truth changed within an animal
    """

    pooled: Interval
    within: Interval | None


def correlation(pairs: Pairs, *, confidence: float = CONFIDENCE) -> Correlation:
    """Pooled and within-animal correlation.

    Raises PairsError with fewer than four animals, and where a method gave the same value throughout.
    """
    animals = len(pairs.animals)
    if animals < 4:
        raise PairsError(
            "too-few-animals",
            f"{pairs.quantity}: {animals} animals are too few for a correlation",
            "compare in four animals at least",
        )
    linked = pairs.truth == "changing" and pairs.n > animals
    if linked:
        pooled = jackknife_interval(
            lambda kept: _pearson(pairs.tested[kept], pairs.reference[kept]),
            pairs.index,
            onto=atanh,
            back=math.tanh,
            confidence=confidence,
        )
    else:
        each = Replicates.from_pairs(pairs) if pairs.truth == "constant" else None
        x, y = (pairs.tested, pairs.reference) if each is None else (each.tested_means, each.reference_means)
        pooled = fisher_interval(_pearson(x, y), animals - 3, confidence)
    if math.isnan(pooled.estimate):
        raise PairsError(
            "pressures-alike",
            f"{pairs.quantity}: one of the methods gave the same value throughout",
            "compare over a wider range",
        )
    return Correlation(pooled=pooled, within=_within(pairs, confidence) if linked else None)


def fisher_interval(r: float, weight: float, confidence: float) -> Interval:
    """A correlation with the interval that is normal in atanh(r) with variance 1 / weight; nan where that is not
    above 0."""
    half = normal_quantile(0.5 + 0.5 * confidence) / math.sqrt(weight) if weight > 0.0 else float("nan")
    middle = atanh(r)
    return Interval(estimate=r, low=math.tanh(middle - half), high=math.tanh(middle + half), confidence=confidence)


def atanh(r: float) -> float:
    """Fisher's z, infinite at 1 and -1; nan of nan, which is no correlation of 1."""
    return math.atanh(r) if abs(r) < 1.0 or math.isnan(r) else math.copysign(math.inf, r)


def _pearson(x: Array, y: Array) -> float:
    """nan where one of the two does not vary, but for the last digits."""
    dx, dy = x - x.mean(), y - y.mean()
    if _alike(dx, x) or _alike(dy, y):
        return float("nan")
    scale = math.sqrt(float((dx**2).sum()) * float((dy**2).sum()))
    return min(1.0, max(-1.0, float((dx * dy).sum()) / scale)) if scale > 0.0 else float("nan")


def _alike(apart: Array, values: Array) -> bool:
    """Whether values, apart from their means by so much, are the same but for the last digits."""
    return float(np.abs(apart).max()) <= ALIKE * float(np.abs(values).max())


def _within(pairs: Pairs, confidence: float) -> Interval | None:
    """Correlation of what is left of both after each animal's mean is taken out ([BlandAltman1995]).

    The interval is Fisher's, with as many degrees of freedom as the residual of the analysis of covariance has.
    """
    index, sizes = pairs.index, np.bincount(pairs.index)
    x, y = (v - (np.bincount(index, v) / sizes)[index] for v in (pairs.tested, pairs.reference))
    if _alike(x, pairs.tested) or _alike(y, pairs.reference):
        return None
    r = _pearson(x, y)
    df = pairs.n - sizes.size - 1
    return None if math.isnan(r) or df < 1 else fisher_interval(r, df - 1.0, confidence)
