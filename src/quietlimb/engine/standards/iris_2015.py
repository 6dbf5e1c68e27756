"""Pressure substages of the International Renal Interest Society of 2014 and 2015, kept for old charts.

AP0 to AP3, systolic over diastolic pressure, seen on the society's page of updates. The print gives AP2 up to 179 and
AP3 as more than 180/120, so 180 and 120 themselves belong nowhere; we take them into AP3.
"""

from __future__ import annotations

from quietlimb.engine.standards.rule_set import RuleSet
from quietlimb.engine.values import Cited

SOURCE = "IRIS2015"
SYSTOLIC_FROM = (
    Cited(150.0, "mmHg", SOURCE, "page of updates", "published"),
    Cited(160.0, "mmHg", SOURCE, "page of updates", "published"),
    Cited(180.0, "mmHg", SOURCE, "page of updates, printed as more than 180", "published"),
)
DIASTOLIC_FROM = (
    Cited(95.0, "mmHg", SOURCE, "page of updates", "published"),
    Cited(100.0, "mmHg", SOURCE, "page of updates", "published"),
    Cited(120.0, "mmHg", SOURCE, "page of updates, printed as more than 120", "published"),
)

IRIS_2015 = RuleSet(
    key="iris-2015",
    name="IRIS 2015",
    source=SOURCE,
    categories=("AP0", "AP1", "AP2", "AP3"),
    systolic_from=SYSTOLIC_FROM,
    diastolic_from=DIASTOLIC_FROM,
    repeat=(None, None, None, None),
    repeat_damaged=(None, None, None, None),
    old=True,
)
