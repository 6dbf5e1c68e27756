"""What arterial pulses look like, as a prior on harmonics."""

from __future__ import annotations

import numpy as np
import pytest

from quietlimb.engine.methods import pulse_prior as prior_of
from quietlimb.engine.methods.pulse_prior import pulse_prior

HARMONICS = 10
PHASE = np.arange(400) / 400
ORDER = np.arange(1, HARMONICS + 1)


def harmonics(pulse: np.ndarray) -> np.ndarray:
    """Of a pulse (400,), by sums: cosines, then sines, of unit height and steepest at phase 0."""
    rise = np.roll(pulse, -1) - np.roll(pulse, 1)
    turned = np.roll(pulse, -int(np.argmax(rise)))
    angle = 2.0 * np.pi * ORDER[:, None] * PHASE
    return np.concatenate((np.cos(angle) @ turned, np.sin(angle) @ turned)) / 200 / np.ptp(pulse)


def strangeness(pulse: np.ndarray) -> float:
    """Squared distance from the mean, in units of the prior."""
    prior = pulse_prior(HARMONICS)
    return float(np.sum((prior.whiten @ (harmonics(pulse) - prior.mean)) ** 2))


def limb_pulse(rise: float = 0.2, fall: float = 0.3) -> np.ndarray:
    """Raised cosine and exponential run-off, rounded over 3 % of the period: no windkessel."""
    run_off = np.exp(-(PHASE - rise) / fall)
    last = np.exp(-(1.0 - rise) / fall)
    pulse = np.where(rise > PHASE, 0.5 - 0.5 * np.cos(np.pi * PHASE / rise), (run_off - last) / (1.0 - last))
    return np.convolve(np.tile(pulse, 3), np.hanning(24) / np.hanning(24).sum(), "same")[400:800]


@pytest.mark.parametrize(("rise", "fall"), [(0.2, 0.3), (0.15, 0.4), (0.25, 0.25), (0.2, 0.6)])
def test_pulses_of_other_origin_are_ordinary(rise: float, fall: float):
    """A pulse written down in another way is nothing strange to the prior.

    Oracle: by construction; 31.4 is the 95 % quantile of chi-square with 20 degrees of freedom.
    """
    assert strangeness(limb_pulse(rise, fall)) < 31.4


@pytest.mark.parametrize("odd", ["backwards", "upside down", "a sine"])
def test_what_is_no_pulse_is_strange(odd: str):
    """A pulse run backwards or upside down, and a sine wave, are stranger than any pulse.

    Oracle: by construction, the same quantile.
    """
    pulse = limb_pulse()
    made = {"backwards": pulse[::-1], "upside down": -pulse, "a sine": np.sin(2.0 * np.pi * PHASE)}[odd]
    assert strangeness(made) > 31.4


def test_form_factors_and_peaks_of_the_pulses():
    """The pulses behind the prior span form factors and upstrokes of limb arteries.

    Oracle: from memory, form factor 0.28 to 0.45 and peak at 15 to 30 % of the period: within the central 95 %, and
    the mean form factor within 0.02 of that of the population, 0.36.
    """
    pulses = prior_of._pulses()
    height = np.ptp(pulses, axis=1)
    factor = -pulses.min(axis=1) / height
    rise = (pulses.argmax(axis=1) - pulses.argmin(axis=1)) % prior_of.POINTS / prior_of.POINTS
    assert factor.mean() == pytest.approx(0.36, abs=0.02)
    assert np.quantile(factor, 0.025) < 0.28 < 0.45 < np.quantile(factor, 0.975)
    assert np.quantile(rise, 0.025) < 0.15 < 0.30 < np.quantile(rise, 0.975)


def test_the_prior_is_of_unit_pulses_steepest_at_the_start():
    """The mean is a pulse of about unit height, steepest within two points of phase 0; the whitening is of full rank.

    Oracle: by construction. A mean of pulses is a little lower than they are: 10 %.
    """
    prior = pulse_prior(HARMONICS)
    angle = 2.0 * np.pi * ORDER[:, None] * PHASE
    mean = prior.mean @ np.concatenate((np.cos(angle), np.sin(angle)))
    assert 0.9 < np.ptp(mean) <= 1.01
    steepest = int(np.argmax(np.roll(mean, -1) - np.roll(mean, 1)))
    assert min(steepest, 400 - steepest) <= 400 * 2 // 64
    assert np.linalg.matrix_rank(prior.whiten) == 2 * HARMONICS
