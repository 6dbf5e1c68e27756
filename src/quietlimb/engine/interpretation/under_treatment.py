"""What to do next about a treated animal: its pressure against the goals of the rule set, and when to measure again.

At the goal in two sessions running the stable window of the rule set holds; before, and above the goal, the one after a
change; in the highest category, or with damage of eyes or brain, the one for severe pressure. Where the rule set has
none of these, that of ACVIM 2018 stands in, under its own name.
"""

from __future__ import annotations

from quietlimb.engine.interpretation.advising import OLD_SCHEME, TODAY, by, windowed
from quietlimb.engine.interpretation.case import Case
from quietlimb.engine.interpretation.interpretation import Advice
from quietlimb.engine.interpretation.organs import damaged
from quietlimb.engine.interpretation.status import HIGHEST, too_low_under_treatment
from quietlimb.engine.standards import acvim_2018 as acvim
from quietlimb.engine.standards.follow_up_in_print import CREATININE_AFTER_A_CHANGE
from quietlimb.engine.values import Cited, least_verified

# One pair of sessions can hardly prove a fall of 20 to 30 mmHg; see `standards.day_to_day.least_believable_change`.
_TWO_AT_GOAL = Cited(2.0, "sessions", "Quietlimb", "from the least believable change", "derived")


def under_treatment(case: Case, *, low: bool = False) -> tuple[Advice, ...]:
    """The pressure of a treated animal against the goals of the rule set, when to measure next, and what else then.

    low : systolic or mean pressure is to be confirmed as low at once: then no goal is called reached, and no day is set
    """
    each_visit = Advice(
        code="check-at-each-visit", source=acvim.SOURCE, place="follow-up, each visit", standing="from memory"
    )
    return (*_against_goals(case, low=low), *_kidneys_after_a_change(case), each_visit)


def _kidneys_after_a_change(case: Case) -> tuple[Advice, ...]:
    """Of an animal with kidney disease, once treatment was begun or changed."""
    known = {"kidney-disease", "protein-loss"} & set(case.background.conditions or ())
    diseased = any(check.organ == "kidneys" and check.state in ("known disease", "present") for check in case.organs)
    if not (case.background.treatment_moved and (known or diseased)):
        return ()
    return (windowed("creatinine-after-a-change", CREATININE_AFTER_A_CHANGE),)


def too_low(case: Case) -> tuple[Advice, ...]:
    """That a treated animal has fallen under a guard; none where it has not."""
    assert case.systolic is not None
    guard = too_low_under_treatment(case.systolic.value, weak=bool(case.background.weak), rules=case.rules)
    if guard is None:
        return ()
    return (by(guard, "too-low-under-treatment", within_days=TODAY, below_mmhg=guard.value),)


def _recheck(case: Case) -> tuple[Advice, bool]:
    """When to measure again before the goal is proven, with the reason where that is soon; and whether it is."""
    goals = case.rules.goals
    soon = goals.severe or acvim.RECHECK_SEVERE_WITH_DAMAGE
    if case.level == HIGHEST:
        return windowed("recheck-severe", soon), True
    if damaged(case.organs) & {"eyes", "brain"}:
        return windowed("recheck-eyes-or-brain", soon), True
    return windowed("recheck", goals.after_a_change or acvim.AFTER_A_CHANGE), False


def _against_goals(case: Case, *, low: bool) -> tuple[Advice, ...]:
    assert case.systolic is not None
    goals, value = case.rules.goals, case.systolic.value
    if (guarded := too_low(case)) or low:
        return guarded
    minimum, ideal = goals.minimum_below, goals.ideal_below
    if minimum is None:
        return (OLD_SCHEME,)
    recheck, severe = _recheck(case)
    if value >= minimum.value:
        return (by(minimum, "above-goal", goal_mmhg=minimum.value), recheck)
    if ideal is None:
        reached = by(minimum, "at-goal", goal_mmhg=minimum.value)
    elif value < ideal.value:
        reached = by(ideal, "at-ideal-goal", goal_mmhg=ideal.value)
    else:
        reached = by(least_verified(minimum, ideal), "at-minimum-goal", goal_mmhg=minimum.value, ideal_mmhg=ideal.value)
    proven = case.status is not None and case.status.name == "treated, at target"
    if proven:
        return (reached, recheck if severe or goals.stable is None else windowed("recheck", goals.stable))
    return (reached, by(_TWO_AT_GOAL, "goal-to-be-proven", sessions=_TWO_AT_GOAL.value), recheck)
