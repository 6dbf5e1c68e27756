"""The courses: what they are relative to, and that their probabilities are the prior's."""

from __future__ import annotations

import numpy as np
import pytest

from quietlimb.engine.session.course import CoursePrior, courses_over

MINUTE = np.array([2.0, 3.0, 4.5, 6.0, 7.5])


def test_every_course_ends_at_the_charted_level() -> None:
    """Nothing is extrapolated: at the end each course stands at the level itself.

    Oracle: by construction. Tolerance: rounding.
    """
    courses = courses_over(MINUTE, 7.5, CoursePrior())
    np.testing.assert_allclose(courses.shift[:, -1], 0.0, atol=1e-12)
    np.testing.assert_allclose(courses.shift[:, 0], courses.fall_mmhg, atol=1e-12)


def test_probabilities_are_those_of_the_prior() -> None:
    """Level, falls and rises have 0.4, 0.4 and 0.2 of the belief, and the sizes the moments of their gamma.

    Oracle: by construction; mean of a gamma is shape times scale. Tolerance: 2 % for midpoints and the cut tail.
    """
    prior = CoursePrior(time_constants_min=(3.0,), step_mmhg=1.0)
    courses = courses_over(MINUTE, 7.5, prior)
    for sign, expected in ((0, 0.38), (1, 0.38), (-1, 0.24)):
        assert courses.probability[courses.direction == sign].sum() == pytest.approx(expected, abs=1e-12)
    falling = courses.direction == 1
    size = courses.fall_mmhg[falling] / (1.0 - np.exp(-5.5 / 3.0))
    mean = courses.probability[falling] @ size / 0.38
    assert mean == pytest.approx(21.0, rel=0.02)


def test_falls_fall_and_flatten() -> None:
    """Every fall goes down steadily, ever slower; every rise is its mirror. Oracle: by construction."""
    courses = courses_over(MINUTE, 7.5, CoursePrior())
    for sign in (1, -1):
        speed = -sign * np.diff(courses.shift[courses.direction == sign], axis=1) / np.diff(MINUTE)
        assert (speed > 0).all()
        assert (np.diff(speed, axis=1) < 0).all()


def test_speed_at_the_end_is_the_slope() -> None:
    """How fast it still falls is the slope at the end.

    Oracle: by construction, a difference quotient over 0.02 min. Tolerance: its error.
    """
    around = np.array([2.0, 7.49, 7.5, 7.51])
    courses = courses_over(around, 7.5, CoursePrior())
    slope = (courses.shift[:, 1] - courses.shift[:, 3]) / 0.02
    np.testing.assert_allclose(courses.falling_mmhg_per_min, slope, atol=1e-4)
