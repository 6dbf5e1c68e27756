"""The form of the arterial pulse, and what a lagging wall makes of its height."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from engine.recordings import UPSTROKE, line, pulse, sampled
from quietlimb.engine.arteries.artery import FAMILIES
from quietlimb.engine.deflation import find_deflation
from quietlimb.engine.methods.pulse_form import (
    FORM_FACTOR,
    FORM_FACTOR_SD,
    POINTS,
    WALL_LAG_S,
    PulseForm,
    lag_response,
    pulse_form,
    usual_form,
)
from quietlimb.engine.pulses import PulseTrain, find_pulses

Array = NDArray[np.float64]

PHASE = np.arange(POINTS) / POINTS
SYSTOLIC, DIASTOLIC, COLLAPSED, DISTENDED, GAIN = 140.0, 95.0, 14.0, 19.0, 0.03
ARTERY = {
    "diastolic": DIASTOLIC,
    "pulse_pressure": SYSTOLIC - DIASTOLIC,
    "collapsed": COLLAPSED,
    "distended": DISTENDED,
}


def quick_pulse(phase: Array, run_off: float) -> Array:
    """An arterial pulse whose pressure runs off the quicker, the greater `run_off`."""
    rise = 0.5 - 0.5 * np.cos(np.pi * np.clip(phase / UPSTROKE, 0.0, 1.0))
    fall = (0.5 + 0.5 * np.cos(np.pi * np.clip((phase - UPSTROKE) / (1.0 - UPSTROKE), 0.0, 1.0))) ** run_off
    return np.where(phase < UPSTROKE, rise, fall)


def train_under(family: str, run_off: float, noise_mmhg: float = 0.0, stop_mmhg: float = 50.0) -> PulseTrain:
    """The cuff's pulses, each sample a volume of this artery, every 0.4 s in a fall of 4 mmHg/s."""
    artery, rate_hz, period_s = FAMILIES[family], 200.0, 0.4
    base = line(185.0, stop_mmhg, 4.0, rate_hz)
    time = np.arange(base.size) / rate_hz
    arterial = DIASTOLIC + 45.0 * quick_pulse(np.mod(time - 0.07, period_s) / period_s, run_off)
    widths = np.array(COLLAPSED), np.array(DISTENDED)
    seen = GAIN * (artery.volume(arterial - base, *widths) - artery.volume(DIASTOLIC - base, *widths))
    noise = noise_mmhg * np.random.default_rng(12).normal(size=base.size)
    deflation = find_deflation(sampled(base + seen + noise, rate_hz))
    assert deflation is not None
    train = find_pulses(deflation)
    assert train is not None
    return train


@pytest.mark.parametrize("family", FAMILIES)
@pytest.mark.parametrize("run_off", [2.5, 3.0, 4.0])
def test_form_factor_of_a_made_pulse(family: str, run_off: float):
    """The pulse seen through the artery below the diastolic pressure gives back its form factor and its form.

    Oracle: by construction: form factors 0.375, 0.354, 0.323. Tolerance: 0.02, half of what its own SD claims at the
    most; 0.12 of the height at each point of the curve, laid upon the true one where they fit best.
    """
    true = quick_pulse(PHASE, run_off)
    form = pulse_form(FAMILIES[family], train=train_under(family, run_off), **ARTERY)
    assert form.factor == pytest.approx(float(true.mean()), abs=0.02)
    assert form.factor_sd < FORM_FACTOR_SD.value
    assert form.curve.min() == pytest.approx(0.0, abs=1e-12)
    assert form.curve.max() == pytest.approx(1.0, abs=1e-12)
    assert min(np.abs(np.roll(form.curve, shift) - true).max() for shift in range(-10, 11)) < 0.12


def test_form_factor_moves_with_the_pulse():
    """A pulse that runs off quicker has a lower form factor.

    Oracle: by construction.
    """
    factors = [
        pulse_form(FAMILIES["slow"], train=train_under("slow", run_off), **ARTERY).factor for run_off in (2.0, 3.0, 5.0)
    ]
    assert factors[0] > factors[1] + 0.005
    assert factors[1] > factors[2] + 0.02


