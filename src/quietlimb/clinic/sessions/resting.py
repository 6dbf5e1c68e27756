"""When a limb rests, and when it is enough for today. The page counts the seconds, also without network.

Nothing here blocks a reading: the nurse sees the animal, the page does not.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Literal

from quietlimb.engine.values import Cited

BETWEEN_AT_LEAST = Cited(30.0, "s", "practice", "between readings, cuff empty", "common practice")
BETWEEN_BETTER = Cited(60.0, "s", "practice", "between readings, cuff empty", "common practice")
LONGEST_UNDER_PRESSURE = Cited(90.0, "s", "practice", "cats; of any animal here", "common practice")
TRIES = Cited(3.0, "", "practice", "tries in a short time", "common practice")
TRIES_WITHIN = Cited(120.0, "s", "practice", "tries in a short time", "common practice")
LIMB_RESTS = Cited(120.0, "s", "Quietlimb", "as long as the tries took", "invented")

# Spoiled ones too: a cuff that was inflated in vain pressed as hard.
MOST_READINGS = Cited(15.0, "", "Quietlimb", "two and a half times the usual plan of six", "invented")
MOST_MINUTES = Cited(30.0, "min", "Quietlimb", "from the first reading, a visit is no longer", "invented")


def seconds_for_the_page() -> dict[str, int]:
    """The numbers by which the page counts."""
    return {
        "at_least": int(BETWEEN_AT_LEAST.value),
        "better": int(BETWEEN_BETTER.value),
        "longest": int(LONGEST_UNDER_PRESSURE.value),
        "tries": int(TRIES.value),
        "within": int(TRIES_WITHIN.value),
        "rests": int(LIMB_RESTS.value),
    }


def stop_for_today(taken_at: Sequence[datetime]) -> Literal["readings", "minutes"] | None:
    """Why it is enough for today, by the times of all inflations of a session; None where it is not."""
    if len(taken_at) >= MOST_READINGS.value:
        return "readings"
    if taken_at and (max(taken_at) - min(taken_at)).total_seconds() >= 60.0 * MOST_MINUTES.value:
        return "minutes"
    return None
