"""Inflation, deflation and dump."""

from __future__ import annotations

import numpy as np
import pytest

from quietlimb.engine.errors import ParameterError
from quietlimb.simulator.animals import draw_animal
from quietlimb.simulator.cuff_course import CuffCourse, draw_course

RATE_HZ = 1000.0
ANIMAL = draw_animal(np.random.default_rng(6), "cat", systolic=150.0, diastolic=100.0, pulse_rate=180.0)


def _base(course: CuffCourse) -> tuple[np.ndarray, np.ndarray]:
    time = np.arange(int(course.end_s * RATE_HZ) + 1) / RATE_HZ
    return time, course.base(time, RATE_HZ)


@pytest.mark.parametrize("seed", range(12))
def test_course_starts_above_systolic_and_ends_below_diastolic(seed: int):
    """Idle near 0, top 20..50 above systolic, end 25..50 below diastolic, then idle near 0 again.

    Oracle: invented ranges, frozen. Tolerance: 8 mmHg at the top (air still warm), 3 mmHg at the end (cold air and step
    scatter), 1.5 mmHg at rest.
    """
    course = draw_course(np.random.default_rng(seed), ANIMAL)
    time, base = _base(course)
    top, dump = course.deflation_s
    assert np.abs(base[time < course.inflation_start_s]).max() < 1e-9
    assert 170.0 - 3.0 <= base[np.searchsorted(time, top)] <= 200.0 + 8.0
    assert 50.0 - 4.0 <= base[np.searchsorted(time, dump) - 1] <= 75.0 + 3.0
    assert abs(base[-1]) < 1.5
    assert top < dump < course.end_s


def test_linear_deflation_has_the_rate_asked_for():
    """From top to dump a linear deflation falls by 5 mmHg/s on average, never rising.

    Oracle: by construction. Tolerance: 3 %, warm air at the top adds a little fall.
    """
    course = draw_course(np.random.default_rng(3), ANIMAL, deflation="linear", deflation_mmhg_per_s=5.0)
    time, base = _base(course)
    top, dump = (int(np.searchsorted(time, t)) for t in course.deflation_s)
    falling = base[top + 1000 : dump - 1]
    assert (np.diff(falling) < 0.0).all()
    assert (falling[0] - falling[-1]) / (falling.size / RATE_HZ) == pytest.approx(5.0, rel=0.06)


def test_steps_have_the_size_and_length_asked_for():
    """Steps of 8 mmHg and 1 s: level stretches that far apart, the last half of each level within 1 mmHg.

    Oracle: by construction. Tolerance: step scatter of 8 % either side and rounding to whole steps; 10 % of the length.
    """
    course = draw_course(np.random.default_rng(3), ANIMAL, deflation="steps", step_mmhg=8.0, step_s=1.0)
    _, base = _base(course)
    assert np.diff(course.step_s) == pytest.approx(np.full(course.step_s.size - 1, 1.0), abs=0.101)
    levels = []
    for begin, end in zip(course.step_s[:-1], course.step_s[1:], strict=True):
        settled = base[int((begin + 0.6 * (end - begin)) * RATE_HZ) : int(end * RATE_HZ)]
        assert np.ptp(settled) < 1.0
        levels.append(settled.mean())
    assert -np.diff(levels) == pytest.approx(np.full(len(levels) - 1, 8.0), rel=0.25)
    assert -np.mean(np.diff(levels)) == pytest.approx(8.0, rel=0.08)


def test_a_step_comes_back_a_little():
    """After a step the cold air warms: the level rises by 2 to 8 % of the step.

    Oracle: by construction, ringing taken out. Tolerance: 30 % of the rise, as neighbouring steps overlap.
    """
    course = draw_course(np.random.default_rng(3), ANIMAL, deflation="steps", step_mmhg=10.0, step_s=2.4)
    _, base = _base(course)
    k = 4
    begin, end = course.step_s[k], course.step_s[k + 1]
    level = base[int((begin + 0.5) * RATE_HZ) : int(end * RATE_HZ) - 1]
    size = (
        course.knot_mmhg[np.searchsorted(course.knot_s, begin)]
        - course.knot_mmhg[np.searchsorted(course.knot_s, begin + 0.1)]
    )
    left = np.exp(-0.5 / course.recovery_s) - np.exp(-(end - begin) / course.recovery_s)
    assert level[-1] - level[0] == pytest.approx(course.recovery_share * size * left, rel=0.3)


def test_fast_pulses_allow_no_more_than_four_mmhg_a_beat():
    """A slow pulse slows the drawn deflation down.

    Oracle: invented rule, frozen: fewer beats would leave nothing to read. Tolerance: rounding.
    """
    slow = draw_animal(np.random.default_rng(6), "dog", systolic=150.0, diastolic=100.0, pulse_rate=55.0)
    for seed in range(20):
        course = draw_course(np.random.default_rng(seed), slow, deflation="linear")
        fall = course.knot_mmhg.max() - course.knot_mmhg[-1]
        seconds = course.deflation_s[1] - course.deflation_s[0]
        assert fall / seconds * slow.period_s <= 4.0 + 1e-6


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ({"start_mmhg": 100.0, "stop_mmhg": 120.0}, "stop 10 mmHg or more below"),
        ({"start_mmhg": 400.0}, "320 mmHg at most"),
        ({"deflation_mmhg_per_s": 0.0}, "give 0.5 to 100"),
    ],
)
def test_impossible_courses_are_refused(given: dict[str, float], says: str):
    """A stop above the start, a start beyond the gauge or no deflation at all raises with a remedy.

    Oracle: by construction.
    """
    with pytest.raises(ParameterError, match=says):
        draw_course(np.random.default_rng(3), ANIMAL, **given)