def test_what_was_seen_is_weighed_against_what_is_usual():
    """The factor is the mean of the curve and the usual 0.36, by their precisions.

    Oracle: by construction, plain arithmetic on the curve that comes back. Tolerance: noise of 1/500 of the height.
    """
    form = pulse_form(FAMILIES["slow"], train=train_under("slow", 5.0), **ARTERY)
    seen, usual = 0.03**-2, FORM_FACTOR_SD.value**-2
    expected = (seen * form.curve.mean() + usual * FORM_FACTOR.value) / (seen + usual)
    assert form.factor == pytest.approx(float(expected), abs=1e-3)
    assert form.factor_sd == pytest.approx((seen + usual) ** -0.5, rel=1e-2)


def test_the_usual_form_stands_in():
    """Without pulses below the diastolic pressure the usual form is taken, with its wide uncertainty.

    Oracle: by construction: the deflation ends above the diastolic pressure.
    """
    form = pulse_form(FAMILIES["slow"], train=train_under("slow", 3.0, stop_mmhg=97.0), **ARTERY)
    np.testing.assert_array_equal(form.curve, usual_form().curve)
    assert (form.factor, form.factor_sd) == (0.36, 0.05)


def test_the_usual_form_is_a_pulse():
    """The usual curve rises from 0 to 1 in a fifth of the period, falls back to 0, and its mean is about its factor.

    Oracle: by construction. Tolerance: 0.03 between the mean of the curve and the factor, a part of the factor's SD.
    """
    usual = usual_form()
    top = int(usual.curve.argmax())
    assert usual.curve[0] == 0.0
    assert usual.curve[top] == pytest.approx(1.0, abs=0.03)
    assert top / POINTS == pytest.approx(0.2, abs=1.0 / POINTS)
    assert (np.diff(usual.curve[: top + 1]) > 0.0).all()
    assert (np.diff(usual.curve[top:]) < 0.0).all()
    assert usual.curve[-1] < 0.05
    assert usual.curve.mean() == pytest.approx(usual.factor, abs=0.03)


def by_small_steps(family: str, cuff_mmhg: float, period_s: float) -> float:
    """Height with lag over height without, by 4000 exact steps a beat of lag dV/dt + V = V_static, after five beats."""
    per_beat, beats = 4000, 6
    time = np.arange(per_beat * beats) * period_s / per_beat
    curve = pulse(np.mod(time / period_s, 1.0))
    static = FAMILIES[family].volume(DIASTOLIC + 45.0 * curve - cuff_mmhg, np.array(COLLAPSED), np.array(DISTENDED))
    keeps = float(np.exp(-period_s / per_beat / WALL_LAG_S.value))
    volume, last = float(static[0]), []
    for value in static.tolist():
        volume = keeps * volume + (1.0 - keeps) * value
        last.append(volume)
    return float(np.ptp(last[-per_beat:]) / np.ptp(static))


@pytest.mark.parametrize("family", ["exponential-linear", "slow"])
@pytest.mark.parametrize("period_s", [0.25, 0.6])
def test_lag_response_is_what_the_lag_does(family: str, period_s: float):
    """The share of the height that a first-order lag leaves is that of its differential equation.

    Oracle: a slower twin, small steps in time. Tolerance: 0.003: 64 points a beat may miss a top by so much.
    """
    form = PulseForm(curve=pulse(PHASE), factor=0.44, factor_sd=0.05)
    cuff = np.array([70.0, 95.0, 118.0, 140.0, 160.0])
    found = lag_response(FAMILIES[family], form, cuff, period_s=period_s, **ARTERY)
    expected = [by_small_steps(family, at, period_s) for at in cuff]
    np.testing.assert_allclose(found, expected, atol=0.003)
    assert found[-1] < found[0]  # pulses are narrowest near the systolic pressure and lose most


def test_a_slow_pulse_loses_nothing():
    """Where the beat is long against the lag, the whole height comes through; never more than that.

    Oracle: by construction: a lag of 0.02 s in a beat of 1000 s. Tolerance: 1e-3, and 1e-4 above 1.
    """
    form = PulseForm(curve=pulse(PHASE), factor=0.44, factor_sd=0.05)
    cuff = np.linspace(60.0, 170.0, 12)
    response = lag_response(FAMILIES["slow"], form, cuff, period_s=1000.0, **ARTERY)
    np.testing.assert_allclose(response, 1.0, atol=1e-3)
    assert (response <= 1.0 + 1e-4).all()
