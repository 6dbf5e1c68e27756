"""Random draws that the whole simulator shares, and how one seed feeds many independent streams."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from scipy.fft import irfft, next_fast_len
from scipy.signal import lfilter

Samples = NDArray[np.float64]
Seed = int | np.random.Generator


def streams(seed: Seed, count: int) -> list[np.random.Generator]:
    """`count` independent generators from one seed.

    Each part of a recording draws from its own stream, so that one setting can be changed while all else stays as it
    was: two recordings of one seed at different noise are a pair. A generator is advanced by the call.
    """
    entropy = [int(n) for n in seed.integers(0, 2**63, size=2)] if isinstance(seed, np.random.Generator) else seed
    return [np.random.default_rng(child) for child in np.random.SeedSequence(entropy).spawn(count)]


def log_uniform(rng: np.random.Generator, low: float, high: float) -> float:
    """A number whose logarithm is uniform between those of low and high."""
    return math.exp(rng.uniform(math.log(low), math.log(high)))


def truncated_normal(rng: np.random.Generator, centre: float, sd: float, low: float, high: float) -> float:
    """A normal number, drawn again until it lies within low..high."""
    while True:
        value = float(rng.normal(centre, sd))
        if low <= value <= high:
            return value


def autocorrelated(rng: np.random.Generator, size: int, correlation: float) -> Samples:
    """(size,) standard normal numbers, each correlated with the one before it."""
    innovation = rng.normal(size=size)
    innovation[1:] *= math.sqrt(1.0 - correlation**2)
    result: Samples = lfilter([1.0], [1.0, -correlation], innovation)
    return result


def band_noise(rng: np.random.Generator, size: int, rate_hz: float, low_hz: float, high_hz: float) -> Samples:
    """(size,) Gaussian noise that holds only the frequencies low_hz..high_hz, standard deviation 1."""
    length = next_fast_len(max(size, math.ceil(4.0 * rate_hz / low_hz)), real=True)
    first = max(1, math.ceil(low_hz * length / rate_hz))
    last = max(first, min(length // 2 - 1, math.floor(high_hz * length / rate_hz)))
    spectrum = np.zeros(length // 2 + 1, dtype=np.complex128)
    lines = last - first + 1
    spectrum[first : last + 1] = rng.normal(size=lines) + 1j * rng.normal(size=lines)
    noise: Samples = irfft(spectrum * (length / (2.0 * math.sqrt(lines))), length)[:size]
    return noise
