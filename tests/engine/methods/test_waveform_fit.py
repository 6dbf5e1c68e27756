"""Whole pulses explained by one arterial pulse and one artery."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.integrate import quad
from scipy.signal import lfilter

from quietlimb.engine.methods import waveform_fit as wf
from quietlimb.engine.methods.artery_fit import POPULATION
from quietlimb.engine.methods.waveform_fit import PHASES, TRANSMISSION, WaveformFit, fit_waveforms
from quietlimb.engine.methods.waveforms import CELLS, Waveforms

Array = NDArray[np.float64]

PERIOD_S, FINE = 0.4, 1600
TRUTH = np.array([150.0, 116.0, 95.0])
COLLAPSED, DISTENDED, GAIN, LAG_S = 14.0, 20.0, 0.03, 0.0225


def compliance(pressure: float) -> float:
    """Exponential-linear, written down once more."""
    width = (COLLAPSED if pressure < 0 else DISTENDED) / 1.6783469900166605
    return (1.0 + abs(pressure) / width) * np.exp(-abs(pressure) / width)


TABLE_MMHG = np.linspace(-130.0, 130.0, 521)
TABLE = np.array([quad(compliance, 0.0, p)[0] for p in TABLE_MMHG])


def arterial() -> Array:
    """A pulse from 95 to 150 mmHg with mean 116, rising for a fifth of the period."""
    phase = np.arange(FINE) / FINE
    fall = np.clip((phase - 0.2) / 0.8, 0.0, 1.0)
    shape = np.where(phase < 0.2, 0.5 - 0.5 * np.cos(np.pi * phase / 0.2), (0.5 + 0.5 * np.cos(np.pi * fall)))
    low, high = 0.5, 6.0  # the run-off that gives the mean, by halving
    for _ in range(60):
        middle = (low + high) / 2.0
        low, high = (middle, high) if (shape**middle).mean() > (116.0 - 95.0) / 55.0 else (low, middle)
    return 95.0 + 55.0 * shape**low


def waveforms(
    noise_mmhg: float = 0.002, seed: int = 1, cuff: Array | None = None, fall_mmhg_per_s: float = 0.0
) -> Waveforms:
    """What the cuff shows of that pulse: tables and a recursive filter instead of formulas and a spectrum.

    A falling cuff has the pressure `cuff` at the third upstroke of four; the fall is taken out of what is seen.
    """
    steady = np.arange(185.0, 60.0, -5.0) if cuff is None else cuff
    rng, pulse = np.random.default_rng(seed), np.tile(arterial(), 4)
    stay = np.exp(-PERIOD_S / FINE / LAG_S)
    edges = np.linspace(-0.22, 0.70, CELLS + 1) * FINE
    centre = ((edges[1:] + edges[:-1]) / 2.0).astype(int)
    rows, heights = [], []
    foot_s = (np.arange(4 * FINE) / FINE - 2.0 - 0.1) * PERIOD_S
    for middle in steady:
        wave, fallen = np.zeros_like(pulse), fall_mmhg_per_s * foot_s
        for _ in range(6):
            around = wave[2 * FINE : 3 * FINE]
            pressure = pulse - TRANSMISSION.value * (middle - fallen + wave - (around.max() + around.min()) / 2.0)
            wave = lfilter([1.0 - stay], [1.0, -stay], GAIN * np.interp(pressure, TABLE_MMHG, TABLE))
        third = 2 * FINE + np.arange(FINE) - FINE // 5
        upstroke = int(third[np.argmax(wave[third + 8] - wave[third - 8])])
        rows.append(wave[upstroke + centre])
        heights.append(np.ptp(wave[third]))
    shape = (steady.size, CELLS)
    return Waveforms(
        since_upstroke_s=centre / FINE * PERIOD_S,
        cuff_pressure_mmhg=steady,
        fall_mmhg_per_s=np.full(steady.size, fall_mmhg_per_s),
        height_mmhg=np.array(heights),
        pressure_mmhg=np.array(rows) + noise_mmhg * rng.normal(size=shape),
        sd_mmhg=np.full(shape, noise_mmhg),
        pulses=np.full(steady.size, 3.0),
        period_s=PERIOD_S,
    )


def fitted(seen: Waveforms, systolic: float = 140.0, diastolic: float = 100.0) -> WaveformFit | None:
    """The fit from a start that is wrong in everything."""
    phase = np.arange(PHASES) / PHASES
    start = diastolic + (systolic - diastolic) * (0.5 - 0.5 * np.cos(2.0 * np.pi * phase))
    return fit_waveforms(seen, POPULATION, pulse=start, collapsed=18.0, distended=18.0, gain=0.02)


@pytest.mark.parametrize(("systolic", "diastolic"), [(140.0, 100.0), (165.0, 90.0), (150.0, 110.0)])
def test_finds_the_pressures(systolic: float, diastolic: float):
    """From starts that are off by 10 to 15 mmHg the three pressures are found within their own uncertainty.

    Oracle: by construction, with another way to compute waves (quadrature, table, recursive filter). Tolerance: 2.5
    standard deviations in all, for this artery has no residue, which the population has.
    """
    found = fitted(waveforms(), systolic, diastolic)
    assert found is not None
    sd = np.sqrt(np.diag(found.own_cov + found.shared_cov))
    assert (sd < 6.0).all()
    assert (np.abs(found.values - TRUTH) < 2.5 * sd).all()


def test_finds_the_pulse_where_the_model_is_right(monkeypatch: pytest.MonkeyPatch):
    """Told that nothing escapes the model, and given time, the fit finds pressures and pulse to a good part of a mmHg.

    Oracle: by construction, as above. Tolerance: 1 mmHg for the pressures, 2 % of the height for the pulse: ten
    harmonics round its corner, and the cells are points here and means there.
    """
    monkeypatch.setattr(wf, "MODEL_ERROR_SHARE", 0.005)
    monkeypatch.setattr(wf, "ALIGNED_SD", 0.0)
    monkeypatch.setattr(wf, "STEPS", 25)
    monkeypatch.setattr(wf, "SETTLED", (1e-3,) * 10)
    found = fitted(waveforms())
    assert found is not None
    assert (np.abs(found.values - TRUTH) < 1.0).all()
    true = arterial()
    away = min(np.sqrt(np.mean((np.roll(true, k)[:: FINE // PHASES] - found.pulse) ** 2)) for k in range(FINE))
    assert away < 0.02 * 55.0


def test_stays_when_level_drift_time_and_size_change():
    """What each pulse has of its own moves the pressures by no more than a part of the stated uncertainty.

    Oracle: by construction. Tolerance: two standard deviations of the own part.
    """
    still, rng = waveforms(), np.random.default_rng(2)
    plain = fitted(still)
    late = still.since_upstroke_s
    n = len(still)
    rows = still.pressure_mmhg * (1.0 + 0.04 * rng.normal(size=(n, 1)))
    rows = rows + 5.0 * rng.normal(size=(n, 1)) + 0.3 * rng.normal(size=(n, 1)) * late
    moved = fitted(replace(still, pressure_mmhg=rows))
    assert plain is not None
    assert moved is not None
    assert (np.abs(moved.values - plain.values) < 2.0 * np.sqrt(np.diag(plain.own_cov))).all()


def test_beats_of_their_own_level_and_size():
    """Beats whose level and pulse pressure differ move the pressures by no more than the stated uncertainty.

    Oracle: by construction: a beat 3 mmHg off looks like a cuff pressure 3 mmHg off; besides, each is 4 % too small or
    too large. Tolerance: two standard deviations of the own part.
    """
    steady, rng = np.arange(185.0, 60.0, -5.0), np.random.default_rng(5)
    plain, away = fitted(waveforms()), waveforms(cuff=steady - 3.0 * rng.normal(size=steady.size))
    size = 1.0 + 0.04 * rng.normal(size=(steady.size, 1))
    moved = fitted(replace(away, cuff_pressure_mmhg=steady, pressure_mmhg=size * away.pressure_mmhg))
    assert plain is not None
    assert moved is not None
    assert (np.abs(moved.values - plain.values) < 2.0 * np.sqrt(np.diag(plain.own_cov))).all()


def test_a_falling_cuff_is_followed_within_the_pulse():
    """A cuff that falls while the pulse lasts gives the pressures that a steady one gives, as its fall is known.

    Oracle: by construction: 8 mmHg/s take 3 mmHg from one upstroke to the next. Tolerance: 1 mmHg; taken for steady,
    the mean moves by more.
    """
    steady, falling = fitted(waveforms()), waveforms(fall_mmhg_per_s=8.0)
    followed, taken_for_steady = fitted(falling), fitted(replace(falling, fall_mmhg_per_s=np.zeros(len(falling))))
    assert steady is not None
    assert followed is not None
    assert taken_for_steady is not None
    assert (np.abs(followed.values - steady.values) < 1.0).all()
    assert abs(taken_for_steady.values[1] - steady.values[1]) > abs(followed.values[1] - steady.values[1])


def test_averages_of_pulses_beside_each_other_are_rounder():
    """The more pulses an average holds, the less is expected of its fast harmonics; one alone keeps them all.

    Oracle: closed form, the characteristic function of a normal shift of 2 % of the period.
    """
    one = replace(waveforms(), pulses=np.ones(25))
    many = replace(one, pulses=np.full(25, 1e9))
    theta, waves = np.zeros(wf.PARAMETERS), np.tile(np.sin(2.0 * np.pi * np.arange(PHASES) / PHASES), (25, 1))
    theta[0], theta[1] = 110.0, 20.0
    sharp, round_ = (wf._view(theta, waves, seen).about for seen in (one, many))
    np.testing.assert_allclose(np.abs(sharp), 1.0)
    np.testing.assert_allclose(np.abs(round_[0, 5]), np.exp(-0.5 * (2.0 * np.pi * 5 * wf.ALIGNED_SD) ** 2), rtol=1e-6)


def test_noise_widens_the_own_part():
    """Much noise makes the own part larger, and its covariance stays positive definite.

    Oracle: by construction. 0.2 mmHg is an eighth of the peak, and more than the allowance for the model.
    """
    clear, noisy = fitted(waveforms(0.002)), fitted(waveforms(0.2))
    assert clear is not None
    assert noisy is not None
    assert np.trace(noisy.own_cov) > 1.2 * np.trace(clear.own_cov)
    assert (np.linalg.eigvalsh(noisy.own_cov + noisy.shared_cov) > 0.0).all()


def test_slopes_of_the_waves():
    """The derivatives of the waves' spectra by each parameter are their slopes, cuff pressure given.

    Oracle: central differences. Tolerance: 1e-5 of the largest slope of that parameter; their own error is smaller.
    """
    seen = waveforms(cuff=np.array([140.0, 115.0, 90.0]))
    theta = np.zeros(wf.PARAMETERS)
    theta[0], theta[1], theta[2], theta[12] = 115.0, -20.0, 6.0, 9.0
    theta[wf.COLLAPSED_LN], theta[wf.RATIO_LN] = np.log(15.0), 0.3
    theta[wf.RESIDUE], theta[wf.LAG], theta[wf.GAIN_LN] = 0.2, 0.02, np.log(0.03)
    around = np.zeros((3, PHASES))
    slopes = wf._slopes(theta, seen, wf._waves(theta, seen, around, around))
    for k in range(wf.PARAMETERS):
        step = 1e-5 * max(abs(theta[k]), 0.1) * np.eye(wf.PARAMETERS)[k]
        above, below = (wf._waves(theta + sign * step, seen, around, around).spectrum for sign in (1.0, -1.0))
        numeric = (above - below) / (2.0 * step[k])
        np.testing.assert_allclose(slopes[k], numeric, atol=1e-5 * np.abs(numeric).max())


def test_a_parameter_at_its_bound_does_not_hold_up_the_others(monkeypatch: pytest.MonkeyPatch):
    """Where the cost would have the residue below nothing, it stays there and all else goes to where nothing is gained.

    Oracle: by construction, the conditions of an optimum within bounds. The residue's prior is set far below its bound.
    Tolerance: what a whole further step promises is less than a fiftieth of what is worth a step.
    """
    monkeypatch.setattr(wf, "RESIDUE_SHARE", replace(wf.RESIDUE_SHARE, value=-6.0))
    monkeypatch.setattr(wf, "STEPS", 60)
    seen = waveforms()
    theta = np.zeros(wf.PARAMETERS)
    theta[0], theta[1], theta[wf.LAG] = 115.0, -20.0, 0.02
    theta[wf.COLLAPSED_LN], theta[wf.RATIO_LN], theta[wf.GAIN_LN] = np.log(18.0), 0.2, np.log(0.02)
    still = np.zeros((len(seen), PHASES))
    waves = wf._waves_alone(theta, seen, still, still)
    view = wf._view(theta, waves, seen)
    found = wf._descended(wf._state(theta, seen, waves, view, POPULATION), seen, view, POPULATION, 1e-6)
    weighted = found.slope * wf.weight(found.residual)[:, None]
    downhill = weighted.T @ found.residual - found.pull_slope.T @ found.pull
    normal = weighted.T @ found.slope + found.pull_slope.T @ found.pull_slope
    assert found.theta[wf.RESIDUE] == 0.0
    assert downhill[wf.RESIDUE] < 0.0
    free = np.delete(np.arange(wf.PARAMETERS), wf.RESIDUE)
    promised = 0.5 * downhill[free] @ np.linalg.solve(normal[np.ix_(free, free)], downhill[free])
    assert promised < 0.004


def test_too_few_cuff_pressures():
    """Five bins are too few for a waveform fit.

    Oracle: invented limit, frozen.
    """
    assert fitted(waveforms(cuff=np.array([150.0, 130.0, 115.0, 100.0, 80.0]))) is None


def test_a_wave_that_comes_late_is_told_by_how_much():
    """Waves moved by up to 2 % of the period, with an offset, a drift and 4 % of size beside, are found that late.

    Oracle: by construction. Tolerance: 0.1 % of the period: the shift is found to first order, from 28 cells.
    """
    seen = waveforms()
    since, width = seen.since_upstroke_s, 0.12 * seen.period_s
    late = np.linspace(-0.02, 0.02, len(seen)) * seen.period_s

    def wave(at: np.ndarray) -> np.ndarray:
        return np.exp(-0.5 * ((at - width) / width) ** 2)

    expected = np.tile(wave(since), (len(seen), 1))
    speed = -expected * (since - width) / width**2
    moved = 1.04 * wave(since - late[:, None]) + 0.3 + 0.05 * np.linspace(-1.0, 1.0, since.size)
    found = wf._late(replace(seen, pressure_mmhg=moved), np.stack((expected, speed)))
    np.testing.assert_allclose(found, late, atol=0.001 * seen.period_s)
