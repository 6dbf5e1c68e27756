"""When to measure under treatment, and what treatment does: texts that disagree, and figures to hold results against.

After treatment was begun or changed the texts ask for 3 to 14 days, at the goal for 1 to 6 months. The chosen rule set
decides; how far the texts lie apart is told beside it. The clinics of [Elliott2001] saw cats at the goal every 6 to 8
weeks. Months are 30 days. No drug and no dose is in here.
"""

from __future__ import annotations

from dataclasses import dataclass

from quietlimb.engine.standards import acvim_2018 as acvim
from quietlimb.engine.standards import iris_2019 as iris
from quietlimb.engine.standards.rule_set import Goals, Window
from quietlimb.engine.values import Cited, Standing


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintedWindow:
    """One text's window. cats_only : where the text is about cats alone"""

    source: str
    window: Window
    cats_only: bool = False


def _printed(
    earliest: float, latest: float, source: str, place: str, standing: Standing, *, cats_only: bool = False
) -> PrintedWindow:
    first, last = (Cited(value, "day", source, place, standing) for value in (earliest, latest))
    return PrintedWindow(source=source, window=Window(earliest=first, latest=last), cats_only=cats_only)


AFTER_A_CHANGE = (
    _printed(7, 10, "ACVIM2018", "follow-up of stable animals", "from memory"),
    _printed(7, 10, "ISFM2017", "follow-up", "from memory", cats_only=True),
    PrintedWindow(source="WSAVA2018", window=acvim.AFTER_A_CHANGE),
    _printed(14, 14, "FelineReview2021", "follow-up", "published", cats_only=True),
    _printed(3, 5, "AAFP", "follow-up", "published", cats_only=True),
)
AT_GOAL_AND_STABLE = (
    _printed(30, 120, "ACVIM2007", "follow-up", "from memory"),
    PrintedWindow(source="ACVIM2018", window=acvim.AT_GOAL_AND_STABLE),
    PrintedWindow(source="IRIS2019", window=iris.STABLE),
    _printed(90, 180, "ISFM2017", "follow-up", "from memory", cats_only=True),
    # what the clinics of two series did, not what they advise
    _printed(42, 56, "Elliott2001", "how often the cats were seen; so did Bijsmans 2013", "published", cats_only=True),
)
IN_HOSPITAL_AT_LEAST_EVERY = Cited(1.0, "day", "ACVIM2018", "follow-up in hospital", "from memory")
CREATININE_AFTER_A_CHANGE = Window(
    earliest=Cited(7.0, "day", "practice", "kidney disease, after any change of treatment", "common practice"),
    latest=Cited(14.0, "day", "practice", "kidney disease, after any change of treatment", "common practice"),
)

# Printed as under 150 to 160 mmHg: the lower end is taken for the ideal goal, the upper one for the least.
AAFP_GOALS = Goals(
    ideal_below=Cited(150.0, "mmHg", "AAFP", "goal", "published"),
    minimum_below=Cited(160.0, "mmHg", "AAFP", "goal", "published"),
)

# What treatment does, in cats that begin at 160 to 200 mmHg.
USUAL_FIRST_FALL_FROM = Cited(20.0, "mmHg", "FelineReview2021", "first treatment, cats", "published")
USUAL_FIRST_FALL_TO = Cited(30.0, "mmHg", "FelineReview2021", "first treatment, cats", "published")
DOGS_TREATED = Cited(11.0, "dogs", "Jacob2003", "treated dogs with kidney disease", "published")
DOGS_STAYED_HIGH = Cited(10.0, "dogs", "Jacob2003", "of them stayed high", "published")
