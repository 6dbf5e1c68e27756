"""When a pressure is low enough to act on at once, cats and dogs.

Awake: no published limit was found that is meant as a call to act; below 90 mmHg systolic, or below a mean that texts
put at 60 or at 65, is common practice. We take 65: a needless second reading costs less than a missed collapse.
The limits used under anaesthesia (90, and 60 or 65) are the same figures and were read.
Statistical lower limit of healthy awake cats by Doppler: 104.5 mmHg (Lin et al. 2006), for information only.
"""

from __future__ import annotations

from quietlimb.engine.values import Cited

SYSTOLIC_BELOW = Cited(90.0, "mmHg", "practice", "low pressure, awake", "common practice")
MEAN_BELOW = Cited(
    65.0, "mmHg", "practice", "low pressure, awake, the higher of two customary limits", "common practice"
)
HEALTHY_AWAKE_CAT_SYSTOLIC_FROM = Cited(
    104.5, "mmHg", "Lin2006", "J Vet Med Sci 68:827-832, Doppler, 53 cats", "published"
)
