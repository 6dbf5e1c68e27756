"""A plain SciPy reader of one recording: what a competent person writes in an afternoon.

    python benchmarks/plain_script.py [--count 60] [--seed 6100000]

Zero-phase Butterworth filter, peak search, interpolation, a smoothed envelope, fixed ratios. No interval, no verdict,
nothing about movement or missing flanks: it is the yardstick for speed, about right on undisturbed recordings and on no
others. It bridges the falls of a stepwise deflation; steps of only two beats still lead it astray now and then. Run by
itself it prints how right it is, against simulation (`plain_script.txt`).
"""

from __future__ import annotations

import argparse
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d, maximum_filter1d, median_filter
from scipy.signal import butter, find_peaks, sosfiltfilt

Array = NDArray[np.float64]

PULSE_HZ = (0.7, 20.0)  # 42 beats a minute and up, with the harmonics that shape a fast pulse
RATE_HZ = (0.7, 5.0)  # where the pulse rate itself can lie: 42 to 300 a minute
SYSTOLIC_RATIO, DIASTOLIC_RATIO = 0.55, 0.82
SMOOTHED_OVER_MMHG = 4.0
GRID_MMHG = 0.25
DUMP_MMHG_PER_S = 30.0
STEP_MMHG_PER_S, STEP_S = 22.0, 0.03
HIGH_PEAK = 0.7


class Plain(NamedTuple):
    """Systolic, mean and diastolic pressure [mmHg], nan where the envelope does not reach them; pulse rate [/min]."""

    systolic: float
    mean: float
    diastolic: float
    pulse_rate: float


def pass_band(pressure: Array, rate_hz: float) -> Array:
    """The pulses without the deflation under them: a band-pass of order 2, forwards and backwards. [mmHg]"""
    high = min(PULSE_HZ[1], 0.45 * rate_hz)
    return np.asarray(sosfiltfilt(butter(2, (PULSE_HZ[0], high), "bandpass", fs=rate_hz, output="sos"), pressure))


def read_plainly(time_s: Array, pressure: Array) -> Plain:
    """The reading of one recording with an inflation before and perhaps a dump after the deflation.

    time_s   : (n,) evenly spaced [s]
    pressure : (n,) in the cuff [mmHg]
    """
    rate_hz = (time_s.size - 1) / float(time_s[-1] - time_s[0])
    first, last = deflation_of(pressure, rate_hz)
    pressure = pressure[first:last]
    flat, stepping = without_steps(pressure, rate_hz)
    pulses = pass_band(flat, rate_hz)
    period = period_of(pulses, stepping, rate_hz)
    apart = max(round(0.6 * period), 1)
    tops, feet = find_peaks(pulses, distance=apart)[0], find_peaks(-pulses, distance=apart)[0]
    if tops.size < 5 or feet.size < 5:
        return Plain(np.nan, np.nan, np.nan, np.nan)
    height = pulses[tops] - np.interp(tops, feet, pulses[feet])
    beside = maximum_filter1d(stepping, 2 * round(0.3 * period) + 1)
    rate = 60.0 * rate_hz / float(np.median(np.diff(tops)))
    if (~beside[tops]).sum() >= 5:
        tops, height = tops[~beside[tops]], height[~beside[tops]]
    height = median_filter(height, 3, mode="nearest")
    level = np.interp(tops, np.arange(pressure.size), gaussian_filter1d(pressure, 0.5 * period))
    return by_ratios(level, height, rate)


def deflation_of(pressure: Array, rate_hz: float) -> tuple[int, int]:
    """First and last sample of the deflation: after the maximum, before the pressure is let out at once."""
    top = int(np.argmax(pressure))
    half = round(0.5 * rate_hz)
    fall = (pressure[top:-half] - pressure[top + half :]) * rate_hz / half
    dumped = np.flatnonzero((fall > DUMP_MMHG_PER_S) & (pressure[top:-half] < 0.6 * pressure[top]))
    end = top + int(dumped[0]) if dumped.size else pressure.size
    return min(top + half, end), end


