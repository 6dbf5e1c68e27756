"""A cuff that leaks."""

from __future__ import annotations

import numpy as np
import pytest

from quietlimb.simulator import simulate_recording
from quietlimb.simulator.animals import draw_animal
from quietlimb.simulator.cuff_course import Deflation, draw_course
from quietlimb.simulator.leak import leaking

RATE_HZ = 1000.0
ANIMAL = draw_animal(np.random.default_rng(6), "cat", systolic=150.0, diastolic=100.0, pulse_rate=180.0)


def test_no_leak_is_the_same_course():
    """A leak of 0 changes nothing.

    Oracle: by construction.
    """
    course = draw_course(np.random.default_rng(3), ANIMAL)
    assert leaking(course, 0.0) is course


@pytest.mark.parametrize("deflation", ["linear", "steps"])
@pytest.mark.parametrize("leak", [0.5, 3.0])
def test_a_leak_ends_the_deflation_sooner_at_the_same_pressure(deflation: Deflation, leak: float):
    """Stop pressure and all times before the dump stay, and the last step lies before the dump.

    Oracle: by construction. Tolerance: rounding.
    """
    for seed in range(8):
        tight = draw_course(np.random.default_rng(seed), ANIMAL, deflation=deflation)
        leaky = leaking(tight, leak)
        assert leaky.knot_mmhg[-1] == pytest.approx(tight.knot_mmhg[-1])
        assert leaky.knot_mmhg.max() <= tight.knot_mmhg.max()
        assert leaky.deflation_s[0] == tight.deflation_s[0]
        assert leaky.deflation_s[0] < leaky.deflation_s[1] < tight.deflation_s[1]
        assert leaky.end_s - leaky.deflation_s[1] == pytest.approx(tight.end_s - tight.deflation_s[1])
        assert (leaky.step_s < leaky.deflation_s[1]).all()
        assert (np.diff(leaky.knot_s) >= 0.0).all()


def test_level_stretches_fall_by_the_leak():
    """Between two steps the cuff falls by 2 mmHg/s where it fell by nothing.

    Oracle: by construction, against the same course without the leak, cold air and ringing being the same.
    Tolerance: 10 %, the air that leaks cools the rest by up to 8 %.
    """
    tight = draw_course(np.random.default_rng(3), ANIMAL, deflation="steps", step_mmhg=8.0, step_s=1.5)
    leaky = leaking(tight, 2.0)
    time = np.arange(int(tight.end_s * RATE_HZ)) / RATE_HZ
    extra = leaky.base(time, RATE_HZ) - tight.base(time, RATE_HZ)
    assert leaky.step_s.size > 5
    for begin, end in zip(leaky.step_s[1:-1], leaky.step_s[2:], strict=True):
        level = slice(int((begin + 0.1) * RATE_HZ), int(end * RATE_HZ) - 1)
        fall = (extra[level][0] - extra[level][-1]) / ((end - begin) - 0.1)
        assert fall == pytest.approx(2.0, rel=0.10)


@pytest.mark.parametrize("deflation", ["linear", "steps"])
def test_a_recording_shows_its_leak(deflation: Deflation):
    """From one seed, the cuff pressure with a leak parts from that without by the rate that the truth tells.

    Oracle: by construction: all else of the pair is the same, so a straight line through the difference is the leak.
    Tolerance: 10 %: at each moment another part of the pulse is seen, up to the peak height of 0.5 mmHg.
    """
    for seed in (1, 2, 3):
        tight, leaky = (
            simulate_recording(
                seed,
                species="cat",
                deflation=deflation,
                deflation_mmhg_per_s=4.0,
                leak_mmhg_per_s=leak,
                peak_height_mmhg=0.5,
                sampling_hz=100.0,
            )
            for leak in (0.0, 1.5)
        )
        assert (tight.truth.leak_mmhg_per_s, leaky.truth.leak_mmhg_per_s) == (0.0, 1.5)
        top, dump = leaky.truth.deflation_s
        inside = slice(int((top + 0.5) * 100), int((dump - 0.5) * 100))
        difference = leaky.recording.cuff_pressure_mmhg[inside] - tight.recording.cuff_pressure_mmhg[inside]
        slope = np.polyfit(leaky.recording.time_s[inside], difference, 1)[0]
        assert slope == pytest.approx(-1.5, rel=0.10)
