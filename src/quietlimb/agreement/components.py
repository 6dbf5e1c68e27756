"""One-way analysis of variance: how much of a scatter lies between animals, and how much within them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Index = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class OneWay:
    """Mean squares of (n,) values in k groups of sizes m.

    mean                  : of all values
    between_ms, within_ms : mean squares; nan with one group, and where no group has two values
    size                  : m0, the size of a group that stands for unequal ones: (n^2 - sum m^2) / ((k - 1) n)
    sum_of_squared_sizes  : sum m^2
    """

    mean: float
    groups: int
    n: int
    between_ms: float
    within_ms: float
    size: float
    sum_of_squared_sizes: float

    @property
    def between_df(self) -> int:
        """Degrees of freedom between groups."""
        return self.groups - 1

    @property
    def within_df(self) -> int:
        """Degrees of freedom within groups."""
        return self.n - self.groups

    @property
    def between_variance(self) -> float:
        """Variance of the groups' true means; 0 where the estimate would lie below it."""
        return max(0.0, (self.between_ms - self.within_ms) / self.size)

    @property
    def intraclass(self) -> float:
        """Share of the variance that lies between groups, 0..1; nan where nothing varies."""
        total = self.between_variance + self.within_ms
        return self.between_variance / total if total > 0.0 else float("nan")


def one_way(values: Array, index: Index) -> OneWay:
    """Mean squares of (n,) values by (n,) group numbers, which count from 0 without a gap."""
    sizes = np.bincount(index).astype(np.float64)
    means = np.bincount(index, values) / sizes
    n, groups = values.size, sizes.size
    mean = float(values.mean())
    squared = float((sizes**2).sum())
    between = float((sizes * (means - mean) ** 2).sum())
    within = float(((values - means[index]) ** 2).sum())
    return OneWay(
        mean=mean,
        groups=groups,
        n=n,
        between_ms=between / (groups - 1) if groups > 1 else float("nan"),
        within_ms=within / (n - groups) if n > groups else float("nan"),
        size=(n * n - squared) / ((groups - 1) * n) if groups > 1 else float("nan"),
        sum_of_squared_sizes=squared,
    )
