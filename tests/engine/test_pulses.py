"""The pulses riding on a deflation."""

from __future__ import annotations

import numpy as np
import pytest

from engine.recordings import (
    PEAK_MMHG,
    STEEPEST,
    UPSTROKE,
    Array,
    Made,
    bell,
    deflation_of,
    line,
    made,
    ride,
    sampled,
    steps,
)
from quietlimb.engine.deflation import find_deflation
from quietlimb.engine.pulses import SET_ASIDE_REASONS, PulseTrain, find_pulses
from quietlimb.engine.recording import Recording


def train_of(recording: Recording) -> PulseTrain:
    """The pulses, which must be there."""
    deflation = find_deflation(recording)
    assert deflation is not None
    train = find_pulses(deflation)
    assert train is not None
    return train


def beside(train: PulseTrain, source: Made) -> tuple[Array, Array, Array]:
    """Found and true height and true base pressure of each pulse found, by the nearest upstroke."""
    nearest = np.abs(train.pulses.time_s[:, None] - source.upstroke_s).argmin(axis=1)
    return train.pulses.height_mmhg, source.height_mmhg[nearest], source.base_mmhg[nearest]


@pytest.mark.parametrize("rate_hz", [50.0, 100.0, 200.0, 500.0])
@pytest.mark.parametrize("period_s", [0.25, 0.4, 1.0])
def test_heights_are_those_made(rate_hz: float, period_s: float):
    """Without noise, every pulse is found, kept, and as high as it was made.

    Oracle: by construction. Tolerance: 2 % of the peak at 1.2 mmHg; at four samples in an upstroke (50 a second, period
    0.25 s) or averaged over 2 ms of it 4 %.
    """
    source = made(rate_hz=rate_hz, period_s=period_s, mmhg_per_s=3.0)
    train = train_of(source.recording)
    height, true, base = beside(train, source)
    assert source.upstroke_s.size - 3 <= len(train.pulses) <= source.upstroke_s.size
    assert train.pulses.kept.all()
    sharp = period_s == 0.25
    assert np.abs(height - true).max() < (0.04 if sharp else 0.02) * PEAK_MMHG
    assert train.noise_mmhg < 0.01 * PEAK_MMHG
    assert train.period_s == pytest.approx(period_s, rel=0.002)
    np.testing.assert_allclose(train.pulses.period_s, period_s, rtol=0.02)
    # the cuff's pressure in mid pulse is that of the base and half the height
    assert np.abs(train.pulses.cuff_pressure_mmhg - base - true / 2.0).max() < 0.04 * PEAK_MMHG


def test_upstrokes_are_where_they_were_made():
    """A pulse's time is that of its steepest point.

    Oracle: by construction. Tolerance: 4 ms, a hundredth of the period: the band-pass rounds the foot.
    """
    source = made(period_s=0.4)
    found = train_of(source.recording).pulses.time_s
    nearest = np.abs(found[:, None] - source.upstroke_s).argmin(axis=1)
    assert np.abs(found - source.upstroke_s[nearest]).max() < 0.004


def test_heights_on_steps():
    """On level stretches, pulses that no valve opening touches are as high as made; those that it spoils are set aside.

    Oracle: by construction: twenty-one openings; the last pulses are lower than the noise. Tolerance: 3 % of the peak,
    with noise of half a hundredth of it.
    """
    rate_hz, period_s = 100.0, 0.37
    base = steps(180.0, 50.0, 6.0, 1.5, rate_hz)
    foot = np.arange(0.1, base.size / rate_hz - 0.5, period_s)
    pressure, true = ride(base, rate_hz, foot, bell, period_s)
    pressure = pressure + 0.005 * np.random.default_rng(8).normal(size=base.size)
    train = train_of(sampled(pressure, rate_hz))
    pulses, upstroke = train.pulses, foot + STEEPEST * period_s
    nearest = np.abs(pulses.time_s[:, None] - upstroke).argmin(axis=1)
    assert len(pulses) > 0.8 * foot.size
    assert set(pulses.set_aside) <= {"", "valve", "limb-moved"}
    assert 5 <= pulses.set_aside.count("valve") <= 21
    assert pulses.kept.sum() > 0.6 * foot.size
    error = (pulses.height_mmhg - true[nearest])[pulses.kept]
    assert np.abs(error).max() < 0.03 * PEAK_MMHG


