"""What the owner is told at the end, and whether that follows from what was charted and holds for the truth.

It moves no mmHg. There are two ways of being wrong: what is told does not follow from what was charted, and that is the
telling; or it follows and the truth is another, and that is the measuring.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from quietlimb.engine.interpretation.urgency import urgency_of
from quietlimb.engine.standards.acvim_2018 import ACVIM_2018, SEVERELY_HYPERTENSIVE_FROM
from quietlimb.engine.standards.low_pressure import SYSTOLIC_BELOW
from quietlimb.engine.standards.rule_set import RuleSet
from quietlimb.engine.values import Cited

Saying = Literal["fine", "another day", "veterinarian today", "no value"]
HowItStands = Literal["holds", "does not follow", "truth is another", "nothing told"]

# Which of the four belongs to which pressure is our own choice, in the sense of the rule sets: they repeat a raised
# pressure on other days before it gets a label.
WHICH_SAYING = Cited(1.0, "yes", "Quietlimb", "what an owner is told at which pressure", "invented")
NO_VALUE_TOLD = Cited(1.0, "yes", "practice", "no value where none can be relied on", "common practice")


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What a pressure asks the owner to be told.

    limit : the limit that decides, with its source; of a raised pressure the one that it reaches
    """

    saying: Saying
    limit: Cited


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnerTold:
    """What the learner chose, beside what follows from what was charted and what the truth asks for.

    said     : None where nothing was chosen
    standing : `holds` where it follows and the truth asks for the same, and where no value was charted and none was
               told: then nothing was claimed
    rules    : name of the rule set
    """

    said: Saying | None
    by_chart: Asked
    by_truth: Asked
    standing: HowItStands
    rules: str

    @property
    def by_luck(self) -> bool:
        """Whether it does not follow from what was charted, and the truth asks for it all the same."""
        return self.standing == "does not follow" and self.said == self.by_truth.saying


def asked_by(systolic_mmhg: float | None, *, treated: bool = False, rules: RuleSet = ACVIM_2018) -> Asked:
    """What the owner is told at a systolic pressure [mmHg]; None where none was charted.

    treated : under treatment what is below the least goal is as it should be
    """
    if systolic_mmhg is None:
        return Asked(saying="no value", limit=NO_VALUE_TOLD)
    urgency = urgency_of(systolic_mmhg)
    if urgency is not None:
        limit = SYSTOLIC_BELOW if urgency == "low" else SEVERELY_HYPERTENSIVE_FROM
        return Asked(saying="veterinarian today", limit=limit)
    goal = rules.goals.minimum_below
    first = goal if treated and goal is not None else rules.systolic_from[0]
    if systolic_mmhg < first.value:
        return Asked(saying="fine", limit=first)
    reached = [edge for edge in rules.systolic_from if systolic_mmhg >= edge.value]
    return Asked(saying="another day", limit=reached[-1] if reached else first)


def judge(
    said: Saying | None,
    *,
    charted_mmhg: float | None,
    true_mmhg: float,
    treated: bool = False,
    rules: RuleSet = ACVIM_2018,
) -> OwnerTold:
    """What was told, judged against what was charted and against the truth.

    charted_mmhg : systolic; None where nothing was charted [mmHg]
    true_mmhg    : systolic at rest [mmHg]
    """
    by_chart = asked_by(charted_mmhg, treated=treated, rules=rules)
    by_truth = asked_by(true_mmhg, treated=treated, rules=rules)
    standing: HowItStands = "holds"
    if said is None:
        standing = "nothing told"
    elif said != by_chart.saying:
        standing = "does not follow"
    elif charted_mmhg is not None and said != by_truth.saying:
        standing = "truth is another"
    return OwnerTold(said=said, by_chart=by_chart, by_truth=by_truth, standing=standing, rules=rules.name)
