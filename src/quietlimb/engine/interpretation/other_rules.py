"""What other published rule sets would say of the same pressure, organs and sessions, where they say something else."""

from __future__ import annotations

from dataclasses import dataclass

from quietlimb.engine.interpretation.case import Case
from quietlimb.engine.interpretation.interpretation import GoalSays, OtherRules, TreatmentSays
from quietlimb.engine.interpretation.status import latest_run, lines_met_without_window, treatment_met
from quietlimb.engine.interpretation.treatment_lines import LineMet
from quietlimb.engine.standards.follow_up_in_print import AAFP_GOALS
from quietlimb.engine.standards.rule_set import Goals, RuleSet
from quietlimb.engine.standards.rule_sets import RULE_SETS
from quietlimb.engine.standards.treatment_in_print import PRINTED_TREATMENT
from quietlimb.engine.values import Standing


@dataclass(frozen=True, slots=True, kw_only=True)
class _Said:
    """What one text says: of treatment or, under it, of the goal; the line that decides, and the line's standing."""

    treatment: TreatmentSays | None = None
    goal: GoalSays | None = None
    line_mmhg: float | None = None
    standing: Standing | None = None


_NOTHING = _Said()


def _said(met: LineMet) -> _Said:
    if met.line is None:
        return _NOTHING
    cited = met.line.from_mmhg
    return _Said(treatment=met.says, line_mmhg=cited.value, standing=cited.standing)


def _goal(goals: Goals, systolic_mmhg: float) -> _Said:
    ideal, minimum = goals.ideal_below, goals.minimum_below
    if ideal is not None and systolic_mmhg < ideal.value:
        return _Said(goal="ideal", line_mmhg=ideal.value, standing=ideal.standing)
    if minimum is None:
        return _NOTHING
    reached: GoalSays = "minimum" if systolic_mmhg < minimum.value else "not reached"
    return _Said(goal=reached, line_mmhg=minimum.value, standing=minimum.standing)


def _goals_differ(ours: _Said, ours_by: Goals, theirs: _Said, theirs_by: Goals) -> bool:
    """A rule set without an ideal goal says nothing against one that has it."""
    if None in (ours.goal, theirs.goal) or ours.goal == theirs.goal:
        return False
    both_ideal = None not in (ours_by.ideal_below, theirs_by.ideal_below)
    return both_ideal or "not reached" in (ours.goal, theirs.goal)


def _by(rules: RuleSet, case: Case) -> _Said:
    """A treated animal is judged by the goals; a rule set for old charts has neither lines nor goals."""
    if rules.old:
        return _NOTHING
    if case.background.treated:
        assert case.systolic is not None
        return _goal(rules.goals, case.systolic.value)
    return _said(treatment_met(case.sessions, rules=rules))


def other_rules(case: Case) -> tuple[OtherRules, ...]:
    """The rule sets for this species, and treatment lines in print, that differ from the chosen rule set."""
    if case.level is None or case.systolic is None:
        return ()
    ours = _by(case.rules, case)
    found: list[OtherRules] = []
    for rules in RULE_SETS.values():
        if rules.key == case.rules.key or case.species not in rules.species:
            continue
        theirs = _by(rules, case)
        level = rules.level(case.systolic.value)
        edge = rules.systolic_from[max(0, level - 1)]
        differs = (
            *(("category",) if level != case.level else ()),
            *(("treatment",) if _differ(ours, theirs) else ()),
            *(("goal",) if _goals_differ(ours, case.rules.goals, theirs, rules.goals) else ()),
        )
        if differs:
            found.append(
                OtherRules(
                    rule_set=rules.name,
                    category=rules.categories[level],
                    treatment=theirs.treatment,
                    goal=theirs.goal,
                    line_mmhg=theirs.line_mmhg,
                    differs=differs,
                    source=rules.source,
                    standing=(None if differs == ("category",) else theirs.standing) or edge.standing,
                )
            )
    return (*found, *_in_print(case, ours))


def _in_print(case: Case, ours: _Said) -> tuple[OtherRules, ...]:
    if case.background.treated:
        return _goal_in_print(case, ours)
    run = latest_run(case.sessions)
    found = []
    for text in PRINTED_TREATMENT:
        silent = case.organ_damage == "present" and all(line.organs == "none" for line in text.lines)
        if text.species != case.species or silent:
            continue
        theirs = _said(lines_met_without_window(text.lines, run, case.rules))
        if _differ(ours, theirs):
            found.append(
                OtherRules(
                    rule_set=text.name,
                    category=None,
                    treatment=theirs.treatment,
                    line_mmhg=theirs.line_mmhg,
                    differs=("treatment",),
                    source=text.source,
                    standing=theirs.standing or "published",
                )
            )
    return tuple(found)


def _goal_in_print(case: Case, ours: _Said) -> tuple[OtherRules, ...]:
    """The goal of the feline practitioners' association, which has no categories, lines or windows of its own here."""
    assert case.systolic is not None
    theirs = _goal(AAFP_GOALS, case.systolic.value)
    if case.species != "cat" or not _goals_differ(ours, case.rules.goals, theirs, AAFP_GOALS):
        return ()
    assert theirs.standing is not None
    told = OtherRules(
        rule_set="AAFP",
        category=None,
        treatment=None,
        goal=theirs.goal,
        line_mmhg=theirs.line_mmhg,
        differs=("goal",),
        source="AAFP",
        standing=theirs.standing,
    )
    return (told,)


def _differ(ours: _Said, theirs: _Said) -> bool:
    return None not in (ours.treatment, theirs.treatment) and ours.treatment != theirs.treatment
