"""Beats, rhythm and the pressures that are true."""

from __future__ import annotations

import numpy as np
import pytest

from quietlimb.simulator.animals import draw_animal
from quietlimb.simulator.beats import Beats, Rhythm, beat_pressures, draw_beats
from quietlimb.simulator.pulse_shape import pulse_shape

RATE_HZ = 1000.0


def _steady(count: int = 40, period: float = 0.4) -> Beats:
    shape = pulse_shape(form_factor=0.35, upstroke=0.2, dicrotic=0.1)
    return Beats(
        foot_s=np.arange(count + 1) * period - 0.3,
        foot_mmhg=np.full(count + 1, 80.0),
        pulse_pressure=np.full(count, 50.0),
        shape=shape,
    )


def test_steady_beats_have_the_pressures_that_they_were_built_from():
    """Feet at 80 and pulses of 50 mmHg give 130 over 80 and the mean that the form factor says.

    Oracle: by construction. Tolerance: 0.02 mmHg at the peak of a beat of 400 samples; one sample more or
    less of the foot, 17.5 mmHg below the mean, moves the mean by 17.5 / 400.
    """
    beats = _steady()
    time = np.arange(0, 12000) / RATE_HZ
    real = beat_pressures(beats, beats.pressure(time), RATE_HZ, 2.0, 10.0)
    assert real.systolic == pytest.approx(np.full(real.systolic.size, 130.0), abs=0.02)
    assert real.diastolic == pytest.approx(np.full(real.systolic.size, 80.0), abs=0.02)
    assert real.mean == pytest.approx(np.full(real.systolic.size, 80.0 + 50.0 * beats.shape.form_factor), abs=0.05)
    assert real.foot_s[0] >= 2.0
    assert real.foot_s[-1] + real.period_s[-1] <= 10.0


def test_only_whole_beats_count():
    """Between 2 and 10 s lie as many beats as there are feet there, less one.

    Oracle: by construction, counted by hand: feet at 0.1 + 0.4 k, from 2.1 to 9.7 s and 9.7 is the last but none: 20
    feet, 19 beats.
    """
    beats = _steady()
    time = np.arange(0, 12000) / RATE_HZ
    real = beat_pressures(beats, beats.pressure(time), RATE_HZ, 2.0, 10.0)
    assert real.foot_s.size == 19
    assert real.period_s == pytest.approx(np.full(19, 0.4))


def test_truth_agrees_with_a_plain_loop():
    """The vectorised pressures of each beat are those of a loop over beats and samples.

    Oracle: a slower twin. Tolerance: rounding.
    """
    animal = draw_animal(np.random.default_rng(8), "dog")
    beats = draw_beats(np.random.default_rng(9), animal, 20.0, rhythm="ectopic")
    time = np.arange(0, 20001) / RATE_HZ
    pressure = beats.pressure(time)
    real = beat_pressures(beats, pressure, RATE_HZ, 4.0, 17.0)
    k = 0
    for foot, end in zip(beats.foot_s[:-1], beats.foot_s[1:], strict=True):
        if foot < 4.0 or end > 17.0:
            continue
        inside = [p for t, p in zip(time, pressure, strict=True) if foot <= t < end]
        assert (real.systolic[k], real.diastolic[k]) == (max(inside), min(inside))
        assert real.mean[k] == pytest.approx(sum(inside) / len(inside))
        k += 1
    assert k == real.systolic.size


@pytest.mark.parametrize(
    ("rhythm", "least", "most"), [("regular", 0.0, 0.12), ("ectopic", 0.05, 0.35), ("atrial fibrillation", 0.17, 0.32)]
)
def test_interval_variation_of_each_rhythm(rhythm: Rhythm, least: float, most: float):
    """A regular pulse varies little, fibrillation by 20 to 30 %.

    Oracle: invented ranges, frozen. Tolerance: three standard errors of a coefficient of variation of 200 beats.
    """
    for seed in range(10):
        animal = draw_animal(np.random.default_rng(seed), "dog", pulse_rate=120.0)
        interval = np.diff(draw_beats(np.random.default_rng(seed), animal, 100.0, rhythm=rhythm).foot_s)
        assert least <= interval.std() / interval.mean() <= most


def test_beats_cover_the_recording_and_keep_their_rate():
    """The first foot lies before 0, the last after the end; the mean rate is the animal's.

    Oracle: by construction. Tolerance: 3 %, breathing over 30 s does not quite cancel.
    """
    for seed in range(20):
        animal = draw_animal(np.random.default_rng(seed), "cat")
        beats = draw_beats(np.random.default_rng(seed), animal, 30.0)
        assert beats.foot_s[0] < 0.0
        assert beats.foot_s[-1] > 30.0
        assert 60.0 / np.diff(beats.foot_s).mean() == pytest.approx(animal.pulse_rate, rel=0.03)


def test_drift_is_the_drift_asked_for():
    """With 10 mmHg of drift, beats at the end lie about 10 mmHg above those at the begin.

    Oracle: by construction: the same seed without drift differs by the straight line alone. Tolerance: rounding.
    """
    animal = draw_animal(np.random.default_rng(4), "cat")
    level, drifting = (draw_beats(np.random.default_rng(2), animal, 30.0, drift_mmhg=d) for d in (0.0, 10.0))
    gained = drifting.foot_mmhg - level.foot_mmhg
    assert gained == pytest.approx(10.0 * (level.foot_s / 30.0 - 0.5))
