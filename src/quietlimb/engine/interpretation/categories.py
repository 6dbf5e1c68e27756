"""Risk category of a systolic pressure, and how probable each category is."""

from __future__ import annotations

from quietlimb.engine.interpretation.interpretation import CategoryProbability
from quietlimb.engine.standards.acvim_2018 import ACVIM_2018
from quietlimb.engine.standards.rule_set import RuleSet
from quietlimb.engine.values import Estimate

CLOSE_MMHG = 3.0  # to a boundary, whatever the uncertainty [invented]


def category_of(systolic_mmhg: float, rules: RuleSet = ACVIM_2018) -> str:
    """The category that holds a pressure: half open, as [0, 140) [140, 160) [160, 180) [180, ...), never rounded
    first."""
    return rules.category_of(systolic_mmhg)


def exact(systolic_mmhg: float) -> Estimate:
    """A plain number as an estimate without uncertainty."""
    return Estimate(value=systolic_mmhg, low=systolic_mmhg, high=systolic_mmhg, own_sd=0.0, shared_sd=0.0)


def knowing_the_method(systolic: Estimate, method_sd: float) -> Estimate:
    """The estimate with the error of the method in place of its shared part; as it is where none is known (0)."""
    return systolic if method_sd == 0.0 else systolic.with_shared_sd(method_sd)


def category_probabilities(
    systolic: Estimate, *, day_to_day_sd: float = 0.0, method_sd: float = 0.0, rules: RuleSet = ACVIM_2018
) -> tuple[CategoryProbability, ...]:
    """Probability of each category, in rising order; they sum to 1.

    Parameters
    ----------
    systolic      : taken as `Estimate.share_below` does. An estimate without any spread has probability 1 in its own
                    category. [mmHg]
    day_to_day_sd : added in quadrature to either half: 0 for this session's pressure, more for the animal. [mmHg]
    method_sd     : error of the method, where a comparison gives it; it stands in place of the shared part of the
                    estimate, which would count the same error twice. 0 where no comparison gives one. [mmHg]
    """
    edges: list[float | None] = [0.0, *(edge.value for edge in rules.systolic_from), None]
    shares = rules.shares(knowing_the_method(systolic, method_sd), day_to_day_sd)
    return tuple(
        CategoryProbability(name=name, from_mmhg=edges[k], to_mmhg=edges[k + 1], probability=shares[k])
        for k, name in enumerate(rules.categories)
    )


def is_near_boundary(systolic: Estimate, rules: RuleSet = ACVIM_2018) -> bool:
    """Whether the 95 % interval reaches over a boundary, or the value lies within `CLOSE_MMHG` of one."""
    if rules.boundary_reached(systolic) is not None:
        return True
    return any(abs(edge.value - systolic.value) <= CLOSE_MMHG for edge in rules.systolic_from)
