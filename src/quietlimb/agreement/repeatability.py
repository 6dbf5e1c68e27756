"""Repeatability of a method against itself: how far two of its values of one animal may lie apart."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from quietlimb.agreement.interval import CONFIDENCE, Interval
from quietlimb.agreement.laws import chi_squared_quantile
from quietlimb.agreement.limits import MULTIPLIER
from quietlimb.agreement.pairs import Pairs, Replicates
from quietlimb.engine.errors import PairsError


@dataclass(frozen=True, slots=True, kw_only=True)
class Repeatability:
    """Scatter of one method within an animal whose true value stood still. [unit]

    within_sd   : standard deviation of single values of an animal
    coefficient : within which two values of one animal differ in 95 of 100, 1.96 sqrt(2) within_sd
    df          : degrees of freedom, values less animals
    """

    within_sd: Interval
    coefficient: Interval
    df: int
    animals: int
    values: int


def repeatability(
    given: Pairs | Replicates,
    method: Literal["tested", "reference"],
    *,
    multiplier: float = MULTIPLIER,
    confidence: float = CONFIDENCE,
) -> Repeatability:
    """Repeatability of one of the two methods, from replicates of a constant truth.

    Raises PairsError where the truth changed, and where no animal has two values. [BlandAltman1999], section 3
    """
    replicates = given if isinstance(given, Replicates) else Replicates.from_pairs(given)
    values = replicates.tested if method == "tested" else replicates.reference
    return repeatability_of(
        values, name=f"{replicates.quantity}, {method}", multiplier=multiplier, confidence=confidence
    )


def repeatability_of(
    values: tuple[NDArray[np.float64], ...],
    *,
    name: str = "the method",
    multiplier: float = MULTIPLIER,
    confidence: float = CONFIDENCE,
) -> Repeatability:
    """Repeatability from one array of values for each animal; the interval is exact for normal errors."""
    n = sum(each.size for each in values)
    df = n - len(values)
    if df < 1:
        raise PairsError(
            "no-replicates",
            f"{name}: no animal has two values, so their scatter is unknown",
            "take two or more values of each animal while its pressure stands still",
        )
    variance = sum(float(((each - each.mean()) ** 2).sum()) for each in values) / df
    tail = 0.5 - 0.5 * confidence
    low, high = (math.sqrt(variance * df / chi_squared_quantile(p, df)) for p in (1.0 - tail, tail))
    sd = math.sqrt(variance)
    factor = multiplier * math.sqrt(2.0)
    return Repeatability(
        within_sd=Interval(estimate=sd, low=low, high=high, confidence=confidence),
        coefficient=Interval(estimate=factor * sd, low=factor * low, high=factor * high, confidence=confidence),
        df=df,
        animals=len(values),
        values=n,
    )