def test_noise_lifts_heights_far_less_than_highest_minus_lowest():
    """In noise, the heights are lifted by less than half of what highest minus lowest sample are lifted by.

    Oracle: a slower twin, highest minus lowest sample of each true beat with the known fall taken out, over 25 seeds.
    Tolerance: three standard errors of the mean of the fits, added to the claim.
    """
    period_s, noise = 0.4, 0.05
    fitted, plain = [], []
    for seed in range(25):
        source = made(noise_mmhg=noise, seed=seed, period_s=period_s, start_mmhg=150.0, stop_mmhg=70.0)
        train = train_of(source.recording)
        height, true, _ = beside(train, source)
        fitted.append((height - true)[train.pulses.kept].mean())
        flat = source.recording.cuff_pressure_mmhg - line(150.0, 70.0, 5.0, 100.0)
        beat = [
            np.ptp(flat[(source.recording.time_s >= at) & (source.recording.time_s < at + period_s)])
            for at in source.upstroke_s[:-1] - STEEPEST * period_s
        ]
        plain.append((np.array(beat) - source.height_mmhg[:-1]).mean())
    standard_error = np.std(fitted, ddof=1) / np.sqrt(25)
    assert np.mean(fitted) + 3.0 * standard_error < 0.5 * np.mean(plain)
    assert np.mean(plain) > 1.5 * noise


def test_noise_is_measured():
    """What is left when pulses and fall are taken out is the noise that was put in, smaller by what the shapes take up.

    Oracle: by construction, at 200 samples a second so that nothing is interpolated. Tolerance: shapes and neighbours
    may take a third.
    """
    for noise in (0.02, 0.1):
        train = train_of(made(noise_mmhg=noise, rate_hz=200.0).recording)
        assert 0.67 * noise < train.noise_mmhg < 1.05 * noise
    assert (train.pulses.height_sd_mmhg > 0.0).all()


def test_height_errors_grow_with_noise():
    """Four times the noise gives four times the stated standard errors.

    Oracle: by construction. Tolerance: a tenth.
    """
    little, much = (train_of(made(noise_mmhg=noise, rate_hz=200.0).recording) for noise in (0.01, 0.04))
    ratio = np.median(much.pulses.height_sd_mmhg) / np.median(little.pulses.height_sd_mmhg)
    assert ratio == pytest.approx(4.0, rel=0.1)


def test_a_movement_sets_its_pulses_aside():
    """A burst of one second sets aside the pulses under it, because the limb moved, and no others.

    Oracle: by construction: 3 mmHg at 4.3 Hz from 12 to 13 s. Tolerance: a pulse may lie half in and half out.
    """
    source = made(noise_mmhg=0.01)
    time = source.recording.time_s
    burst = (time > 12.0) & (time < 13.0)
    moving = np.where(burst, 3.0 * np.sin(2 * np.pi * 4.3 * (time - 12.0)) * np.sin(np.pi * (time - 12.0)), 0.0)
    train = train_of(sampled(source.recording.cuff_pressure_mmhg + moving, 100.0))
    moved = np.array([reason == "limb-moved" for reason in train.pulses.set_aside])
    at = train.pulses.time_s
    assert moved[(at > 12.15) & (at < 12.85)].all()
    assert moved.sum() <= 4
    assert not moved[(at < 11.6) | (at > 13.4)].any()
    still = ~moved & ((at < 11.6) | (at > 13.4))
    height, true, _ = beside(train, source)
    assert np.abs(height - true)[still].max() < 0.08 * PEAK_MMHG
    assert set(train.pulses.set_aside) <= set(SET_ASIDE_REASONS)


def test_shapes_begin_at_the_foot_and_end_as_high_as_the_pulse():
    """Each pulse's curve is 0 at its foot, reaches its height, and looks like the pulse that was made.

    Oracle: by construction. Tolerance: rounding at the foot; 4 % of the height along the curve of the largest pulse,
    whose slow end is bent down to the foot.
    """
    source = made(period_s=0.5, rate_hz=200.0, mmhg_per_s=3.0)
    train = train_of(source.recording)
    middle = int(train.pulses.height_mmhg.argmax())
    curve = train.shape[middle]
    assert curve.max() == pytest.approx(train.pulses.height_mmhg[middle], rel=1e-9)
    assert abs(curve[: curve.argmax()].min()) < 0.03 * curve.max()
    rise = curve[: curve.argmax()]
    half = float(np.interp(0.5, rise / curve.max(), np.arange(rise.size)))
    upstroke_point = round(0.22 * 0.5 * 200.0)
    assert half == pytest.approx(upstroke_point, abs=1.5)
    assert (curve.argmax() - upstroke_point) * train.shape_step_s == pytest.approx(
        (UPSTROKE - STEEPEST) * 0.5, abs=0.02
    )


def test_no_pulses_where_nothing_beats():
    """A straight fall has no pulses.

    Oracle: by construction.
    """
    assert find_pulses(deflation_of(line(180.0, 80.0, 5.0, 200.0), 200.0)) is None
