"""What is to be said of a series as a whole."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from quietlimb.engine.findings import Finding
from quietlimb.engine.session.at_the_end import still_falling
from quietlimb.engine.session.charted import Course, GuidelineAverage

Values = NDArray[np.float64]

# Twice the longest time constant that a course is given: what went on in such a pause, no course can tell. [invented]
LONG_PAUSE_MIN = 120.0
SAME_VALUE_TIMES = 5  # [common practice: a display that repeats itself is worth a look]


def series_findings(
    systolic: Values, minute: Values, *, course: Course, falling_mmhg_per_min: float, guideline: GuidelineAverage
) -> tuple[Finding, ...]:
    """Findings on a series of one usable reading or more.

    systolic             : (n,) of the usable readings [mmHg]
    minute               : (n,) when they were taken [min]
    falling_mmhg_per_min : how fast the pressure is expected to fall at the end, over all courses
    """
    found: list[Finding] = []
    if systolic.size == 1:
        found.append(Finding(code="one-reading-only", severity="doubt"))
    if guideline.spread is not None and guideline.broke_its_rule:
        numbers = {"spread": guideline.spread, "limit": guideline.protocol.most_variability.value}
        found.append(Finding(code="not-consistent", severity="doubt", touches=("systolic",), numbers=numbers))
    if still_falling(course, falling_mmhg_per_min):
        numbers = {"mmhg_per_min": falling_mmhg_per_min}
        found.append(Finding(code="still-falling", severity="doubt", numbers=numbers))
    pause = float(np.diff(minute).max(initial=0.0))
    if pause > LONG_PAUSE_MIN:
        found.append(Finding(code="long-pause", severity="doubt", numbers={"minutes": pause}))
    value, times = _longest_repeat(systolic)
    if times >= SAME_VALUE_TIMES:
        numbers = {"value": value, "times": float(times)}
        found.append(Finding(code="same-value-repeated", severity="note", touches=("systolic",), numbers=numbers))
    return tuple(found)


def _longest_repeat(values: Values) -> tuple[float, int]:
    """The value repeated most often in a row, and how often."""
    starts = np.concatenate([[0], np.flatnonzero(np.diff(values)) + 1, [values.size]])
    longest = int(np.argmax(np.diff(starts)))
    return float(values[starts[longest]]), int(starts[longest + 1] - starts[longest])
