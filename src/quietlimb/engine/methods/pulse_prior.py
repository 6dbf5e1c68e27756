"""What arterial pulses look like: a normal prior on the harmonics of a pulse, from what makes a pulse.

The heart throws in a flow, one lobe a beat. The arteries take it as a windkessel does, storage beside run-off behind
an inertia-free resistance; the wave comes back from the periphery, late and rounded; and the whole is rounded once
more on its way down the limb:

    P_n = Q_n [ z + 1 / (1 / tau + i w_n) ] [ 1 + r exp(-i w_n d - (s w_n)^2 / 2) ] exp(-(u w_n)^2 / 2)

Ranges are wide, so that form factors of 0.25 to 0.48 and peaks at 14 to 30 % of the period come out, as limb arteries
show (from memory). Mean and covariance of 400 such pulses, evenly spread over the ranges, make the prior; an allowance
for every harmonic is added for pulses of other origin. Harmonics that are free of each other would cost more: a pulse
is then as likely to have its diastolic end lifted as its peak, and both are what is wanted.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

MADE, POINTS = 400, 256
LOBE = (0.15, 0.38)  # invented, as all ranges here: of the period, how long the heart throws out
SKEW = (0.6, 1.2)  # exponent of time within the lobe; below 1 it rises faster than it falls
STORAGE = (0.1, 0.8)  # tau, periods
RESISTANCE = (0.0, 0.12)  # z, periods
RETURN, RETURN_DELAY, RETURN_ROUNDED = (0.0, 0.35), (0.2, 0.5), 0.04  # r; d and s, periods
ROUNDED = (0.01, 0.035)  # u, periods
WIDER = 1.3  # what the ranges leave out
ALLOWANCE, ALLOWANCE_FALL = 0.05, 1.2  # of the pulse pressure; the n-th harmonic's is n^1.2 times smaller
PHASE_SD = 0.03  # of the period: where the pulse begins is not part of its form


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PulsePrior:
    """Normal prior of the harmonics of a pulse of unit height whose steepest point is at phase 0.

    mean   : (2n,) cosines, then sines
    whiten : (2n, 2n) takes departures from the mean to independent unit errors
    """

    mean: Array
    whiten: Array


@lru_cache(maxsize=1)
def pulse_prior(harmonics: int) -> PulsePrior:
    """The prior for so many harmonics."""
    made = _harmonics(_pulses(), harmonics)
    mean, order = made.mean(axis=0), np.arange(1, harmonics + 1)
    turned = 2.0 * np.pi * np.concatenate((order * mean[harmonics:], -order * mean[:harmonics]))
    covariance = WIDER**2 * np.cov(made.T) + PHASE_SD**2 * np.outer(turned, turned)
    covariance += np.diag(np.tile((ALLOWANCE / order**ALLOWANCE_FALL) ** 2, 2))
    return PulsePrior(mean=mean, whiten=np.linalg.inv(np.linalg.cholesky(covariance)))


def _pulses() -> Array:
    """(MADE, POINTS) pulses over one period, about their mean."""
    share = _spread(MADE, 7).T[:, :, None]

    def drawn(k: int, ends: tuple[float, float]) -> Array:
        return np.asarray(ends[0] + (ends[1] - ends[0]) * share[k])

    phase, turn = np.arange(POINTS) / POINTS, 2j * np.pi * np.arange(POINTS // 2 + 1)
    within = np.minimum(phase / drawn(0, LOBE), 1.0) ** drawn(1, SKEW)
    storage = STORAGE[0] * (STORAGE[1] / STORAGE[0]) ** share[2]
    heart = np.fft.rfft(np.sin(np.pi * within), axis=1)
    near = heart * (drawn(3, RESISTANCE) + 1.0 / (1.0 / storage + turn))
    delay = np.exp(-turn * drawn(5, RETURN_DELAY) + 0.5 * (turn * RETURN_ROUNDED) ** 2)
    limb = near * (1.0 + drawn(4, RETURN) * delay) * np.exp(0.5 * (turn * drawn(6, ROUNDED)) ** 2)
    limb[:, 0] = 0.0
    return np.asarray(np.fft.irfft(limb, POINTS, axis=1))


def _harmonics(pulses: Array, harmonics: int) -> Array:
    """(k, POINTS) -> (k, 2n): of unit height by these harmonics alone, steepest at phase 0."""
    spectrum = np.fft.rfft(pulses, axis=1)
    spectrum[:, harmonics + 1 :] = 0.0
    rounded = np.fft.irfft(spectrum, POINTS, axis=1)
    steepest = np.argmax(np.roll(rounded, -1, axis=1) - np.roll(rounded, 1, axis=1), axis=1)
    order = np.arange(1, harmonics + 1)
    turned = spectrum[:, order] * np.exp(2j * np.pi * order * steepest[:, None] / POINTS)
    turned *= 2.0 / POINTS / np.ptp(rounded, axis=1)[:, None]
    return np.concatenate((turned.real, -turned.imag), axis=1)


def _spread(count: int, dimensions: int) -> Array:
    """(count, dimensions) numbers 0 to 1, as evenly spread as random ones are not: multiples of irrational numbers.

    The steps are the inverse powers of the root of x^(d+1) = x + 1, the golden ratio's kin in d dimensions.
    """
    root = 2.0
    for _ in range(60):
        root = (1.0 + root) ** (1.0 / (dimensions + 1))
    step = root ** -np.arange(1.0, dimensions + 1.0)
    return np.asarray((0.5 + np.arange(1, count + 1)[:, None] * step) % 1.0)
