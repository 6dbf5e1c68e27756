"""A recording's course: inflation, deflation (linear or in steps), dump.

The file may start and end anywhere in that course. What follows works on an even grid of 150 to 250 samples a second:
the pulse of a small animal lives below 25 Hz, so everything above only costs time, and below the top of a narrow pulse
would fall between two samples.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from quietlimb.engine.quantiles import high_quantiles, median, medians, quantile, running_median, with_ends
from quietlimb.engine.recording import Recording

Array = NDArray[np.float64]

SLOWEST_GRID_HZ, FASTEST_GRID_HZ = 150.0, 250.0
# value half way between two samples from the four on either side: Lagrange's polynomial through all eight
HALF_WAY = np.array([-5.0, 49.0, -245.0, 1225.0, 1225.0, -245.0, 49.0, -5.0]) / 2048.0
IDLE_MMHG = 12.0  # invented: below this no artery of a living animal is being read, so the deflation is over
DUMP_MMHG_PER_S = 30.0  # invented: twice the fastest deflation that anybody reads from
LEAST_FALL_MMHG = 20.0  # invented: less cannot hold both sides of any pulse pressure
SATURATED_S = 0.5  # invented: a cuff that breathes with an animal does not stand still to the last bit for so long
MISSING_S = 0.1  # invented: a shorter pause between two samples hides no step, and no pulse
VALVE_SETTLES_S = 0.06  # invented: the shortest time a valve transient is masked after the fall has ended


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Deflation:
    """The falling part of a recording on an even grid.

    rate_hz            : samples a second of the grid
    oversampled        : points of the grid for one sample of the recording, at least 1
    time_s, pressure   : (m,) the deflation only [s], [mmHg]
    valve_open         : (m,) True while a step is being let out, and while it settles; in a fall by steps also where
                         samples are missing, for a step may hide there
    missing            : (m,) True where nothing came for 0.1 s or longer; the pressure there is a straight line
    kind               : `linear` or `stepwise`
    fall_mmhg_per_s    : mean rate of fall, positive
    began_in_recording : True when the recording shows the top of the inflation
    saturated_s        : how long the sensor stood at its limit before the deflation
    sensor_step_mmhg   : distance between neighbouring values that occur; tiny where the sensor resolves finely
    """

    rate_hz: float
    oversampled: float
    time_s: Array
    pressure: Array
    valve_open: NDArray[np.bool_]
    missing: NDArray[np.bool_]
    kind: Literal["linear", "stepwise"]
    fall_mmhg_per_s: float
    began_in_recording: bool
    saturated_s: float
    sensor_step_mmhg: float


def find_deflation(recording: Recording) -> Deflation | None:
    """The deflation of a recording, or None where the pressure never falls by 20 mmHg without rising in between."""
    time, pressure, rate = _even_grid(recording)
    # on the samples themselves: the grid's values put between would hide that they stand still
    stood_s, until_s = _saturated(recording)
    saturated = int(np.searchsorted(time, until_s, side="right")) if stood_s > 0 else 0
    block = max(1, round(0.1 * rate))
    coarse = _block_medians(pressure, block)
    if coarse.size < 10:
        return None
    top = int(np.argmax(running_median(coarse, 5)))
    start = max(top * block, saturated)
    stop = _end_of_deflation(pressure, coarse, block, start, rate)
    if not _falls(pressure, start, stop, rate) and top > 10:
        # nothing after the highest point: a second inflation may have been broken off, so look before it
        while top > 10 and coarse[top - 1] <= coarse[top]:
            top -= 1
        top = int(np.argmax(running_median(coarse[: top + 1], 5)))
        start = max(top * block, saturated if saturated < top * block else 0)
        stop = _end_of_deflation(pressure, coarse, block, start, rate)
    if not _falls(pressure, start, stop, rate):
        return None
    falling, at = pressure[start:stop], time[start:stop]
    fall_rate = float((median(falling[:block]) - median(falling[-block:])) / (at[-1] - at[0]))
    missing = _missing(recording, at)
    valve_open = _valve_openings(falling, rate, fall_rate)
    stepwise = bool(valve_open.any())
    if stepwise:
        valve_open = valve_open | missing
    return Deflation(
        rate_hz=rate,
        oversampled=max(1.0, rate / recording.sampling_rate_hz),
        time_s=at,
        pressure=falling,
        valve_open=valve_open,
        missing=missing,
        kind="stepwise" if stepwise else "linear",
        fall_mmhg_per_s=fall_rate,
        began_in_recording=start > 2 * block,
        saturated_s=stood_s,
        sensor_step_mmhg=_sensor_step(recording.cuff_pressure_mmhg),
    )


def greatest_fall(recording: Recording) -> float:
    """From the highest value so far to the lowest after it. [mmHg]"""
    pressure = recording.cuff_pressure_mmhg
    return float(np.max(np.maximum.accumulate(pressure) - pressure))


def _even_grid(recording: Recording) -> tuple[Array, Array, float]:
    """Time, pressure and rate on an even grid: above 250 Hz neighbours averaged, below 150 Hz values put between."""
    time, pressure, rate = recording.time_s, recording.cuff_pressure_mmhg, recording.sampling_rate_hz
    step = np.diff(time)
    if np.abs(step - 1.0 / rate).max() > 0.01 / rate:
        even = np.arange(time[0], time[-1], 1.0 / rate)
        time, pressure = even, np.interp(even, time, pressure)
    together = max(1, int(np.ceil(rate / FASTEST_GRID_HZ - 1e-6)))
    if together > 1:
        whole = time.size // together * together
        time = time[:whole].reshape(-1, together).mean(axis=1)
        pressure = pressure[:whole].reshape(-1, together).mean(axis=1)
    rate /= together
    while rate < SLOWEST_GRID_HZ * (1.0 - 1e-6):
        time, pressure, rate = np.linspace(time[0], time[-1], 2 * time.size - 1), _doubled(pressure), 2.0 * rate
    return time, pressure, rate


def _missing(recording: Recording, at: Array) -> NDArray[np.bool_]:
    """Which points of the grid lie between two samples that are far apart."""
    gaps = np.flatnonzero(np.diff(recording.time_s) > MISSING_S)
    missing = np.zeros(at.size, dtype=np.bool_)
    for first, last in zip(recording.time_s[gaps], recording.time_s[gaps + 1], strict=True):
        missing |= (at > first) & (at < last)
    return missing


def _doubled(pressure: Array) -> Array:
    between = np.convolve(with_ends(pressure, 4)[1:], HALF_WAY, mode="valid")[: pressure.size - 1]
    doubled = np.empty(2 * pressure.size - 1)
    doubled[::2], doubled[1::2] = pressure, between
    return doubled


def _sensor_step(pressure: Array) -> float:
    """Distance between neighbouring values that occur: the smaller ones, since not every value has to occur. [mmHg]"""
    apart = np.diff(np.sort(np.round(pressure, 6)))
    apart = apart[apart > 0.0]  # numpy.unique would load a whole package that nothing else needs
    return quantile(apart, 0.1) if apart.size > 1 else float(np.ptp(pressure))


def _block_medians(values: Array, block: int) -> Array:
    whole = values.size // block * block
    return medians(values[:whole].reshape(-1, block))


def _saturated(recording: Recording) -> tuple[float, float]:
    """How long the sensor stood at the highest value of the recording, 0.5 s or more at a time, and until when. [s]"""
    time, pressure = recording.time_s, recording.cuff_pressure_mmhg
    at_top = np.flatnonzero(pressure >= pressure.max())
    runs = np.split(at_top, np.flatnonzero(np.diff(at_top) > 1) + 1)
    long = [run for run in runs if time[run[-1]] - time[run[0]] > SATURATED_S]
    stood = sum(float(time[run[-1]] - time[run[0]]) for run in long)
    return (stood, float(time[long[-1][-1]])) if long else (0.0, 0.0)


def count_steps(valve_open: NDArray[np.bool_]) -> int:
    """How often the valve opened."""
    return int(np.count_nonzero(np.diff(valve_open.astype(np.int8)) == 1))


def _falls(pressure: Array, start: int, stop: int, rate: float) -> bool:
    """Whether the stretch is a second or longer and falls by 20 mmHg."""
    return bool(stop - start >= rate and pressure[start:stop].max() - pressure[stop - 1] >= LEAST_FALL_MMHG)


def _end_of_deflation(pressure: Array, coarse: Array, block: int, start: int, rate: float) -> int:
    """Index where the deflation ends: before the dump, before a new inflation, or at the end of the recording."""
    first = start // block
    idle = np.flatnonzero(coarse[first:] < IDLE_MMHG)
    last = first + int(idle[0]) if idle.size else coarse.size - 1
    lowest = np.minimum.accumulate(coarse[first : last + 1])
    again = np.flatnonzero(coarse[first : last + 1] > lowest + 40.0)
    if again.size:
        last = first + int(np.argmin(coarse[first : first + again[0]]))
    while last > first and coarse[last - 1] - coarse[last] > DUMP_MMHG_PER_S * block / rate:
        last -= 1
    stop = min((last + 1) * block, pressure.size)
    # the block in which the dump begins may be half level, half dump: cut it where it starts to fall fast
    tail = pressure[max(stop - 2 * block, start) : stop]
    fast = np.flatnonzero(np.diff(tail) * rate < -2 * DUMP_MMHG_PER_S)
    if fast.size and tail[fast[0]] - tail[-1] > 8.0 and (idle.size or again.size):
        stop = stop - tail.size + int(fast[0])
    return stop


def _valve_openings(pressure: Array, rate: float, fall_rate: float) -> NDArray[np.bool_]:
    """Where steps are let out: falls steeper than any pulse around them, which together make up most of the fall."""
    width = max(2, round(0.06 * rate))
    kernel = np.ones(width) / width
    slope = np.convolve(np.gradient(pressure) * rate, kernel, mode="same")
    reach = max(3, round(1.5 * rate))
    stride = max(1, reach // 4)
    # 97th percentile: the upstrokes around, not the one wild sample
    steepest = high_quantiles(with_ends(slope, reach), 2 * reach + 1, stride, 0.97)
    around = np.interp(np.arange(slope.size), np.arange(steepest.size) * stride, steepest)
    limit = -(0.9 * np.maximum(around, 0.0) + 2.0 * fall_rate + 4.0)
    below = slope < limit
    edges = np.flatnonzero(np.diff(np.concatenate(([0], below.astype(np.int8), [0]))))
    starts, stops = edges[::2], edges[1::2]
    lag = max(1, round(0.04 * rate))
    settle = max(1, round(VALVE_SETTLES_S * rate))
    mask = np.zeros(pressure.size, dtype=np.bool_)
    fallen = 0.0
    for start, stop in zip(starts, stops, strict=True):
        begin, end = max(start - lag, 0), min(stop + lag, pressure.size - 1)
        drop = pressure[begin] - pressure[end]
        if drop < 1.0:
            continue
        fallen += drop
        mask[begin : min(end + settle, pressure.size)] = True
    total = float(pressure[0] - pressure[-1])
    if fallen < 0.5 * total or mask.mean() > 0.6:
        return np.zeros(pressure.size, dtype=np.bool_)
    return mask
