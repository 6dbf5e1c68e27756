"""Values that carry their uncertainty or their source."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal, get_args

# Standard deviations to either side that hold 95 % of a normal law.
TWO_SIDED_95 = 1.959963984540054
ONE_SIDED_95 = 1.6448536269514722  # to one side

# From what was seen in print to what is our own.
Standing = Literal["published", "as quoted", "from memory", "common practice", "derived", "invented"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """A value with its 95 % interval and the two parts of its standard deviation.

    value     : best value, in `unit`
    low, high : 95 % interval, low <= value <= high
    own_sd    : the part that the next reading would draw anew
    shared_sd : the part shared by every reading of the same animal, cuff and method; averaging cannot remove it.
                None where nothing is known of it, as of a display: then it is in neither the interval nor `sd`
    """

    value: float
    low: float
    high: float
    own_sd: float
    shared_sd: float | None
    unit: str = "mmHg"

    def __post_init__(self) -> None:
        if not (self.low <= self.value <= self.high):
            raise AssertionError(f"interval {self.low}..{self.high} does not hold {self.value}")

    @property
    def sd(self) -> float:
        """Standard deviation, both parts together as far as they are known."""
        return math.hypot(self.own_sd, self.shared_sd or 0.0)

    @property
    def spread_below_and_above(self) -> tuple[float, float]:
        """Standard deviations of the lower and the upper half.

        Each is the estimate's own, or more where its 95 % interval is wider than a normal law of that deviation would
        make it (few readings): then the one that reproduces the interval on that side.
        """
        return (
            max(self.sd, (self.value - self.low) / TWO_SIDED_95),
            max(self.sd, (self.high - self.value) / TWO_SIDED_95),
        )

    def with_shared_sd(self, shared_sd: float) -> Estimate:
        """The same value with its shared part known from elsewhere, as from a comparison with a reference.

        It stands in place of the part that was assumed, which is an error of the same kind; the own part, and what
        the interval holds beyond a normal law, stay. [mmHg]
        """
        low, high = (
            TWO_SIDED_95 * math.hypot(math.sqrt(max(0.0, spread**2 - (self.shared_sd or 0.0) ** 2)), shared_sd)
            for spread in self.spread_below_and_above
        )
        return replace(self, low=self.value - low, high=self.value + high, shared_sd=shared_sd)

    def share_below(self, limit: float, *further_sd: float) -> float:
        """Probability of lying under a limit: the value is taken for the median, either half for normal.

        further_sd : standard deviations added to either half in quadrature. Without any spread it is 1 or 0.
        """
        below, above = self.spread_below_and_above
        spread = math.hypot(below if limit < self.value else above, *further_sd)
        if spread == 0.0:
            return 1.0 if self.value < limit else 0.0
        return 0.5 * math.erfc((self.value - limit) / (spread * math.sqrt(2.0)))


@dataclass(frozen=True, slots=True)
class Cited:
    """A number with its unit, its source, the place in that source, and how far it was verified.

    standing is `published` where the figure was seen in the source or a copy of it, `as quoted` where it was seen only
    as another text quotes it, `from memory` where it is recalled from a printed source that was not at hand, `common
    practice` where the trade does so without a source, `derived` where it was calculated from others, and `invented`
    where it is a guess that we freeze.
    """

    value: float
    unit: str
    source: str
    place: str
    standing: Standing


def least_verified(*cited: Cited) -> Cited:
    """The one of several numbers that was verified least; the first of them where several were."""
    order = get_args(Standing)
    return max(cited, key=lambda each: order.index(each.standing))
