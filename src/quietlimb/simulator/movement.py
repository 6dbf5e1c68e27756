"""A limb that moves or is loaded: pressures that movement adds to the cuff, and when.

Magnitudes are invented, unless a source stands beside them.
"""

from __future__ import annotations

import numpy as np

from quietlimb.simulator.draws import Samples, band_noise, log_uniform

Spans = tuple[tuple[float, float], ...]

_ONSET_S = 0.2


def motion_bursts(
    rng: np.random.Generator, time_s: Samples, rate_hz: float, within_s: tuple[float, float], peak_height_mmhg: float
) -> tuple[Samples, Spans]:
    """One or two movements, together at most 1.2 s, of 1 to 8 Hz and 1 to 10 times the pulse (0.5 to 15 mmHg)."""
    pressure = np.zeros(time_s.size)
    total = rng.uniform(0.3, 1.2)
    lengths = [total] if rng.uniform() < 0.5 else [0.5 * total, 0.5 * total]
    spans: list[tuple[float, float]] = []
    for length in lengths:
        begin = float(rng.uniform(within_s[0], within_s[1] - length))
        first, last = np.searchsorted(time_s, (begin, begin + length))
        noise = band_noise(rng, int(last - first), rate_hz, 1.0, 8.0)
        noise *= np.sin(np.pi * np.linspace(0.0, 1.0, noise.size)) ** 2
        height = float(np.clip(peak_height_mmhg * log_uniform(rng, 1.0, 10.0), 0.5, 15.0))
        pressure[first:last] += noise * (height / np.abs(noise).max())
        spans.append((begin, begin + length))
    return pressure, tuple(sorted(spans))


def repeated_motion(
    rng: np.random.Generator, time_s: Samples, rate_hz: float, within_s: tuple[float, float], peak_height_mmhg: float
) -> tuple[Samples, Spans]:
    """Three to six movements apart from each other, together 1.8 to 6 s and at most half of the deflation.

    Each is of 1 to 8 Hz and 1 to 20 times the pulse (0.5 to 20 mmHg); three in ten leave the limb lying otherwise,
    which shifts the cuff by 2 to 10 mmHg until the next such movement.
    """
    lasts = within_s[1] - within_s[0]
    count = int(rng.integers(3, 7))
    least = max(1.8, 0.4 * count)
    total = min(float(rng.uniform(least, max(least + 0.1, min(6.0, 0.4 * lasts)))), 0.5 * lasts)
    length = rng.uniform(0.5, 1.5, count)
    length *= total / length.sum()
    quiet = (lasts - total) * rng.dirichlet(np.ones(count + 1))
    begin = within_s[0] + np.cumsum(quiet[:-1]) + np.cumsum(length) - length
    pressure, level = np.zeros(time_s.size), 0.0
    spans = tuple(zip(begin.tolist(), (begin + length).tolist(), strict=True))
    for moved in spans:
        first, last = np.searchsorted(time_s, moved)
        share = np.linspace(0.0, 1.0, int(last - first))
        noise = band_noise(rng, share.size, rate_hz, 1.0, 8.0) * np.sin(np.pi * share) ** 2
        height = float(np.clip(peak_height_mmhg * log_uniform(rng, 1.0, 20.0), 0.5, 20.0))
        pressure[first:last] += noise * (height / np.abs(noise).max())
        if rng.uniform() < 0.3:
            side = rng.choice((-1.0, 1.0)) if level == 0.0 else -np.sign(level)
            shift = float(side * rng.uniform(2.0, 10.0))
            pressure[first:last] += shift * (0.5 - 0.5 * np.cos(np.pi * share))
            pressure[last:] += shift
            level += shift
    return pressure * _held(time_s, within_s), spans


def sustained_motion(
    rng: np.random.Generator, time_s: Samples, rate_hz: float, within_s: tuple[float, float], peak_height_mmhg: float
) -> tuple[Samples, Spans]:
    """Movement throughout, now weaker now stronger: 0.5 to 8 Hz, root mean square 1.5 to 6 times the pulse's height."""
    strength = 0.7 + 0.45 * band_noise(rng, time_s.size, rate_hz, 0.1, 0.6)
    noise = band_noise(rng, time_s.size, rate_hz, 0.5, 8.0) * np.clip(strength, 0.3, 1.5)
    begin, end = within_s
    noise[(time_s < begin) | (time_s > end)] = 0.0
    height = float(np.clip(peak_height_mmhg * rng.uniform(1.5, 6.0), 0.5, 6.0))
    return np.clip(noise * height, -18.0, 18.0), (within_s,)


def tail_wagging(
    rng: np.random.Generator, time_s: Samples, rate_hz: float, within_s: tuple[float, float], peak_height_mmhg: float
) -> tuple[Samples, Spans]:
    """A tail that wags throughout, 1 to 4 times a second in an almost even rhythm, 1.5 to 8 times as high as the pulse.

    1 to 12 mmHg from the middle to either side; pace and height wander by about a tenth and a fifth.
    """
    pace_hz = rng.uniform(1.0, 4.0) * (1.0 + 0.08 * band_noise(rng, time_s.size, rate_hz, 0.05, 0.3))
    turn = 2.0 * np.pi * np.cumsum(np.maximum(pace_hz, 0.5)) / rate_hz + rng.uniform(0.0, 2.0 * np.pi)
    second = rng.uniform(0.1, 0.5) * np.sin(2.0 * turn + rng.uniform(0.0, 2.0 * np.pi))
    strength = np.clip(1.0 + 0.2 * band_noise(rng, time_s.size, rate_hz, 0.05, 0.3), 0.5, 1.5)
    height = float(np.clip(peak_height_mmhg * rng.uniform(1.5, 8.0), 1.0, 12.0))
    wagging: Samples = height * strength * (np.sin(turn) + second) * _held(time_s, within_s)
    return wagging, (within_s,)


def loaded_limb(
    rng: np.random.Generator, time_s: Samples, rate_hz: float, within_s: tuple[float, float]
) -> tuple[Samples, Spans]:
    """Weight that comes upon the limb and goes, throughout: a shift of 2 to 15 mmHg every 1 to 4 s, and a slow wander.

    The load lies within 0 to 15 mmHg and changes within 0.1 to 0.6 s; the wander is slower than 0.4 Hz, SD 1 to 2 mmHg.
    """
    knot_s, load = [within_s[0]], [float(rng.uniform(0.0, 15.0))]
    while (now := knot_s[-1] + float(rng.uniform(1.0, 4.0))) < within_s[1]:
        next_load = float(rng.uniform(0.0, 15.0))
        while abs(next_load - load[-1]) < 2.0:
            next_load = float(rng.uniform(0.0, 15.0))
        knot_s += [now, now + float(rng.uniform(0.1, 0.6))]
        load += [load[-1], next_load]
    wander = rng.uniform(1.0, 2.0) * band_noise(rng, time_s.size, rate_hz, 0.05, 0.4)
    loaded: Samples = (np.interp(time_s, knot_s, load) + wander) * _held(time_s, within_s)
    return loaded, (within_s,)


def _held(time_s: Samples, within_s: tuple[float, float]) -> Samples:
    """1 while the cuff is inflated, 0 outside, straight over 0.2 s at both ends."""
    held: Samples = np.clip(np.minimum(time_s - within_s[0], within_s[1] - time_s) / _ONSET_S, 0.0, 1.0)
    return held
