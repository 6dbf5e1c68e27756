"""What vibrates beside the pulses, taken out: a limb that trembles (9 to 14 Hz), a cat that purrs (21 to 31 Hz).

A vibration is a hump in the spectrum: more power within its width than on either side. A harmonic of the pulse is one
too, so a hump alone proves nothing. The pulses are sought once more without it, and only where much less is then left
unexplained was it none of theirs.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from quietlimb.engine.deflation import Deflation
from quietlimb.engine.fourier import quick_size
from quietlimb.engine.pulse_timing import filtered, without_steps
from quietlimb.engine.pulses import PulseTrain, Vibration, find_pulses
from quietlimb.engine.quantiles import quantile

Array = NDArray[np.float64]

# All set on simulated recordings.
BAND_HZ = (8.0, 31.0)
STEP_HZ = 0.2
PURR_FROM_HZ = 17.0
TREMBLING_HZ, PURR_HZ = 0.8, 1.6  # half a hump's width
BESIDE = (2.25, 4.25)  # of that: from where to where its sides reach
TAKEN_OUT = 2.0  # of that, on either side
OF_NYQUIST = 0.9
STANDS_OUT = 1.8
LESS_NOISE = 0.9  # of the noise, that which is left without the vibration
NEAR_HARMONIC, MUCH_LESS_NOISE = 0.12, 0.7  # of the pulse rate: what lies there may well be the pulse's own
SLOWER = 1.5  # than the vibration that had been taken for pulses
TALL = 0.9  # quantile of the heights
COULD_BE_NOISE = 0.43  # of the noise: a smaller vibration cannot lower it to that


def find_calm_pulses(deflation: Deflation) -> PulseTrain | None:
    """The pulses of a deflation, of what is left of it without a vibration where that leaves much less unexplained."""
    train = find_pulses(deflation)
    hump = find_hump(deflation)
    if hump is None:
        return train
    content = _content(deflation, *hump)
    spread = float(np.std(content))
    if train is not None and spread < COULD_BE_NOISE * train.noise_mmhg:
        return train
    calm = find_pulses(replace(deflation, pressure=deflation.pressure - content))
    if calm is None or (train is not None and not _better(calm, train, hump[0])):
        return train
    found = Vibration(frequency_hz=hump[0], amplitude_mmhg=float(np.sqrt(2.0)) * spread)
    return replace(calm, taken_out=found)


def _better(calm: PulseTrain, train: PulseTrain, frequency_hz: float) -> bool:
    """Whether much less is left unexplained without the vibration, or the vibration had been taken for the pulses."""
    order = frequency_hz * train.period_s
    harmonic = abs(order - round(order)) < NEAR_HARMONIC
    if calm.noise_mmhg < (MUCH_LESS_NOISE if harmonic else LESS_NOISE) * train.noise_mmhg:
        return True
    slower = calm.period_s > SLOWER * train.period_s
    return slower and quantile(calm.pulses.height_mmhg, TALL) > quantile(train.pulses.height_mmhg, TALL)


def find_hump(deflation: Deflation) -> tuple[float, float] | None:
    """Middle and half the width [Hz] of the hump that stands out most from its sides; None where none does."""
    still = np.diff(without_steps(deflation))  # steps would ring in the spectrum, and so would the fall
    size = quick_size(still.size)
    spectrum = np.abs(np.fft.rfft((still - still.mean()) * np.hanning(still.size), size)) ** 2
    frequency = np.fft.rfftfreq(size, 1.0 / deflation.rate_hz)
    spectrum[1:] /= (2.0 * np.sin(np.pi * frequency[1:] / deflation.rate_hz)) ** 2  # the gain of a difference
    highest = 0.5 * deflation.rate_hz / deflation.oversampled
    middle = np.arange(BAND_HZ[0], min(BAND_HZ[1], OF_NYQUIST * highest), STEP_HZ)
    if middle.size == 0:
        return None
    width = np.where(middle < PURR_FROM_HZ, TREMBLING_HZ, PURR_HZ)
    total = np.concatenate(([0.0], np.cumsum(spectrum)))

    def mean(low: Array, high: Array) -> Array:
        first, last = np.searchsorted(frequency, low), np.searchsorted(frequency, high)
        return np.asarray((total[last] - total[first]) / np.maximum(last - first, 1))

    inside = mean(middle - width, middle + width)
    below = mean(middle - BESIDE[1] * width, middle - BESIDE[0] * width)
    above = mean(middle + BESIDE[0] * width, middle + BESIDE[1] * width)
    above[middle + BESIDE[1] * width > highest] = 0.0  # nothing is seen there
    out = inside / np.maximum(np.maximum(below, above), 1e-300)
    most = int(np.argmax(out))
    if out[most] < STANDS_OUT:
        return None
    return float(middle[most]), float(width[most])


def _content(deflation: Deflation, frequency_hz: float, half_width_hz: float) -> Array:
    """(m,) the deflation's content at the hump [mmHg]; of a purr also at twice and three times its frequency."""
    orders = (1, 2, 3) if frequency_hz >= PURR_FROM_HZ else (1,)

    def gain(frequency: Array) -> Array:
        return np.asarray(
            sum(1.0 / (1.0 + ((frequency - k * frequency_hz) / (k * TAKEN_OUT * half_width_hz)) ** 8) for k in orders)
        )

    return filtered(without_steps(deflation), deflation.rate_hz, gain)
