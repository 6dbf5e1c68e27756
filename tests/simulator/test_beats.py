"""Beats, rhythm and the pressures that are true."""

from __future__ import annotations

from itertools import pairwise

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


def test_alternans_is_strong_and_weak_in_turn():
    """Each pulse differs from both neighbours the same way, by 10 to 40 % of the mean pulse.

    Oracle: invented range, frozen: 5 to 20 % either side. Tolerance: 2 %, ten standard errors of 250 beats with 4 %.
    """
    for seed in range(10):
        animal = draw_animal(np.random.default_rng(seed), "dog", pulse_rate=120.0)
        pulse = draw_beats(np.random.default_rng(seed), animal, 250.0, rhythm="alternans").pulse_pressure
        share = (pulse[::2].mean() - pulse[1::2].mean()) / pulse.mean()
        assert 0.10 - 0.02 <= share <= 0.40 + 0.02


def test_a_lost_pulse_is_lost_at_the_limb():
    """5 to 30 % of the beats do not reach the limb, never two in a row; the foot that follows one lies lower.

    Oracle: invented range, frozen. Tolerance: four standard errors of a share of 500 beats, 0.08; pulses hold 2 % at
    most 1.3 times the animal's pulse.
    """
    for seed in range(10):
        animal = draw_animal(np.random.default_rng(seed), "dog", pulse_rate=120.0)
        beats = draw_beats(np.random.default_rng(seed), animal, 250.0, rhythm="pulse deficit")
        assert beats.absent is not None
        assert not (beats.absent[1:] & beats.absent[:-1]).any()
        assert max(0.0, 0.05 - 0.08) <= beats.absent.mean() <= 0.30 + 0.08
        lost = np.flatnonzero(beats.absent)
        assert lost.size > 5
        assert beats.pulse_pressure[lost].max() <= 0.02 * 1.3 * animal.pulse_pressure
        fall = beats.foot_mmhg[lost] - beats.foot_mmhg[lost + 1]
        assert fall.mean() == pytest.approx(0.15 * animal.pulse_pressure, abs=4 * 4.0 / np.sqrt(lost.size))


def test_truth_with_lost_pulses_agrees_with_a_plain_loop():
    """A beat that does not reach the limb belongs to the one before it: peaks are true pulses, the rate is that felt.

    Oracle: a slower twin. Tolerance: rounding.
    """
    animal = draw_animal(np.random.default_rng(8), "dog")
    beats = draw_beats(np.random.default_rng(9), animal, 30.0, rhythm="pulse deficit")
    assert beats.absent is not None
    time = np.arange(0, 30001) / RATE_HZ
    pressure = beats.pressure(time)
    real = beat_pressures(beats, pressure, RATE_HZ, 4.0, 27.0)
    felt = [foot for foot, absent in zip(beats.foot_s[:-1], beats.absent, strict=True) if not absent]
    felt = [foot for foot in felt if 4.0 <= foot <= 27.0]
    assert real.foot_s.tolist() == felt[:-1]
    assert real.period_s == pytest.approx(np.diff(felt))
    assert real.period_s.max() > 1.6 * real.period_s.min()
    for k, (foot, end) in enumerate(pairwise(felt)):
        inside = [p for t, p in zip(time, pressure, strict=True) if foot <= t < end]
        assert (real.systolic[k], real.diastolic[k]) == (max(inside), min(inside))
        assert real.mean[k] == pytest.approx(sum(inside) / len(inside))
