"""A narrow line above the pulse's harmonics, as a purring cat makes it, and its image at a slow sampling rate.

Purring has 20.9 to 27.2 Hz (Schotz and Eklund 2011) and harmonics. Sampled 50 times a second without a filter, the
second harmonic is met at every other turn only, and looks like a slow wave at the rate of a pulse.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from quietlimb.engine.deflation import Deflation
from quietlimb.engine.findings import Finding
from quietlimb.engine.fourier import quick_size
from quietlimb.engine.pulses import PulseTrain
from quietlimb.engine.quantiles import median
from quietlimb.engine.recording import Recording

Array = NDArray[np.float64]

BAND_HZ = (20.5, 32.0)
FOLDED_FROM_HZ = 17.5  # a line of 32 Hz, folded at 25
FAST_ENOUGH = 2.2  # samples for one turn of the highest line
STANDS_OUT, LEAST_MMHG = 30.0, 0.01
NEAR_HZ = 1.5  # breathing in and out shifts a purr by about as much
FEWEST_BINS = 20
COMB_SHARE = 0.5  # of a line's power, one and two pulse rates below it: the harmonics of a pulse fall off
COMB_WIDTH = 0.15  # of the pulse rate
COMB_REACH_HZ = 12.0  # two pulse rates of 340 a minute, with that width


@dataclass(frozen=True, slots=True, kw_only=True)
class _Line:
    frequency_hz: float
    amplitude_mmhg: float


def vibration_findings(recording: Recording, deflation: Deflation, train: PulseTrain | None) -> tuple[Finding, ...]:
    """A note on what vibrates: a narrow line, else what was taken out before the pulses were sought."""
    found = line_findings(recording, deflation, None if train is None else train.period_s)
    if found or train is None or train.taken_out is None:
        return found
    taken = train.taken_out
    numbers = {"frequency_hz": taken.frequency_hz, "amplitude_mmhg": taken.amplitude_mmhg}
    return (Finding(code="vibration", severity="note", numbers=numbers),)


def line_findings(recording: Recording, deflation: Deflation, period_s: float | None) -> tuple[Finding, ...]:
    """A note on a narrow line between 20.5 and 32 Hz, or, where sampling is too slow for these, on its folded image.

    period_s : of the pulse; None where there is none
    """
    if deflation.rate_hz / deflation.oversampled >= FAST_ENOUGH * BAND_HZ[1]:
        line = _line(deflation.pressure, deflation.valve_open, deflation.rate_hz, BAND_HZ, period_s)
        if line is None:
            return ()
        numbers = {"frequency_hz": line.frequency_hz, "amplitude_mmhg": line.amplitude_mmhg}
        return (Finding(code="vibration", severity="note", numbers=numbers),)
    # the grid's values between samples hold little of what is near half the sampling rate: back to the samples
    first, last = np.searchsorted(recording.time_s, (deflation.time_s[0], deflation.time_s[-1]))
    rate, time = recording.sampling_rate_hz, recording.time_s[first:last]
    opened = np.interp(time, deflation.time_s, deflation.valve_open) > 0.0
    line = _line(recording.cuff_pressure_mmhg[first:last], opened, rate, (FOLDED_FROM_HZ, 0.5 * rate), period_s)
    if line is None:
        return ()
    folded = 60.0 * abs(rate - 2.0 * line.frequency_hz)
    numbers = {"frequency_hz": line.frequency_hz, "sampling_hz": rate, "looks_like_per_min": folded}
    return (Finding(code="vibration-alias", severity="note", numbers=numbers),)


def _line(
    pressure: Array, opened: NDArray[np.bool_], rate_hz: float, band_hz: tuple[float, float], period_s: float | None
) -> _Line | None:
    """The line that stands out of the band, unless it is a harmonic of the pulse."""
    still = np.where(opened[1:], 0.0, np.diff(pressure))  # steps must not ring in the spectrum
    n = quick_size(still.size, step=-1)
    still, window = still[:n], _window(n)
    frequency = np.asarray(np.fft.rfftfreq(n, 1.0 / rate_hz), dtype=np.float64)
    looked_at = slice(*np.searchsorted(frequency, (max(band_hz[0] - COMB_REACH_HZ, 0.5 * rate_hz / n), band_hz[1])))
    frequency = frequency[looked_at]
    spectrum = np.abs(np.fft.rfft((still - still.mean()) * window)[looked_at]) ** 2
    band = (frequency > band_hz[0]) & (frequency < band_hz[1])
    if band.sum() < FEWEST_BINS:
        return None
    spectrum /= (2.0 * np.sin(np.pi * frequency / rate_hz)) ** 2  # the gain of a difference
    peak = int(np.flatnonzero(band)[np.argmax(spectrum[band])])
    floor = median(spectrum[band])
    near = band & (np.abs(frequency - frequency[peak]) < NEAR_HZ)
    power = float(np.sum(np.maximum(spectrum[near] - floor, 0.0)))
    amplitude = 2.0 * float(np.sqrt(power / n / np.sum(window**2)))
    if spectrum[peak] < STANDS_OUT * floor or amplitude < LEAST_MMHG:
        return None
    if period_s is not None and _harmonic(spectrum, frequency, peak, 1.0 / period_s):
        return None
    return _Line(frequency_hz=float(frequency[peak]), amplitude_mmhg=amplitude)


@lru_cache(maxsize=8)
def _window(size: int) -> Array:
    """Hann window; recordings of a like length share one of a few quick sizes."""
    return np.hanning(size)


def _harmonic(spectrum: Array, frequency: Array, peak: int, pulse_hz: float) -> bool:
    """Whether lines stand one and two pulse rates below this one too: a vibration stands alone."""
    for below in (1.0, 2.0):
        around = np.abs(frequency - (frequency[peak] - below * pulse_hz)) < COMB_WIDTH * pulse_hz
        if not around.any() or spectrum[around].max() < COMB_SHARE * spectrum[peak]:
            return False
    return True
