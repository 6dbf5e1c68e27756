"""Shares: of the pairs, how many lie within 5, 10, 15, 20 mmHg of each other; with intervals.

The plain interval is Wilson's ([Wilson1927]). It takes every pair for independent, which pairs of one animal are not:
beside it stands one for which the number of pairs is brought down by the design effect, from the likeness of the pairs
of an animal, and widened for the few animals that this likeness was seen in ([KornGraubard1998]).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from quietlimb.agreement.components import one_way
from quietlimb.agreement.interval import CONFIDENCE, Interval
from quietlimb.agreement.laws import normal_quantile, t_quantile
from quietlimb.agreement.pairs import Pairs

WITHIN = (5.0, 10.0, 15.0, 20.0)
SLACK = 1e-9  # two decimals that differ by 10 may differ by a hair more as binary numbers


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """So many of so many.

    count, n    : of pairs
    plain       : the share with Wilson's interval, as if every pair were of another animal
    by_animal   : the same share with the interval that knows that they are not; the same as `plain` with one pair each
    effective_n : independent pairs that the n are worth
    """

    count: int
    n: int
    animals: int
    plain: Interval
    by_animal: Interval
    effective_n: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ShareWithin:
    """Share of the pairs that differ by at most `limit`, the limit itself included. [unit]"""

    limit: float
    share: Share


def shares_within(
    pairs: Pairs, limits: tuple[float, ...] = WITHIN, *, confidence: float = CONFIDENCE
) -> tuple[ShareWithin, ...]:
    """Share of the pairs within each limit."""
    apart = np.abs(pairs.difference)
    return tuple(
        ShareWithin(limit=limit, share=share_of(apart <= limit + SLACK, pairs.index, confidence=confidence))
        for limit in limits
    )


def share_of(hits: NDArray[np.bool_], index: NDArray[np.int64], *, confidence: float = CONFIDENCE) -> Share:
    """Share of (n,) hits, n >= 1, with both intervals; `index` numbers the animals, with gaps allowed."""
    _, index = np.unique(index, return_inverse=True)
    count, n, animals = int(hits.sum()), hits.size, int(index.max()) + 1
    effective = n if n == animals else effective_size(hits.astype(np.float64), index)
    widened = effective if n == animals else effective * _for_few(n, animals, confidence)
    return Share(
        count=count,
        n=n,
        animals=animals,
        plain=wilson(count / n, n, confidence=confidence),
        by_animal=wilson(count / n, widened, confidence=confidence),
        effective_n=float(effective),
    )


def share_if_all(pairs: Pairs, *, confidence: float = CONFIDENCE) -> Interval:
    """The interval of a share of these pairs if all of them were hits: no share can be known better at that end."""
    return share_of(np.ones(pairs.n, dtype=bool), pairs.index, confidence=confidence).by_animal


def effective_size(values: NDArray[np.float64], index: NDArray[np.int64]) -> float:
    """Independent values that (n,) values of several animals are worth: n over 1 + (m - 1) ICC.

    m is the size of an animal's set as a pair meets it, sum m^2 / n. One animal is worth one value. Where all values
    are alike nothing is known of the likeness within animals, and each animal counts once.
    """
    table = one_way(values, index)
    if table.groups == 1:
        return 1.0
    likeness = table.intraclass
    if math.isnan(likeness):
        return float(table.groups)
    size = table.sum_of_squared_sizes / table.n
    return table.n / (1.0 + (size - 1.0) * likeness)


def _for_few(n: int, animals: int, confidence: float) -> float:
    """Factor on the effective number for what few animals tell of the likeness: squared ratio of two t quantiles."""
    if animals < 2:
        return 1.0
    p = 0.5 + 0.5 * confidence
    return (t_quantile(p, n - 1) / t_quantile(p, animals - 1)) ** 2


def wilson(share: float, n: float, *, confidence: float = CONFIDENCE) -> Interval:
    """Wilson's interval of a share of n, which need not be a whole number."""
    z2 = normal_quantile(0.5 + 0.5 * confidence) ** 2
    middle = (share + z2 / (2.0 * n)) / (1.0 + z2 / n)
    half = math.sqrt(share * (1.0 - share) * z2 / n + (z2 / (2.0 * n)) ** 2) / (1.0 + z2 / n)
    # at 0 and 1 the ends are these, but for the last digit
    low = 0.0 if share == 0.0 else middle - half
    high = 1.0 if share == 1.0 else middle + half
    return Interval(estimate=share, low=max(0.0, low), high=min(1.0, high), confidence=confidence)
