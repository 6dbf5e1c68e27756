"""What disturbs a cuff on a limb that lies still: vibration, breathing, knocks. Each is a pressure added to the cuff.

Magnitudes are invented, unless a source stands beside them.
"""

from __future__ import annotations

import numpy as np

from quietlimb.simulator.draws import Samples, band_noise, log_uniform
from quietlimb.simulator.movement import Spans


def breathing_and_tone(rng: np.random.Generator, time_s: Samples, breaths: float, peak_height_mmhg: float) -> Samples:
    """The quiet limb's own unrest: breathing up to a tenth of the pulse, muscle tone that wanders slowly."""
    breathing = rng.uniform(0.0, 0.1) * peak_height_mmhg
    turn = 2.0 * np.pi * breaths / 60.0
    phase = rng.uniform(0.0, 2.0 * np.pi)
    tone = rng.uniform(0.0, 0.1)
    coarse_s = np.arange(0.0, time_s[-1] + 0.5, 0.25)
    walk = np.cumsum(rng.normal(size=coarse_s.size)) * tone * np.sqrt(0.25)
    unrest: Samples = breathing * np.sin(turn * time_s + phase) + np.interp(time_s, coarse_s, walk)
    return unrest


def purring(rng: np.random.Generator, time_s: Samples, breaths: float) -> Samples:
    """Purring: near 26.3 Hz breathing out and 2.4 Hz lower breathing in, with two harmonics; 0.02 to 0.3 mmHg.

    Frequencies: "How cats purr", J Zool 1991; 223: 67-78 (abstract: 26.3 with SD 1.95 Hz, difference 2.4 with SD 1.3).
    """
    out_hz = float(np.clip(rng.normal(26.3, 1.95), 21.0, 31.0))
    lower_hz = max(0.0, float(rng.normal(2.4, 1.3)))
    amplitude = log_uniform(rng, 0.02, 0.3)
    breath = np.sin(2.0 * np.pi * breaths / 60.0 * time_s + rng.uniform(0.0, 2.0 * np.pi))
    frequency = out_hz - lower_hz * (breath < 0.0)
    turn = 2.0 * np.pi * np.cumsum(frequency) * float(time_s[1] - time_s[0])
    sound = np.sin(turn) + 0.5 * np.sin(2.0 * turn) + 0.25 * np.sin(3.0 * turn)
    # the purr pauses while the breath turns
    gate = np.clip(np.abs(breath) * 3.0, 0.0, 1.0) * rng.uniform(0.7, 1.0)
    hum: Samples = amplitude * gate * sound
    return hum


def shivering(rng: np.random.Generator, time_s: Samples, rate_hz: float, peak_height_mmhg: float) -> Samples:
    """Shivering: a narrow band within 8 to 15 Hz that swells 6 to 8 times a minute, 0.05 to 1 mmHg.

    The swelling is that of people (Ann Emerg Med 1987). No more than half the pulse's height: a limb that shakes
    harder than it pulses counts as moving.
    """
    centre = rng.uniform(9.0, 14.0)
    trembling = band_noise(rng, time_s.size, rate_hz, centre - 0.8, centre + 0.8)
    amplitude = log_uniform(rng, 0.05, max(0.06, min(1.0, 0.5 * peak_height_mmhg)))
    swell_hz = rng.uniform(6.0, 8.0) / 60.0
    swelling = 0.5 + 0.5 * np.sin(2.0 * np.pi * swell_hz * time_s + rng.uniform(0.0, 2.0 * np.pi))
    shaking: Samples = amplitude / np.sqrt(2.0) * swelling * trembling
    return shaking


def tube_knocks(
    rng: np.random.Generator, time_s: Samples, rate_hz: float, within_s: tuple[float, float]
) -> tuple[Samples, Spans]:
    """None to three touches of the tube: 0.1 to 0.3 s, 0.1 to 1 mmHg."""
    pressure = np.zeros(time_s.size)
    spans: list[tuple[float, float]] = []
    for _ in range(int(rng.integers(0, 4))):
        length = float(rng.uniform(0.1, 0.3))
        begin = float(rng.uniform(within_s[0], within_s[1] - length))
        first, last = np.searchsorted(time_s, (begin, begin + length))
        share = np.linspace(0.0, 1.0, int(last - first))
        knock = np.sin(np.pi * share) ** 2 * np.sin(2.0 * np.pi * rng.uniform(4.0, 10.0) * length * share)
        pressure[first:last] += log_uniform(rng, 0.1, 1.0) * rng.choice((-1.0, 1.0)) * knock
        spans.append((begin, begin + length))
    return pressure, tuple(sorted(spans))
