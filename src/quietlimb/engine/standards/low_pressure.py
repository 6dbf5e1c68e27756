"""When a pressure is low enough to act on at once, cats and dogs.

Awake: no published limit was found that is meant as a call to act; below 90 mmHg systolic, or below a mean that texts
put at 60 or at 65, is common practice. We take 65: a needless second reading costs less than a missed collapse. The
other can be chosen. The limits used under anaesthesia (90, and 60 or 65) are the same figures and were read.
Statistical lower limit of healthy awake cats by Doppler: 104.5 mmHg (Lin et al. 2006), for information only.
"""

from __future__ import annotations

from collections.abc import Mapping

from quietlimb.engine.values import Cited

SYSTOLIC_BELOW = Cited(90.0, "mmHg", "practice", "low pressure, awake", "common practice")
MEAN_BELOW = Cited(
    65.0, "mmHg", "practice", "low pressure, awake, the higher of two customary limits", "common practice"
)
MEAN_BELOW_LOWER = Cited(
    60.0, "mmHg", "practice", "low pressure, awake, the lower of two customary limits", "common practice"
)
MEAN_LIMITS: Mapping[float, Cited] = {each.value: each for each in (MEAN_BELOW_LOWER, MEAN_BELOW)}
HEALTHY_AWAKE_CAT_SYSTOLIC_FROM = Cited(
    104.5, "mmHg", "Lin2006", "J Vet Med Sci 68:827-832, Doppler, 53 cats", "published"
)

# Under anaesthesia, for telling: two customary pairs, and two definitions of an event.
ANAESTHESIA_SYSTOLIC_BELOW = Cited(90.0, "mmHg", "VetSci2025", "12(2):116, introduction", "published")
ANAESTHESIA_MEAN_BELOW = Cited(60.0, "mmHg", "Costa2015", "mean under 60 mmHg for 10 min or more", "published")
ANAESTHESIA_MEAN_BELOW_NEWER = Cited(65.0, "mmHg", "VetSci2025", "12(2):116, introduction", "published")
EVENT_LASTS = Cited(10.0, "min", "Costa2015", "mean under 60 mmHg for 10 min or more", "published")
EVENT_READINGS = Cited(2.0, "readings", "Miller2023", "mean under 60 mmHg, seen as quoted", "as quoted")
EVENT_READINGS_APART = Cited(5.0, "min", "Miller2023", "mean under 60 mmHg, seen as quoted", "as quoted")
# In dogs under 5 kg a systolic pressure under 90 mmHg by artery was found by Doppler in just over half of the pairs.
DOPPLER_SENSITIVITY_SMALL_DOGS = Cited(0.56, "share", "JAAHA2015", "51:300-305, 203 pairs, 10 dogs", "published")
