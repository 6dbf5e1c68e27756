"""Pulse height against cuff pressure."""

from __future__ import annotations

import numpy as np
import pytest

from engine.recordings import PEAK_AT_MMHG, PEAK_MMHG, Array, bell, made
from quietlimb.engine.deflation import find_deflation
from quietlimb.engine.oscillogram import find_oscillogram
from quietlimb.engine.pulses import Pulses, PulseTrain, find_pulses


def train_of(cuff: Array, height: Array, *, sd: float = 0.01, set_aside: dict[int, str] | None = None) -> PulseTrain:
    """Pulses of these heights at these cuff pressures, without a recording."""
    reasons = tuple((set_aside or {}).get(k, "") for k in range(cuff.size))
    pulses = Pulses(
        time_s=0.4 * np.arange(cuff.size),
        period_s=np.full(cuff.size, 0.4),
        cuff_pressure_mmhg=cuff,
        height_mmhg=height,
        height_sd_mmhg=np.full(cuff.size, sd),
        set_aside=reasons,
    )
    return PulseTrain(
        pulses=pulses,
        period_s=0.4,
        noise_mmhg=sd,
        misfit_mmhg=np.full(cuff.size, sd),
        shape=np.zeros((cuff.size, 20)),
        shape_step_s=0.02,
        around_mmhg=np.zeros((cuff.size, 20)),
        seen=np.zeros((cuff.size, 20)),
        over_valve=np.zeros(cuff.size, dtype=np.bool_),
        oversampled=1.0,
    )


CUFF = np.linspace(180.0, 60.0, 61)


def test_kept_pulses_make_the_oscillogram():
    """The points are the kept pulses in their order, and those set aside before stay so.

    Oracle: by construction.
    """
    height = bell(CUFF)
    height[10] = 9.0
    found = find_oscillogram(train_of(CUFF, height, set_aside={10: "limb-moved", 40: "valve"}))
    assert found is not None
    oscillogram, pulses = found
    kept = np.delete(np.arange(61), [10, 40])
    np.testing.assert_array_equal(oscillogram.cuff_pressure_mmhg, CUFF[kept])
    np.testing.assert_array_equal(oscillogram.height_mmhg, height[kept])
    assert len(oscillogram) == 59
    assert pulses.set_aside[10] == "limb-moved"
    assert pulses.set_aside[40] == "valve"
    assert pulses.kept.sum() == 59


@pytest.mark.parametrize("factor", [0.2, 2.5])
def test_an_odd_height_is_set_aside(factor: float):
    """One pulse much lower or higher than its neighbours is set aside as odd, and only that one.

    Oracle: by construction, near the peak, where the envelope is flat.
    """
    rng = np.random.default_rng(9)
    height = bell(CUFF) + 0.01 * rng.normal(size=61)
    height[35] *= factor
    found = find_oscillogram(train_of(CUFF, height))
    assert found is not None
    assert [k for k, reason in enumerate(found[1].set_aside) if reason] == [35]
    assert found[1].set_aside[35] == "odd-height"


def test_steep_flanks_are_not_odd():
    """A clean envelope with steep flanks, met by few pulses, keeps them all.

    Oracle: by construction: 4 mmHg from pulse to pulse, widths of 12 mmHg.
    """
    cuff = np.arange(170.0, 60.0, -4.0)
    height = 1.0 * np.exp(-0.5 * ((cuff - 110.0) / 12.0) ** 2)
    found = find_oscillogram(train_of(cuff, height))
    assert found is not None
    assert found[1].kept.all()


def test_fewer_than_five_make_none():
    """Four pulses are no oscillogram, five are.

    Oracle: by construction.
    """
    assert find_oscillogram(train_of(CUFF[:4], bell(CUFF[:4]))) is None
    assert find_oscillogram(train_of(CUFF[:5], bell(CUFF[:5]))) is not None


def test_peak_and_smoothed_heights():
    """The peak of the smoothed heights is near that of the envelope, a little lower; far from all pulses there is none.

    Oracle: by construction. Smoothing a Gaussian of width s by one of 7 mmHg lowers the peak by sqrt(1 + 49/s^2): 7 %
    at 18, 4 % at 24 mmHg. Tolerance: 2 % about 0.945; half a pulse's distance and the lean to the wider side for where.
    """
    found = find_oscillogram(train_of(CUFF, bell(CUFF)))
    assert found is not None
    oscillogram = found[0]
    assert oscillogram.peak_mmhg == pytest.approx(0.945 * PEAK_MMHG, rel=0.02)
    assert oscillogram.peak_at_mmhg == pytest.approx(PEAK_AT_MMHG, abs=3.0)
    near, far = oscillogram.smoothed(np.array([60.0 - 11.9, 60.0 - 12.1]))
    assert np.isfinite(near)
    assert np.isnan(far)


def test_scatter_is_that_of_the_heights():
    """The robust scatter of noisy heights about the smoothed envelope is the noise, and wild ones do not raise it.

    Oracle: by construction. Tolerance: a quarter: 61 heights, smoothed over about ten.
    """
    rng = np.random.default_rng(10)
    noise = 0.03 * rng.normal(size=61)
    noise[::15] *= 8.0
    flat = find_oscillogram(train_of(CUFF, 1.0 + noise, sd=0.001))
    assert flat is not None
    assert flat[0].scatter_mmhg == pytest.approx(0.03, rel=0.25)


def test_scale_is_noise_and_beat_to_beat_raised_to_what_is_seen():
    """Each height's scale is noise and a share of the height in quadrature; where heights scatter more, all are raised.

    Oracle: by construction, a plain loop. Tolerance: rounding.
    """
    calm = find_oscillogram(train_of(CUFF, bell(CUFF), sd=0.05))
    assert calm is not None
    smooth = calm[0].smoothed(CUFF)
    expected = [np.sqrt(0.05**2 + (0.05 * h) ** 2) for h in smooth]
    np.testing.assert_allclose(calm[0].scale(0.05), expected, rtol=1e-12)
    rng = np.random.default_rng(11)
    rough = find_oscillogram(train_of(CUFF, bell(CUFF) + 0.15 * rng.normal(size=61), sd=0.001))
    assert rough is not None
    assert np.median(rough[0].scale(0.05)) > 2.0 * np.median(expected) / np.sqrt(2.0)


def test_from_a_recording():
    """A made recording gives the envelope that its pulses were made by.

    Oracle: by construction. Tolerance: 2 % of the peak.
    """
    deflation = find_deflation(made().recording)
    assert deflation is not None
    train = find_pulses(deflation)
    assert train is not None
    found = find_oscillogram(train)
    assert found is not None
    oscillogram = found[0]
    base = oscillogram.cuff_pressure_mmhg - oscillogram.height_mmhg / 2.0
    assert np.abs(oscillogram.height_mmhg - bell(base)).max() < 0.02 * PEAK_MMHG
