"""How often readings are spoiled before the series is seen: seldom, some animals more than others, and in runs.

The number of spoiled ones among n readings is beta-binomial, cut off so that most readings are good: where half of a
series or more is spoiled nothing in the numbers tells which half. Among sets of the same size those are likelier whose
members stand side by side: an animal that struggles does so for longer than one reading, and throws it to the same
side. All figures are invented; they were chosen on simulated series, on other seeds than those of the printed
validation.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.special import betaln

Values = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Spoiling:
    """What is believed of spoiled readings before the series is seen.

    share         : of readings that are spoiled without a stated cause, in the long run
    concentration : how alike animals are in it: that of the beta distribution of the share; large for all alike
    same_side     : factor on the odds of a set for each pair of neighbours in it that are off to the same side
    other_side    : the same where neighbours are off to opposite sides
    """

    share: float = 0.35
    concentration: float = 10.0
    same_side: float = 8.0
    other_side: float = 0.25

    @staticmethod
    def most(n: int) -> int:
        """How many of n readings may be spoiled: fewer than half, but one of two; a single one is all there is."""
        return 0 if n == 1 else max(1, (n - 1) // 2)

    def weights(self, n: int) -> Values:
        """(most + 1,) probability of one particular set of so many spoiled readings, before factors for neighbours.

        Summed over all sets and both sides of each member, with the factors, they give the truncated beta-binomial.
        """
        return _weights(n, self)


NOTHING_SPOILED = Spoiling(share=0.0)


@lru_cache(maxsize=128)
def _weights(n: int, spoiling: Spoiling) -> Values:
    if spoiling.share <= 0.0:
        return np.ones(1)
    count = np.arange(Spoiling.most(n) + 1, dtype=np.float64)
    a, b = spoiling.share * spoiling.concentration, (1.0 - spoiling.share) * spoiling.concentration
    one_set = np.exp(betaln(count + a, n - count + b))  # a set of so many, all sets alike
    sets = np.array([_sets(n, k, 1.0) for k in range(count.size)])
    probability = one_set * sets / (one_set @ sets)
    between = 0.5 * (spoiling.same_side + spoiling.other_side)  # sides are equally likely
    weight: Values = probability / np.array([_sets(n, k, between) for k in range(count.size)])
    return weight


def _sets(n: int, size: int, between: float) -> float:
    """Sum over all sets of this size out of n in a row of `between` to the number of neighbours in them."""
    good, spoiled = np.zeros(size + 1), np.zeros(size + 1)
    good[0] = 1.0
    for _ in range(n):
        ends_spoiled = np.zeros(size + 1)
        ends_spoiled[1:] = good[:-1] + between * spoiled[:-1]
        good, spoiled = good + spoiled, ends_spoiled
    return float(good[size] + spoiled[size])
