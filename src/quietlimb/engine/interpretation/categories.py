"""Risk category of a systolic pressure, and how probable each category is."""

from __future__ import annotations

import math

from quietlimb.engine.interpretation.interpretation import CategoryProbability
from quietlimb.engine.standards.acvim_2018 import ACVIM_2018
from quietlimb.engine.standards.rule_set import RuleSet
from quietlimb.engine.values import Estimate

_HALF_WIDTH_95 = 1.959963984540054


def category_of(systolic_mmhg: float, rules: RuleSet = ACVIM_2018) -> str:
    """The category that holds a pressure: half open, as [0, 140) [140, 160) [160, 180) [180, ...), never rounded
    first."""
    return rules.category_of(systolic_mmhg)


def exact(systolic_mmhg: float) -> Estimate:
    """A plain number as an estimate without uncertainty."""
    return Estimate(value=systolic_mmhg, low=systolic_mmhg, high=systolic_mmhg, own_sd=0.0, shared_sd=0.0)


def spread_below_and_above(systolic: Estimate) -> tuple[float, float]:
    """Standard deviations of the lower and the upper half of the estimate. [mmHg]

    Each is the estimate's own standard deviation, or more where its 95 % interval is wider than a normal law of that
    deviation would make it (few readings): then the one that reproduces the interval on that side.
    """
    below = (systolic.value - systolic.low) / _HALF_WIDTH_95
    above = (systolic.high - systolic.value) / _HALF_WIDTH_95
    return max(systolic.sd, below), max(systolic.sd, above)


def _share_below(edge: float, value: float, below: float, above: float) -> float:
    spread = below if edge < value else above
    if spread == 0.0:
        return 1.0 if value < edge else 0.0
    return 0.5 * math.erfc((value - edge) / (spread * math.sqrt(2.0)))


def category_probabilities(
    systolic: Estimate, *, day_to_day_sd: float = 0.0, method_sd: float = 0.0, rules: RuleSet = ACVIM_2018
) -> tuple[CategoryProbability, ...]:
    """Probability of each category, in rising order; they sum to 1.

    Parameters
    ----------
    systolic      : the value is taken for the median, its two halves for normal (see `spread_below_and_above`). An
                    estimate without any spread has probability 1 in its own category. [mmHg]
    day_to_day_sd : added in quadrature to either half: 0 for this session's pressure, more for the animal. [mmHg]
    method_sd     : the same for the error of the method, where a comparison gives it. [mmHg]
    """
    below, above = (math.hypot(spread, day_to_day_sd, method_sd) for spread in spread_below_and_above(systolic))
    limits = tuple(edge.value for edge in rules.systolic_from)
    shares = [0.0, *(_share_below(edge, systolic.value, below, above) for edge in limits), 1.0]
    edges: list[float | None] = [0.0, *limits, None]
    return tuple(
        CategoryProbability(
            name=name, from_mmhg=edges[k], to_mmhg=edges[k + 1], probability=max(0.0, shares[k + 1] - shares[k])
        )
        for k, name in enumerate(rules.categories)
    )


def share_below(systolic: Estimate, limit_mmhg: float) -> float:
    """Probability that the pressure lies under a limit, by the same law."""
    below, above = spread_below_and_above(systolic)
    return _share_below(limit_mmhg, systolic.value, below, above)


def is_near_boundary(systolic: Estimate, rules: RuleSet = ACVIM_2018) -> bool:
    """Whether a boundary lies within one standard deviation of the value, on its side of it."""
    below, above = spread_below_and_above(systolic)
    limits = (edge.value for edge in rules.systolic_from)
    return any(-below <= edge - systolic.value <= above for edge in limits)
