"""Risk category of a systolic pressure, and how probable each category is."""

from __future__ import annotations

from quietlimb.engine.interpretation.interpretation import CategoryProbability
from quietlimb.engine.standards.acvim_2018 import ACVIM_2018
from quietlimb.engine.standards.rule_set import RuleSet
from quietlimb.engine.values import Estimate


def category_of(systolic_mmhg: float, rules: RuleSet = ACVIM_2018) -> str:
    """The category that holds a pressure: half open, as [0, 140) [140, 160) [160, 180) [180, ...), never rounded
    first."""
    return rules.category_of(systolic_mmhg)


def exact(systolic_mmhg: float) -> Estimate:
    """A plain number as an estimate without uncertainty."""
    return Estimate(value=systolic_mmhg, low=systolic_mmhg, high=systolic_mmhg, own_sd=0.0, shared_sd=0.0)


def category_probabilities(
    systolic: Estimate, *, day_to_day_sd: float = 0.0, method_sd: float = 0.0, rules: RuleSet = ACVIM_2018
) -> tuple[CategoryProbability, ...]:
    """Probability of each category, in rising order; they sum to 1.

    Parameters
    ----------
    systolic      : taken as `Estimate.share_below` does. An estimate without any spread has probability 1 in its own
                    category. [mmHg]
    day_to_day_sd : added in quadrature to either half: 0 for this session's pressure, more for the animal. [mmHg]
    method_sd     : the same for the error of the method, where a comparison gives it. [mmHg]
    """
    edges: list[float | None] = [0.0, *(edge.value for edge in rules.systolic_from), None]
    shares = rules.shares(systolic, day_to_day_sd, method_sd)
    return tuple(
        CategoryProbability(name=name, from_mmhg=edges[k], to_mmhg=edges[k + 1], probability=shares[k])
        for k, name in enumerate(rules.categories)
    )


def is_near_boundary(systolic: Estimate, rules: RuleSet = ACVIM_2018) -> bool:
    """Whether a boundary lies within one standard deviation of the value, on its side of it."""
    below, above = systolic.spread_below_and_above
    limits = (edge.value for edge in rules.systolic_from)
    return any(-below <= edge - systolic.value <= above for edge in limits)
