"""Rule set of the feline practitioners' consensus of 2017 (ISFM), cats only.

Taylor et al. 2017, J Feline Med Surg 19:288-303. The print was not at hand: every number is `from memory`. Its
categories are those of the ACVIM statement of 2018; its lines of treatment are not. It names no window for the repeat
of a session that we know of.
"""

from __future__ import annotations

from quietlimb.engine.standards.rule_set import Goals, RuleSet, TreatmentLine, Window
from quietlimb.engine.values import Cited

SOURCE = "ISFM2017"
SYSTOLIC_FROM = (
    Cited(140.0, "mmHg", SOURCE, "risk categories", "from memory"),
    Cited(160.0, "mmHg", SOURCE, "risk categories", "from memory"),
    Cited(180.0, "mmHg", SOURCE, "risk categories", "from memory"),
)
ONE_SESSION = Cited(1.0, "sessions", SOURCE, "treatment entry", "from memory")
TWO_SESSIONS = Cited(2.0, "sessions", SOURCE, "treatment entry", "from memory")
TREATMENT = (
    TreatmentLine(
        from_mmhg=Cited(150.0, "mmHg", SOURCE, "treatment entry", "from memory"),
        sessions=ONE_SESSION,
        organs="eyes or brain",
    ),
    TreatmentLine(
        from_mmhg=Cited(160.0, "mmHg", SOURCE, "treatment entry", "from memory"),
        sessions=TWO_SESSIONS,
        organs="any organ",
    ),
    TreatmentLine(
        from_mmhg=Cited(170.0, "mmHg", SOURCE, "treatment entry", "from memory"),
        sessions=TWO_SESSIONS,
        organs="none",
    ),
)
GOALS = Goals(
    # "150 or lower where tolerated": texts differ, and none was seen.
    ideal_below=Cited(150.0, "mmHg", SOURCE, "longer-term goal, texts differ", "from memory"),
    minimum_below=Cited(160.0, "mmHg", SOURCE, "treatment goal", "from memory"),
    too_low_below=Cited(110.0, "mmHg", SOURCE, "treatment goal", "from memory"),
    after_a_change=Window(
        earliest=Cited(7.0, "day", SOURCE, "follow-up", "from memory"),
        latest=Cited(10.0, "day", SOURCE, "follow-up", "from memory"),
    ),
    severe=Window(
        earliest=Cited(1.0, "day", SOURCE, "follow-up", "from memory"),
        latest=Cited(3.0, "day", SOURCE, "follow-up", "from memory"),
    ),
    stable=Window(
        earliest=Cited(90.0, "day", SOURCE, "follow-up", "from memory"),
        latest=Cited(180.0, "day", SOURCE, "follow-up", "from memory"),
    ),
)

ISFM_2017 = RuleSet(
    key="isfm-2017",
    name="ISFM 2017",
    source=SOURCE,
    species=("cat",),
    categories=("normotensive", "prehypertensive", "hypertensive", "severely hypertensive"),
    systolic_from=SYSTOLIC_FROM,
    repeat=(None, None, None, None),
    repeat_damaged=(None, None, None, None),
    treatment=TREATMENT,
    goals=GOALS,
)
