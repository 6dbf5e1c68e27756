"""A vibration beside the pulses, found and taken out."""

from __future__ import annotations

import numpy as np
import pytest

from engine.recordings import PEAK_MMHG, Array, made, sampled
from quietlimb.engine.deflation import Deflation, find_deflation
from quietlimb.engine.pulses import find_pulses
from quietlimb.engine.reading import read
from quietlimb.engine.vibration import find_calm_pulses, find_hump

RATE_HZ = 200.0


def deflation(pressure: Array) -> Deflation:
    found = find_deflation(sampled(pressure, RATE_HZ))
    assert found is not None
    return found


def quiet(period_s: float = 0.4, seed: int = 3) -> Array:
    """A fall with pulses of known heights and a little noise."""
    source = made(rate_hz=RATE_HZ, period_s=period_s, noise_mmhg=0.01, seed=seed)
    return np.array(source.recording.cuff_pressure_mmhg)


def hum(samples: int, frequency_hz: float, amplitude_mmhg: float, width_hz: float, seed: int) -> Array:
    """A narrow band about a frequency, as strong as a sine of this amplitude."""
    rng = np.random.default_rng(seed)
    spectrum = np.fft.rfft(rng.normal(size=samples))
    spectrum[np.abs(np.fft.rfftfreq(samples, 1.0 / RATE_HZ) - frequency_hz) > width_hz / 2.0] = 0.0
    band = np.fft.irfft(spectrum, samples)
    return np.asarray(band / band.std() * amplitude_mmhg / np.sqrt(2.0))


@pytest.mark.parametrize("frequency_hz", [9.5, 11.3, 13.6, 22.0, 26.0])
@pytest.mark.parametrize("amplitude_mmhg", [0.1, 0.3])
def test_heights_are_those_made_though_the_limb_vibrates(frequency_hz: float, amplitude_mmhg: float):
    """With a trembling or a purr up to half a pulse strong, rate and heights are those made, and it is told.

    Oracle: by construction. Tolerances: 1 % of the rate; heights within 8 % of the peak in the median, where a part of
    the pulse's own content goes with the vibration; frequency within 1 Hz; amplitude from 0.7 to 1.3 of that made, for
    the pulse's harmonics beside it.
    """
    calm = quiet()
    shaken = deflation(calm + hum(calm.size, frequency_hz, amplitude_mmhg, 1.2, seed=5))
    train = find_calm_pulses(shaken)
    truth = find_pulses(deflation(calm))
    assert train is not None
    assert truth is not None
    assert train.taken_out is not None
    assert train.taken_out.frequency_hz == pytest.approx(frequency_hz, abs=1.0)
    assert train.taken_out.amplitude_mmhg == pytest.approx(amplitude_mmhg, rel=0.3)
    assert train.period_s == pytest.approx(0.4, rel=0.01)
    nearest = np.abs(train.pulses.time_s[:, None] - truth.pulses.time_s).argmin(axis=1)
    apart = np.abs(train.pulses.height_mmhg - truth.pulses.height_mmhg[nearest])
    assert np.median(apart) < 0.08 * PEAK_MMHG


@pytest.mark.parametrize("period_s", [0.2, 0.24, 0.3, 0.4, 0.7, 1.2])
def test_harmonics_are_left_to_the_pulse(period_s: float):
    """Pulses of 50 to 300 a minute without a vibration are those found without looking for one.

    Oracle: by construction. Tolerance: exact.
    """
    still = deflation(quiet(period_s))
    train, plain = find_calm_pulses(still), find_pulses(still)
    assert train is not None
    assert plain is not None
    assert train.taken_out is None
    np.testing.assert_array_equal(train.pulses.height_mmhg, plain.pulses.height_mmhg)


def test_white_noise_has_no_hump():
    """Noise as strong everywhere hardly stands out anywhere, and nothing is taken out of it.

    Oracle: by construction.
    """
    base = np.linspace(185.0, 55.0, 5200)
    noisy = deflation(base + 0.05 * np.random.default_rng(8).normal(size=base.size))
    assert find_hump(noisy) is None


def test_a_trembling_limb_is_noted_and_read():
    """The reading is kept, with a note that names the vibration. Oracle: by construction."""
    calm = quiet()
    reading = read(sampled(calm + hum(calm.size, 11.0, 0.3, 1.2, seed=6), RATE_HZ))
    (note,) = [finding for finding in reading.findings if finding.code == "vibration"]
    assert note.severity == "note"
    assert note.numbers["frequency_hz"] == pytest.approx(11.0, abs=1.0)
    assert reading.pulse_rate is not None
    assert reading.pulse_rate.value == pytest.approx(150.0, rel=0.02)
