"""How wide the interval may be expected to be after one reading more, two, three.

Further readings are thought out from what the series says: its level and a few typical errors of its scatter. The
series with them is solved anew and the widths are averaged. That a further reading may be spoiled is not foreseen.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from quietlimb.engine.session.charted import ChartedPressure
from quietlimb.engine.session.course import CoursePrior, Courses, courses_over
from quietlimb.engine.session.displays import judged_displays
from quietlimb.engine.session.noise import Noise
from quietlimb.engine.session.quantities import systolic_of, usable_systolic, usual_noise
from quietlimb.engine.session.series import COLUMNS, Series

Values = NDArray[np.float64]

MOST_MORE = 3
USUAL_GAP_MIN = 1.2  # where one reading has no gap to learn from [common practice]
STILL_FALLS_FOR_MIN = 4.0  # [invented]
# Errors of three further readings, as shares of their standard deviation: ordinary ones, each also with its sign
# turned. [invented]
TYPICAL_ERRORS = np.array([[0.5, -1.0, 0.85], [-0.5, 1.0, -0.85], [1.4, 0.6, -0.75], [-1.4, -0.6, 0.75]])


def expected_half_widths(
    charted: ChartedPressure, *, noise: Noise | None = None, course_prior: CoursePrior | None = None
) -> tuple[float, ...]:
    """Half-width of the systolic 95 % interval now, and expected after one, two and three more readings [mmHg].

    charted             : with a systolic pressure; further readings come at the usual pace of its series
    noise, course_prior : as it was charted by

    What all readings share is in each figure, and no further reading lessens it.
    """
    assert charted.systolic is not None
    assert charted.outlook is not None
    series, outlook = charted.series, charted.outlook
    expected, prior = noise or usual_noise(series), course_prior or CoursePrior()
    ahead = _usual_gap(series) * np.arange(1.0, MOST_MORE + 1.0)
    still_falls = STILL_FALLS_FOR_MIN * (1.0 - np.exp(-ahead / STILL_FALLS_FOR_MIN))
    futures: Values = outlook.level_mmhg + outlook.scatter_mmhg * TYPICAL_ERRORS
    futures -= outlook.falling_mmhg_per_min * still_falls
    widths = [0.5 * (charted.systolic.high - charted.systolic.low)]
    for more in range(1, MOST_MORE + 1):
        longer = [_longer(series, ahead[:more], future[:more]) for future in futures]
        courses = courses_over(longer[0].minute, float(longer[0].minute[-1]), prior)
        widths.append(float(np.mean([_half_width(each, courses, expected) for each in longer])))
    # one typical error more may look larger than the others; no reading is expected to tell less than none
    return tuple(np.minimum.accumulate(widths).tolist())


def _half_width(series: Series, courses: Courses, noise: Noise) -> float:
    solved = systolic_of(series, usable_systolic(series), judged_displays(series), courses, noise, judge=False)
    return 0.5 * (solved.estimate.high - solved.estimate.low)


def _usual_gap(series: Series) -> float:
    gaps = np.diff(series.minute)
    gaps = gaps[gaps > 0.0]
    return float(np.median(gaps)) if gaps.size else USUAL_GAP_MIN


def _longer(series: Series, ahead: NDArray[np.floating], systolic: Values) -> Series:
    """The series with further systolic readings, each as sure of itself as the usual one so far."""
    nothing = np.full(ahead.size, np.nan)
    added = dict.fromkeys(COLUMNS, nothing)
    added["minute"] = series.minute[-1] + ahead
    added["systolic"] = systolic
    for name in ("systolic_sd", "systolic_shared_sd"):
        known = getattr(series, name)[np.isfinite(getattr(series, name))]
        added[name] = np.full(ahead.size, np.median(known)) if known.size else nothing
    columns: dict[str, Any] = {name: np.concatenate([getattr(series, name), more]) for name, more in added.items()}
    return replace(series, findings=series.findings + ((),) * ahead.size, **columns)
