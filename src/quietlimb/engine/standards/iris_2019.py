"""Pressure substages of the International Renal Interest Society from 2019 on, for cats and dogs with kidney disease.

The four lines are those of the ACVIM statement of 2018, and the same lines were seen in Domingues et al. 2022; the
pages themselves were not at hand, so the numbers are `from memory`. A pressure gets its substage from several sessions,
best on separate days; sessions of one day count when they lie 2 h apart (seen as quoted in a trade review).
Persistence: 1 to 2 months from 140 mmHg on, 1 to 2 weeks from 180 on. Months are taken as 30 days.

Where a breed has a normal range, the society counts from its upper limit. The means at hand are no limits, so this
rule changes no category here; see `breeds.py`.
"""

from __future__ import annotations

from quietlimb.engine.standards.rule_set import Goals, RuleSet, TreatmentLine, Window
from quietlimb.engine.values import Cited

SOURCE = "IRIS2019"
SYSTOLIC_FROM = (
    Cited(140.0, "mmHg", SOURCE, "arterial pressure substages", "from memory"),
    Cited(160.0, "mmHg", SOURCE, "arterial pressure substages", "from memory"),
    Cited(180.0, "mmHg", SOURCE, "arterial pressure substages", "from memory"),
)
ONE_TO_TWO_MONTHS = Window(
    earliest=Cited(30.0, "day", SOURCE, "persistence", "from memory"),
    latest=Cited(60.0, "day", SOURCE, "persistence", "from memory"),
)
ONE_TO_TWO_WEEKS = Window(
    earliest=Cited(7.0, "day", SOURCE, "persistence", "from memory"),
    latest=Cited(14.0, "day", SOURCE, "persistence", "from memory"),
)
HOURS_APART = Cited(2.0, "h", SOURCE, "staging, as quoted in a trade review", "as quoted")
MINIMUM_GOAL_BELOW = Cited(160.0, "mmHg", SOURCE, "treatment goal", "from memory")
REASSESS_BELOW_WITH_SIGNS = Cited(120.0, "mmHg", SOURCE, "treatment goal", "from memory")
STABLE = Window(
    earliest=Cited(90.0, "day", SOURCE, "follow-up, every 3 months", "from memory"),
    latest=Cited(90.0, "day", SOURCE, "follow-up, every 3 months", "from memory"),
)

# Above the upper limit of a breed: under 10 minimal, from 10 low, from 20 moderate, from 40 high. The print leaves 10,
# 20 and 40 themselves open; the half-open reading is ours.
ABOVE_BREED_LIMIT = (
    Cited(10.0, "mmHg", SOURCE, "breed rule, seen as quoted", "as quoted"),
    Cited(20.0, "mmHg", SOURCE, "breed rule, seen as quoted", "as quoted"),
    Cited(40.0, "mmHg", SOURCE, "breed rule, seen as quoted", "as quoted"),
)


def level_above_breed_limit(above_mmhg: float) -> int:
    """0 minimal, 1 low, 2 moderate, 3 high risk, by the distance above a breed's upper limit of normal. [mmHg]"""
    return sum(above_mmhg >= edge.value for edge in ABOVE_BREED_LIMIT)


IRIS_2019 = RuleSet(
    key="iris-2019",
    name="IRIS 2019",
    source=SOURCE,
    categories=("normotensive", "prehypertensive", "hypertensive", "severely hypertensive"),
    systolic_from=SYSTOLIC_FROM,
    repeat=(None, ONE_TO_TWO_MONTHS, ONE_TO_TWO_MONTHS, ONE_TO_TWO_WEEKS),
    repeat_damaged=(None, None, None, None),
    treatment=(
        TreatmentLine(
            from_mmhg=SYSTOLIC_FROM[1],
            sessions=Cited(1.0, "sessions", SOURCE, "treatment", "from memory"),
            organs="any organ",
        ),
        TreatmentLine(
            from_mmhg=SYSTOLIC_FROM[1],
            sessions=Cited(2.0, "sessions", SOURCE, "persistence", "from memory"),
            organs="none",
        ),
    ),
    goals=Goals(minimum_below=MINIMUM_GOAL_BELOW, too_low_with_signs_below=REASSESS_BELOW_WITH_SIGNS, stable=STABLE),
    hours_apart=HOURS_APART,
)
