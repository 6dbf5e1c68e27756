"""Sums over all sets of readings that may have been spoiled, reading by reading.

For each number j spoiled so far two sums are kept: over the sets whose last reading is good, and over those whose last
reading is spoiled. With the next reading's densities o (good) and g (spoiled), and f for its side against the last's,

    good'_j = (good_j + spoiled_j) o,        spoiled'_j = (good_{j-1} + f spoiled_{j-1}) g

All arrays are of any one shape, a cell each.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import DTypeLike, NDArray

from quietlimb.engine.session.scratch import SCRATCH
from quietlimb.engine.session.spoiling import Spoiling

Values = NDArray[np.float64]
Cells = NDArray[np.floating]
Flags = NDArray[np.bool_]

_RESCALE_EVERY = 6


class SpoiledSets:
    """The running sums; `weights` (most + 1,) is the probability of one set of so many spoiled readings.

    shape, kind : of the cells. A thread works out one such sum at a time: the memory is used again
    """

    def __init__(
        self, weights: Values, spoiling: Spoiling, shape: tuple[int, ...], kind: DTypeLike = np.float64
    ) -> None:
        self._weights = weights
        self._same, self._other = spoiling.same_side, spoiling.other_side
        # (most + 1, cells); those of the last reading spoiled have nothing in row 0
        self._good, self._spoiled, self._next = (
            SCRATCH.array(name, (weights.size, *shape), kind) for name in ("good", "spoiled", "next")
        )
        for cells in (self._good, self._spoiled, self._next):
            cells.fill(0.0)
        self._above: Flags | None = None
        self._added = 0

    def add(self, ordinary: Cells, moved: Cells, above: Flags) -> None:
        """Take in the next reading: its densities as good and as spoiled, and whether it lies above the pressure.

        ordinary     : of the shape of the cells
        moved, above : of the same, or of one that goes with it
        """
        most = self._weights.size - 1
        if self._above is None:
            self._good[0] = ordinary
            self._spoiled[1:2] = moved
        else:
            top = min(self._added, most)  # so many at most are spoiled so far
            one_more = min(top + 1, most)
            beside = np.where(above == self._above, self._same, self._other)
            found = self._next[1 : one_more + 1]
            np.multiply(self._spoiled[:one_more], beside, out=found)
            found += self._good[:one_more]
            found *= moved
            good = self._good[: top + 1]
            good += self._spoiled[: top + 1]
            good *= ordinary
            self._spoiled, self._next = self._next, self._spoiled
        self._above = above
        self._added += 1
        if self._added % _RESCALE_EVERY == 0:
            self._rescale()

    def _rescale(self) -> None:
        largest = max(float(self._good.max()), float(self._spoiled.max()))
        self._good /= largest
        self._spoiled /= largest

    def total(self) -> Cells:
        """The sum over all sets, each by its probability, up to a factor; the end of this one."""
        self._good += self._spoiled
        self._good *= self._weights.astype(self._good.dtype).reshape(-1, *[1] * (self._good.ndim - 1))
        total: Cells = self._good.sum(axis=0)
        return total


def spoiled_probability(ordinary: Cells, moved: Cells, above: Flags, weights: Values, spoiling: Spoiling) -> Values:
    """(n, cells) probability that each reading is spoiled, by sums from both ends; arguments are (n, cells) too."""
    n, cells = ordinary.shape
    size = weights.size
    if size == 1:
        return np.zeros((n, cells))
    beside = np.where(above[1:] == above[:-1], spoiling.same_side, spoiling.other_side)
    good, spoiled = np.zeros((n, size, cells)), np.zeros((n, size, cells))
    good[0, 0], spoiled[0, 1] = ordinary[0], moved[0]
    for i in range(1, n):
        good[i] = (good[i - 1] + spoiled[i - 1]) * ordinary[i]
        spoiled[i, 1:] = (good[i - 1, :-1] + beside[i - 1] * spoiled[i - 1, :-1]) * moved[i]
        largest = np.maximum(good[i].max(axis=0), spoiled[i].max(axis=0))
        good[i] /= largest
        spoiled[i] /= largest
    found = np.empty((n, cells))
    after_good = np.repeat(weights[:, None], cells, axis=1)
    after_spoiled = after_good
    for i in range(n - 1, -1, -1):
        if_good, if_spoiled = (good[i] * after_good).sum(axis=0), (spoiled[i] * after_spoiled).sum(axis=0)
        found[i] = if_spoiled / (if_good + if_spoiled)
        if i:
            through_good = ordinary[i] * after_good
            through_spoiled = np.zeros_like(through_good)
            through_spoiled[:-1] = moved[i] * after_spoiled[1:]
            after_good = through_good + through_spoiled
            after_spoiled = through_good + beside[i - 1] * through_spoiled
            largest = after_good.max(axis=0)
            after_good, after_spoiled = after_good / largest, after_spoiled / largest
    return found
