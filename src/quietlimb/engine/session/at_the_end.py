"""Whether a pressure still moves at the end of its series, whatever it did before.

The course names what happened through a series, and goes on doing so however long the pressure has been level since.
What is to be done next depends on the end: where the pressure moves by less than 1 mmHg a minute, about that much from
one reading to the next, there is no levelling off to wait for.
"""

from __future__ import annotations

from quietlimb.engine.session.charted import ChartedPressure, Course
from quietlimb.engine.standards.situational_rise import FALL_THROUGH_SESSION

STILL_MOVES_MMHG_PER_MIN = 1.0  # [invented]


def still_falling(course: Course | None, mmhg_per_min: float | None) -> bool:
    """Whether a falling course still falls. mmhg_per_min : by how much, negative for a rise; None where not known."""
    return course == "falling" and (mmhg_per_min is None or mmhg_per_min >= STILL_MOVES_MMHG_PER_MIN)


def still_rising(course: Course | None, mmhg_per_min: float | None, *, fall_mmhg: float | None) -> bool:
    """Whether a rising course still rises, or one that may and went up as far as a fall that speaks for the visit goes
    down.

    fall_mmhg : systolic at the first reading minus systolic at the last; None where not known
    """
    may = course == "unclear" and fall_mmhg is not None and -fall_mmhg >= FALL_THROUGH_SESSION.value
    return (course == "rising" or may) and (mmhg_per_min is None or -mmhg_per_min >= STILL_MOVES_MMHG_PER_MIN)


def fall_at_end(charted: ChartedPressure) -> float | None:
    """How fast the pressure falls at the end, negative for a rise, over all courses; None where nothing is charted.
    [mmHg/min]"""
    return None if charted.outlook is None else charted.outlook.falling_mmhg_per_min
