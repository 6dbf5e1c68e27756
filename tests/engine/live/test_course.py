"""How the pressure of one inflation runs."""

from __future__ import annotations

import numpy as np
import pytest

from quietlimb.engine.live.course import Course
from quietlimb.engine.live.motion import TICK_S


def followed(*knots: tuple[float, float]) -> tuple[Course, list[bool]]:
    """The course after straight lines between (time [s], pressure [mmHg]), and whether it deflated at each tick."""
    at, pressure = np.array(knots).T
    course, deflating = Course(float(at[0])), []
    for now in np.arange(at[0] + TICK_S, at[-1] + 1e-9, TICK_S):
        course.add(float(now), float(np.interp(now, at, pressure)))
        deflating.append(course.deflating)
    return course, deflating


def test_a_rest_between_two_squeezes_is_no_deflation():
    """A bulb's rests of 0.4 s, each with 2 mmHg of backflow, are part of the inflation.

    Oracle: by construction; rests and backflow are the longest of the simulator's bulb.
    """
    squeezes = [(0.0, 0.0)]
    for k in range(1, 9):
        squeezes += [(k * 0.58 - 0.4, 22.0 * k), (k * 0.58, 22.0 * k - 2.0)]
    assert not any(followed(*squeezes)[1])


def test_the_fall_is_that_of_the_last_two_seconds():
    """From 160 mmHg at 3, then at 6 mmHg a second: 6 lately, and from the top what both make together.

    Oracle: by construction.
    """
    course, _ = followed((0.0, 0.0), (3.0, 160.0), (9.0, 142.0), (13.0, 118.0))
    assert course.fall_mmhg_per_s == pytest.approx(6.0, abs=1e-6)
    assert course.whole_fall_mmhg_per_s == pytest.approx(4.2, abs=0.05)
    assert course.top_mmhg == pytest.approx(160.0, abs=3.0)
    assert course.fallen_mmhg == pytest.approx(42.0, abs=3.0)


def test_no_fall_is_told_while_it_rises_or_has_hardly_begun():
    """While inflating, and in the first second of the deflation, there is no rate of fall.

    Oracle: by construction.
    """
    assert followed((0.0, 0.0), (3.0, 160.0))[0].fall_mmhg_per_s is None
    assert followed((0.0, 0.0), (3.0, 160.0), (4.0, 155.0))[0].fall_mmhg_per_s is None


def test_pumping_up_again_begins_anew():
    """Once 40 mmHg above the lowest point, the course inflates again and names that lowest point.

    Oracle: by construction; the 40 mmHg are those at which a reading takes a deflation to have ended.
    """
    course, deflating = followed((0.0, 0.0), (3.0, 160.0), (10.0, 90.0), (12.0, 170.0))
    assert deflating[180]
    assert not course.deflating
    assert course.rose_from_s == pytest.approx(10.0, abs=0.06)


def test_topping_up_before_the_fall_is_one_inflation():
    """A rest of 2 s at 110 mmHg before the last squeezes to 170 does not end an inflation.

    Oracle: by construction.
    """
    course, _ = followed((0.0, 0.0), (2.0, 110.0), (4.0, 107.0), (6.0, 170.0), (8.0, 166.0))
    assert course.rose_from_s is None
    assert course.deflating
    assert course.top_mmhg == pytest.approx(170.0, abs=3.0)


def test_below_idle_is_counted_from_its_beginning():
    """The moment from which the pressure has been under 12 mmHg is kept, and forgotten when it rises.

    Oracle: by construction.
    """
    fell = followed((0.0, 0.0), (2.0, 100.0), (10.0, 40.0), (10.5, 2.0), (11.0, 2.0))[0]
    assert fell.below_idle_since_s == pytest.approx(10.37, abs=0.06)
    assert followed((0.0, 0.0), (2.0, 100.0))[0].below_idle_since_s is None
