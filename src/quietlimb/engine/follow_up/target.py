"""Is the target of treatment reached, where among the categories lies an untreated pressure, and is it too low?"""

from __future__ import annotations

from dataclasses import dataclass

from quietlimb.engine.follow_up.mixture import NormalMixture
from quietlimb.engine.standards import low_pressure
from quietlimb.engine.standards.acvim_2018 import ACVIM_2018
from quietlimb.engine.standards.rule_set import RuleSet
from quietlimb.engine.values import Cited


@dataclass(frozen=True, slots=True, kw_only=True)
class TargetProbability:
    """Probability that the underlying systolic pressure lies below a limit, with the rule that set the limit."""

    code: str
    below: Cited
    probability: float


def boundary_probabilities(level: NormalMixture, rules: RuleSet = ACVIM_2018) -> tuple[TargetProbability, ...]:
    """Of an untreated animal, which has no goals: below where each category begins, the highest first, and low."""
    limits = (*(("boundary", edge) for edge in reversed(rules.systolic_from)), ("low", low_pressure.SYSTOLIC_BELOW))
    return tuple(
        TargetProbability(code=code, below=limit, probability=level.below(limit.value)) for code, limit in limits
    )


def target_probabilities(level: NormalMixture, rules: RuleSet = ACVIM_2018) -> tuple[TargetProbability, ...]:
    """Of a treated animal: below the least and the ideal goal, below where to reassess treatment, and low by itself.

    A limit that the rule set does not give is that of ACVIM 2018; where it gives one that holds without signs, that one
    stands in place of the one with signs.
    """
    goals, usual = rules.goals, ACVIM_2018.goals
    guard = (
        ("reassess-with-signs", goals.too_low_with_signs_below or usual.too_low_with_signs_below)
        if goals.too_low_below is None
        else ("reassess", goals.too_low_below)
    )
    limits = (
        ("least-goal", goals.minimum_below or usual.minimum_below),
        ("ideal-goal", goals.ideal_below or usual.ideal_below),
        guard,
        ("low", low_pressure.SYSTOLIC_BELOW),
    )
    return tuple(
        TargetProbability(code=code, below=limit, probability=level.below(limit.value))
        for code, limit in limits
        if limit is not None
    )
