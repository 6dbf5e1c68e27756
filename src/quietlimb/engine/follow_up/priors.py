"""What is expected of any animal before its own sessions are seen, and the thresholds of what is said of it.

The change from session to session is that of section "day to day" of the standards; how far animals differ in it, how
fast a level drifts, how far treatment moves it and how often a session is odd stands nowhere in print, so those are
choices of ours. They are wide: after four to six sessions the animal's own count for more.
"""

from __future__ import annotations

from collections.abc import Mapping

from quietlimb.engine.values import Cited

_OURS = "Quietlimb"

# Level of animals that are followed. Mixed patients in print: means 138 to 156, standard deviations 25 to 38 mmHg.
LEVEL_MEAN = Cited(150.0, "mmHg", _OURS, "middle of published means of mixed patients", "invented")
LEVEL_SD = Cited(30.0, "mmHg", _OURS, "middle of published standard deviations of mixed patients", "invented")

# How far the standard deviation from session to session differs between animals: 8, 10 and 15 are all met, and 21 to 27
# in strange surroundings.
BETWEEN_SD_LOG_SPREAD = Cited(0.40, "natural logarithm", _OURS, "spread of the between-session SD", "invented")

# Drift of the level: standard deviation gained in a month, and how far animals differ in it. Animals keep their rank
# from month to month, so it is small beside the change from session to session.
DRIFT_SD_PER_MONTH = Cited(1.2, "mmHg", _OURS, "drift of the level", "invented")
DRIFT_LOG_SPREAD = Cited(0.7, "natural logarithm", _OURS, "spread of the drift", "invented")
DAYS_PER_MONTH = 30.4

# Either direction: treatment is not assumed to work. Usual first falls of 20 to 30, and 49 in one series of cats.
STEP_SD = Cited(30.0, "mmHg", _OURS, "what beginning, changing or stopping treatment may do", "invented")

ODD_SHARE = Cited(0.05, "of sessions", _OURS, "sessions that do not belong to the others", "invented")
ODD_SD = Cited(35.0, "mmHg", _OURS, "how far an odd session may lie off", "invented")

UNTOLD_STEPS_PER_YEAR = Cited(0.25, "a year", _OURS, "steps that nobody told, as by a new illness", "invented")

# What a session in other surroundings than the usual ones may stand off, the same each time in one animal. The visit
# moved single cats by -27 to +75 mmHg; a place of measuring is part of that.
OTHER_PLACE_SD = Cited(15.0, "mmHg", "Belew1999", "after the spread between visit and rest", "invented")
OTHER_POSITION_SD = Cited(8.0, "mmHg", _OURS, "another position", "invented")
OTHER_PERSON_SD = Cited(5.0, "mmHg", _OURS, "another person", "invented")
NOT_TOLD_SD = Cited(8.0, "mmHg", _OURS, "site or instrument not told, taken for the only one that is", "invented")

# Mean and diastolic pressure: the middle of their levels, and the factor by which each spread of the systolic is taken.
# Means in print run from 91 to 110 and from 71 to 91 mmHg, of healthy animals; followed ones stand higher. Standard
# deviations run from 12 to 27 and from 8 to 25. From day to day the diastolic pressure varies by 14 to 25 % in print.
OTHER_PRESSURES: Mapping[str, tuple[Cited, Cited]] = {
    "mean": (
        Cited(112.0, "mmHg", _OURS, "middle of levels, mean pressure", "invented"),
        Cited(0.80, "of the systolic", _OURS, "spread of the mean pressure", "invented"),
    ),
    "diastolic": (
        Cited(88.0, "mmHg", _OURS, "middle of levels, diastolic pressure", "invented"),
        Cited(0.90, "of the systolic", _OURS, "spread of the diastolic pressure", "invented"),
    ),
}

# What is called a change, and how sure that has to be.
CHANGE_WORTH_TELLING = Cited(10.0, "mmHg", _OURS, "half the width of a risk category", "invented")
CERTAINTY = Cited(0.90, "probability", _OURS, "before a change is called one", "invented")
HIGH_DAY_FROM = Cited(5.0, "mmHg", _OURS, "session before treatment above the animal's own level", "invented")
WORTH_NARROWING = Cited(0.20, "share", _OURS, "how much a session has to narrow the interval", "invented")
