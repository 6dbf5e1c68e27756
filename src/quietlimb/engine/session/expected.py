"""How wide the interval may be expected to be after one reading more, two, three.

Further readings are thought out from what the series says: its level and a few typical errors of its scatter. The
series with them is solved anew and the widths are averaged. That a further reading may be spoiled is not foreseen.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from quietlimb.engine.session.course import CoursePrior, Courses, courses_over
from quietlimb.engine.session.displays import judged_displays
from quietlimb.engine.session.noise import Noise
from quietlimb.engine.session.posterior import LevelPosterior
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
    series: Series, *, noise: Noise | None = None, course_prior: CoursePrior | None = None
) -> tuple[float, ...]:
    """Half-width of the systolic 95 % interval now, and expected after one, two and three more readings [mmHg].

    The series has one usable systolic reading or more; further ones come at its usual pace. What all readings share is
    in each figure, and no further reading lessens it.
    """
    expected, prior = noise or usual_noise(series), course_prior or CoursePrior()
    half_width, posterior, courses = _solve(series, expected, prior)
    ahead = _usual_gap(series) * np.arange(1.0, MOST_MORE + 1.0)
    speed = float(posterior.course @ courses.falling_mmhg_per_min)
    moves: Values = -speed * STILL_FALLS_FOR_MIN * (1.0 - np.exp(-ahead / STILL_FALLS_FOR_MIN))
    widths = np.array(
        [
            [
                _solve(_longer(series, ahead[:more], (future + moves)[:more]), expected, prior)[0]
                for more in range(1, MOST_MORE + 1)
            ]
            for future in _futures(posterior)
        ]
    )
    # one typical error more may look larger than the others; no reading is expected to tell less than none
    return tuple(np.minimum.accumulate([half_width, *widths.mean(axis=0)]).tolist())


def _solve(series: Series, noise: Noise, prior: CoursePrior) -> tuple[float, LevelPosterior, Courses]:
    used = usable_systolic(series)
    courses = courses_over(series.minute, float(series.minute[np.flatnonzero(used)[-1]]), prior)
    solved = systolic_of(series, used, judged_displays(series), courses, noise)
    return 0.5 * (solved.estimate.high - solved.estimate.low), solved.posterior, courses


def _usual_gap(series: Series) -> float:
    gaps = np.diff(series.minute)
    gaps = gaps[gaps > 0.0]
    return float(np.median(gaps)) if gaps.size else USUAL_GAP_MIN


def _futures(posterior: LevelPosterior) -> Values:
    """(futures, MOST_MORE) readings at a level that stays [mmHg]."""
    (level,) = posterior.quantiles((0.5,))
    scatter = float(np.sqrt(posterior.scatter_probability @ posterior.scatter**2))
    readings: Values = level + scatter * TYPICAL_ERRORS
    return readings


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