def without_steps(pressure: Array, rate_hz: float) -> tuple[Array, NDArray[np.bool_]]:
    """The pressure with the falls of a stepwise deflation bridged, and where they were; a linear one stays as it is."""
    fall = -np.gradient(gaussian_filter1d(pressure, STEP_S * rate_hz)) * rate_hz
    stepping = maximum_filter1d(fall > STEP_MMHG_PER_S, 2 * round(2.0 * STEP_S * rate_hz) + 1)
    still = np.flatnonzero(~stepping)
    difference = np.diff(pressure, prepend=pressure[0])
    return np.cumsum(np.interp(np.arange(pressure.size), still, difference[still])), stepping


def period_of(pulses: Array, stepping: NDArray[np.bool_], rate_hz: float) -> float:
    """Samples from pulse to pulse, by the autocorrelation of their slopes outside the steps."""
    size = 2 * pulses.size
    slope = np.where(stepping, 0.0, np.gradient(pulses))  # steps and breathing are slow, pulses are not
    correlation, pairs = (
        np.fft.irfft(np.abs(np.fft.rfft(values, size)) ** 2)[: pulses.size] for values in (slope, 1.0 - stepping)
    )
    shortest, longest = int(rate_hz / RATE_HZ[1]), int(rate_hz / RATE_HZ[0])
    correlation = correlation[: longest + 1] / np.maximum(pairs[: longest + 1], 0.1 * pairs[0])
    peaks = find_peaks(correlation)[0]
    peaks = peaks[peaks >= shortest]
    if not peaks.size:
        return float(shortest)
    # two periods correlate nearly as well as one: the first of the high peaks it is
    return float(peaks[correlation[peaks] > HIGH_PEAK * correlation[peaks].max()][0])


def by_ratios(level: Array, height: Array, pulse_rate: float) -> Plain:
    """Where the smoothed envelope has its maximum and has fallen to the ratios on either side of it."""
    order = np.argsort(level)
    grid = np.arange(level.min(), level.max(), GRID_MMHG)
    envelope = np.interp(grid, level[order], height[order])
    envelope = gaussian_filter1d(envelope, SMOOTHED_OVER_MMHG / GRID_MMHG, mode="nearest")
    top = int(np.argmax(envelope))
    share = envelope / envelope[top]
    above = np.flatnonzero(share[top:] < SYSTOLIC_RATIO)
    below = np.flatnonzero(share[: top + 1] < DIASTOLIC_RATIO)
    return Plain(
        systolic=float(grid[top + above[0]]) if above.size else np.nan,
        mean=float(grid[top]),
        diastolic=float(grid[below[-1]]) if below.size else np.nan,
        pulse_rate=pulse_rate,
    )


def main() -> None:
    """Print the errors on undisturbed simulated recordings."""
    from quietlimb.simulator import simulate_recording
    from quietlimb.simulator.cuff_course import Deflation

    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, default=60)
    parser.add_argument("--seed", type=int, default=6_100_000)
    wish = parser.parse_args()
    print(f"The plain script on undisturbed simulated recordings, {wish.count} of each, seeds from {wish.seed}")
    print(f"{'deflation':<11}{'':<12}{'given':>7}{'bias':>8}{'SD':>8}{'median |error|':>17}")
    kinds: tuple[Deflation, ...] = ("linear", "steps")
    for kind in kinds:
        made = [simulate_recording(wish.seed + k, deflation=kind) for k in range(wish.count)]
        found = np.array([read_plainly(m.recording.time_s, m.recording.cuff_pressure_mmhg) for m in made])
        truth = np.array([[getattr(m.truth, name) for name in Plain._fields] for m in made])
        for name, error in zip(Plain._fields, (found - truth).T, strict=True):
            given = error[np.isfinite(error)]
            spread = f"{given.mean():>8.2f}{given.std(ddof=1):>8.2f}{np.median(np.abs(given)):>17.2f}"
            print(f"{kind:<11}{name:<12}{given.size:>7}{spread}")


if __name__ == "__main__":
    main()
