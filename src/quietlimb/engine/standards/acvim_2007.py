"""The ACVIM consensus statement of 2007, kept for old charts.

Cats and dogs, awake. Brown et al. 2007, J Vet Intern Med 21:542-558. The print was not at hand; the categories were
seen as quoted by Mooney (WSAVA proceedings of 2018), who prints the last as more than 180/120. We take 180 and 120 into
it, as the statement of 2018 does. Windows from memory. Its lines of treatment are left out.
"""

from __future__ import annotations

from quietlimb.engine.standards.rule_set import Protocol, RuleSet, Window
from quietlimb.engine.values import Cited

RULE_SET = "ACVIM 2007"
SOURCE = "ACVIM2007"
_QUOTED = "categories, as quoted in the WSAVA proceedings of 2018"
SYSTOLIC_FROM = (
    Cited(150.0, "mmHg", SOURCE, _QUOTED, "as quoted"),
    Cited(160.0, "mmHg", SOURCE, _QUOTED, "as quoted"),
    Cited(180.0, "mmHg", SOURCE, _QUOTED, "as quoted"),
)
DIASTOLIC_FROM = (
    Cited(95.0, "mmHg", SOURCE, _QUOTED, "as quoted"),
    Cited(100.0, "mmHg", SOURCE, _QUOTED, "as quoted"),
    Cited(120.0, "mmHg", SOURCE, _QUOTED, "as quoted"),
)
# "Up to two months", and 1 to 2 weeks at 180 mmHg and over. The statement names no earliest day for the first.
UP_TO_TWO_MONTHS = Window(
    earliest=Cited(1.0, "day", "Quietlimb", "another day, as no earliest one is named", "invented"),
    latest=Cited(60.0, "day", SOURCE, "decision flow", "from memory"),
)
ONE_TO_TWO_WEEKS = Window(
    earliest=Cited(7.0, "day", SOURCE, "decision flow", "from memory"),
    latest=Cited(14.0, "day", SOURCE, "decision flow", "from memory"),
)

PROTOCOL = Protocol(
    name=RULE_SET,
    source=SOURCE,
    drop_first=Cited(1.0, "readings", SOURCE, "protocol", "from memory"),
    keep_at_least=Cited(3.0, "readings", SOURCE, "protocol, three to seven", "from memory"),
    most_variability=Cited(0.20, "share", SOURCE, "protocol", "from memory"),
)

ACVIM_2007 = RuleSet(
    key="acvim-2007",
    name=RULE_SET,
    source=SOURCE,
    categories=("category I", "category II", "category III", "category IV"),
    systolic_from=SYSTOLIC_FROM,
    diastolic_from=DIASTOLIC_FROM,
    repeat=(None, UP_TO_TWO_MONTHS, UP_TO_TWO_MONTHS, ONE_TO_TWO_WEEKS),
    repeat_damaged=(None, None, None, None),
    protocol=PROTOCOL,
    old=True,
)
