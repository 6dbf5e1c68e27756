"""Mean and scatter of the differences between two methods, as replicates of an animal allow.

Every interval for bias, limits, and shares under a normal law rests on these. With one pair an animal the scatter is
the plain standard deviation. With replicates of a constant truth, the means of an animal scatter less than its single
values, so what averaging took away is added again; with linked pairs, whose truth changes, the scatter has a part
between animals and one within. [BlandAltman1999], sections 5.1 to 5.3.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from quietlimb.agreement.components import OneWay, one_way
from quietlimb.agreement.pairs import Pairs, Replicates, Truth
from quietlimb.engine.errors import PairsError


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One part of the variance of a single difference, with its degrees of freedom."""

    name: str
    variance: float
    df: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """Mean of the differences, how well it is known, and the variance of a single difference.

    truth         : what was taken for granted of the true value
    animals, pairs: how many; with unequal replicates `pairs` is the smaller of the two numbers of values
    mean          : tested minus reference
    mean_variance : of that mean, with `mean_df` degrees of freedom
    parts         : of the variance of a difference between one tested and one reference value
    variance      : their sum; for linked pairs not below the part within animals
    """

    truth: Truth
    animals: int
    pairs: int
    mean: float
    mean_variance: float
    mean_df: float
    parts: tuple[Part, ...]
    variance: float

    @property
    def sd(self) -> float:
        """Standard deviation of a difference between one tested and one reference value."""
        return math.sqrt(self.variance)

    @property
    def sd_variance(self) -> float:
        """Variance of that standard deviation, to first order."""
        if self.variance == 0.0:
            return 0.0
        return sum(2.0 * part.variance**2 / part.df for part in self.parts) / (4.0 * self.variance)


def spread_of(given: Pairs | Replicates) -> Spread:
    """Mean and scatter of the differences.

    Raises PairsError with fewer than two animals.
    """
    animals = len(given.animals)
    if animals < 2:
        raise PairsError(
            "too-few-animals",
            f"{given.quantity}: {animals} animal tells nothing of how animals differ",
            "compare in two animals at least; the criteria ask for 8 or more",
        )
    if isinstance(given, Replicates):
        return _constant(given)
    if given.n == animals:
        return _single(given)
    return _constant(Replicates.from_pairs(given)) if given.truth == "constant" else _linked(given)


def _single(pairs: Pairs) -> Spread:
    difference = pairs.difference
    n = difference.size
    variance = float(difference.var(ddof=1))
    return Spread(
        truth="single",
        animals=n,
        pairs=n,
        mean=float(difference.mean()),
        mean_variance=variance / n,
        mean_df=n - 1,
        parts=(Part(name="between animals", variance=variance, df=n - 1),),
        variance=variance,
    )


def _constant(replicates: Replicates) -> Spread:
    means = replicates.tested_means - replicates.reference_means
    k = means.size
    between = float(means.var(ddof=1))
    parts = [Part(name="animal means", variance=between, df=k - 1)]
    for name, values in (("within, tested", replicates.tested), ("within, reference", replicates.reference)):
        sizes = np.array([each.size for each in values])
        if sizes.max() == 1:
            continue  # a mean of one value took nothing away
        df = int(sizes.sum()) - k
        pooled = sum(float(((each - each.mean()) ** 2).sum()) for each in values) / df
        taken_away = 1.0 - float((1.0 / sizes).mean())
        parts.append(Part(name=name, variance=taken_away * pooled, df=df))
    return Spread(
        truth="constant",
        animals=k,
        pairs=min(sum(v.size for v in replicates.tested), sum(v.size for v in replicates.reference)),
        mean=float(means.mean()),
        mean_variance=between / k,
        mean_df=k - 1,
        parts=tuple(parts),
        variance=sum(part.variance for part in parts),
    )


def _linked(pairs: Pairs) -> Spread:
    table = one_way(pairs.difference, pairs.index)
    within = (1.0 - 1.0 / table.size) * table.within_ms
    mean_variance, mean_df = _variance_of_mean(table)
    return Spread(
        truth="changing",
        animals=table.groups,
        pairs=table.n,
        mean=table.mean,
        mean_variance=mean_variance,
        mean_df=mean_df,
        parts=(
            Part(name="animal means", variance=table.between_ms / table.size, df=table.between_df),
            Part(name="within animals", variance=within, df=table.within_df),
        ),
        variance=table.between_variance + table.within_ms,
    )


def _variance_of_mean(table: OneWay) -> tuple[float, float]:
    """Variance of the mean of all pairs and its degrees of freedom, by Satterthwaite; at most one less than animals.

    With equal numbers of pairs it is MSb / n, with k - 1.
    """
    of_between = table.sum_of_squared_sizes / (table.n**2 * table.size)
    of_within = 1.0 / table.n - of_between
    parts = (of_between * table.between_ms, of_within * table.within_ms)
    variance = max(sum(parts), table.within_ms / table.n if of_within < 0.0 else 0.0)
    scale = parts[0] ** 2 / table.between_df + parts[1] ** 2 / table.within_df
    df = min(variance**2 / scale, table.between_df) if scale > 0.0 else table.between_df
    return variance, max(1.0, df)
