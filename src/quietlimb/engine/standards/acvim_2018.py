"""Rule set of the ACVIM consensus statement of 2018: risk categories, protocol of a session, decisions, goals.

Cats and dogs, awake. Acierno et al. 2018, J Vet Intern Med 32:1803-1822. Apart from its abstract and its table of drugs
the print was not at hand, so its numbers are `from memory`; where another text that was read repeats a number, that
text is named as the source. The four categories are used with the same limits by Domingues et al. 2022, Open Vet J
12:562-566. Screening intervals are left out; no drug and no dose is in here.

The statement prints whole numbers (140-159). Pressures are real here, so the categories are half open and judged on the
unrounded value: 139.6 mmHg is normotensive, 140 mmHg is not.
"""

from __future__ import annotations

from typing import Literal

from quietlimb.engine.standards.rule_set import Goals, Protocol, RuleSet, TreatmentLine, Window
from quietlimb.engine.values import Cited

RULE_SET = "ACVIM 2018"
SOURCE = "ACVIM2018"

CategoryName = Literal["normotensive", "prehypertensive", "hypertensive", "severely hypertensive"]

CATEGORY_NAMES: tuple[CategoryName, ...] = (
    "normotensive",
    "prehypertensive",
    "hypertensive",
    "severely hypertensive",
)

PREHYPERTENSIVE_FROM = Cited(140.0, "mmHg", SOURCE, "risk categories", "from memory")
HYPERTENSIVE_FROM = Cited(160.0, "mmHg", SOURCE, "risk categories", "from memory")
SEVERELY_HYPERTENSIVE_FROM = Cited(180.0, "mmHg", SOURCE, "risk categories", "from memory")
BOUNDARIES = (PREHYPERTENSIVE_FROM, HYPERTENSIVE_FROM, SEVERELY_HYPERTENSIVE_FROM)

# The protocol of one session.
DISCARD_FIRST = Cited(1.0, "readings", SOURCE, "protocol", "from memory")
KEEP_AT_LEAST = Cited(5.0, "readings", SOURCE, "protocol", "from memory")
KEEP_AT_MOST = Cited(7.0, "readings", SOURCE, "protocol", "from memory")
MOST_VARIABILITY = Cited(0.20, "share", SOURCE, "protocol", "from memory")
PROTOCOL = Protocol(
    name=RULE_SET,
    source=SOURCE,
    drop_first=DISCARD_FIRST,
    keep_at_least=KEEP_AT_LEAST,
    most_variability=MOST_VARIABILITY,
)
SHORTEST_ACCLIMATISATION = Cited(5.0, "min", SOURCE, "protocol", "from memory")
LONGEST_ACCLIMATISATION = Cited(10.0, "min", SOURCE, "protocol", "from memory")
WIDEST_HEIGHT_GAP = Cited(10.0, "cm", SOURCE, "protocol", "from memory")

# How many sessions carry a label.
SESSIONS_WITH_ORGAN_DAMAGE = Cited(1.0, "sessions", "Caney2021", "Companion Animal 26(11):222-228", "published")
SESSIONS_WITHOUT_ORGAN_DAMAGE = Cited(2.0, "sessions", "Caney2021", "Companion Animal 26(11):222-228", "published")


def _window(earliest: float, latest: float, source: str = SOURCE, place: str = "decision flow") -> Window:
    standing: Literal["published", "from memory"] = "from memory" if source == SOURCE else "published"
    return Window(
        earliest=Cited(earliest, "day", source, place, standing), latest=Cited(latest, "day", source, place, standing)
    )


# Four to eight weeks; one to two weeks at 180 mmHg and over, as the 2018 proceedings that were read say too.
REPEAT_PREHYPERTENSIVE = _window(28, 56)
REPEAT_HYPERTENSIVE = _window(28, 56)
REPEAT_SEVERE = _window(7, 14, "WSAVA2018", "proceedings, p. 382")
RECHECK_PREHYPERTENSIVE_WITH_DAMAGE = _window(7, 14)
RECHECK_SEVERE_WITH_DAMAGE = _window(1, 3)

# Under treatment.
IDEAL_GOAL_BELOW = Cited(140.0, "mmHg", SOURCE, "treatment goals", "from memory")
MINIMUM_GOAL_BELOW = Cited(160.0, "mmHg", "WSAVA2018", "proceedings, treatment goal", "published")
REASSESS_BELOW_WITH_SIGNS = Cited(120.0, "mmHg", SOURCE, "treatment goals", "from memory")
AFTER_A_CHANGE = _window(7, 14, "WSAVA2018", "proceedings, follow-up of 1 to 2 weeks")
# Four to six months; other texts say 1 to 4 (ACVIM 2007), 3 (IRIS) and 3 to 6 (ISFM 2017).
AT_GOAL_AND_STABLE = _window(4 * 30, 6 * 30, place="follow-up")

# An emergency: 180 mmHg and over with acute signs of eyes or brain. How fast the pressure is to come down, as a share
# of where it began; how that is done is the veterinarian's.
FALL_IN_FIRST_HOUR = Cited(0.10, "share", SOURCE, "emergency", "from memory")
FALL_IN_NEXT_HOURS = Cited(0.15, "share", SOURCE, "emergency", "from memory")

ACVIM_2018 = RuleSet(
    key="acvim-2018",
    name=RULE_SET,
    source=SOURCE,
    categories=CATEGORY_NAMES,
    systolic_from=BOUNDARIES,
    repeat=(None, REPEAT_PREHYPERTENSIVE, REPEAT_HYPERTENSIVE, REPEAT_SEVERE),
    repeat_damaged=(None, RECHECK_PREHYPERTENSIVE_WITH_DAMAGE, None, RECHECK_SEVERE_WITH_DAMAGE),
    treatment=(
        TreatmentLine(from_mmhg=HYPERTENSIVE_FROM, sessions=SESSIONS_WITH_ORGAN_DAMAGE, organs="any organ"),
        TreatmentLine(from_mmhg=HYPERTENSIVE_FROM, sessions=SESSIONS_WITHOUT_ORGAN_DAMAGE, organs="none"),
    ),
    goals=Goals(
        ideal_below=IDEAL_GOAL_BELOW,
        minimum_below=MINIMUM_GOAL_BELOW,
        too_low_with_signs_below=REASSESS_BELOW_WITH_SIGNS,
        after_a_change=AFTER_A_CHANGE,
        severe=RECHECK_SEVERE_WITH_DAMAGE,
        stable=AT_GOAL_AND_STABLE,
    ),
    protocol=PROTOCOL,
)
