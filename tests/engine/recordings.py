"""Recordings made by plain formulas, without the simulator, so that each height and time in them is known exactly."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from quietlimb.engine.circumstances import Circumstances
from quietlimb.engine.deflation import Deflation
from quietlimb.engine.recording import Recording, recording

Array = NDArray[np.float64]

CAT = Circumstances(species="cat")
UPSTROKE = 0.22  # of the period
STEEPEST = UPSTROKE / 2.0  # of the period: where the raised cosine rises fastest
PEAK_AT_MMHG, PEAK_MMHG, BELOW_MMHG, ABOVE_MMHG = 110.0, 1.2, 18.0, 24.0


def sampled(pressure: Array, rate_hz: float, circumstances: Circumstances = CAT) -> Recording:
    """A recording of evenly spaced samples from 0 s."""
    return recording(np.arange(pressure.size) / rate_hz, pressure, circumstances)


def line(start_mmhg: float, stop_mmhg: float, mmhg_per_s: float, rate_hz: float) -> Array:
    """A straight fall, or rise, from start to stop."""
    size = round(abs(start_mmhg - stop_mmhg) / mmhg_per_s * rate_hz)
    return np.linspace(start_mmhg, stop_mmhg, size)


def steps(start_mmhg: float, stop_mmhg: float, step_mmhg: float, dwell_s: float, rate_hz: float) -> Array:
    """Level stretches with a fall of 50 ms between each and the next."""
    level = np.arange(start_mmhg, stop_mmhg - 1e-9, -step_mmhg)
    at = np.arange(level.size) * dwell_s
    knots = np.column_stack((at, at + dwell_s - 0.05)).ravel()
    time = np.arange(round(level.size * dwell_s * rate_hz)) / rate_hz
    return np.interp(time, knots, np.repeat(level, 2))


def whole_course(deflation: Array, rate_hz: float, *, rise_s: float = 3.0) -> Array:
    """One second of rest, a pump's straight rise, the deflation, a dump with a time constant of 0.15 s."""
    rest = np.zeros(round(rate_hz))
    rise = np.linspace(0.0, deflation[0], round(rise_s * rate_hz))
    dump = deflation[-1] * np.exp(-np.arange(1, round(1.5 * rate_hz)) / rate_hz / 0.15)
    return np.concatenate((rest, rise, deflation, dump))


def pulse(phase: Array) -> Array:
    """One pulse: 0 at phase 0 and 1, 1 at the end of the upstroke, smooth at every joint, 0 outside."""
    rise = 0.5 - 0.5 * np.cos(np.pi * np.clip(phase / UPSTROKE, 0.0, 1.0))
    fall = (0.5 + 0.5 * np.cos(np.pi * np.clip((phase - UPSTROKE) / (1.0 - UPSTROKE), 0.0, 1.0))) ** 1.5
    return np.where((phase <= 0.0) | (phase >= 1.0), 0.0, np.where(phase < UPSTROKE, rise, fall))


def bell(cuff_pressure: Array) -> Array:
    """Heights of an asymmetric Gaussian envelope [mmHg]: peak 1.2 at 110, widths 18 below and 24 above."""
    width = np.where(cuff_pressure < PEAK_AT_MMHG, BELOW_MMHG, ABOVE_MMHG)
    return PEAK_MMHG * np.exp(-0.5 * ((cuff_pressure - PEAK_AT_MMHG) / width) ** 2)


def ride(
    base: Array, rate_hz: float, foot_s: Array, heights: Callable[[Array], Array] = bell, last_period_s: float = 0.4
) -> tuple[Array, Array]:
    """The base with a pulse from each foot to the next, and the heights; each by the base pressure in mid upstroke."""
    time = np.arange(base.size) / rate_hz
    period = np.diff(foot_s, append=foot_s[-1] + last_period_s)
    height = heights(np.interp(foot_s + STEEPEST * period, time, base))
    pressure = base.copy()
    for foot, length, tall in zip(foot_s, period, height, strict=True):
        pressure += tall * pulse((time - foot) / length)
    return pressure, height


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Made:
    """A recording of nothing but a deflation, with the steepest point, height and base pressure of each pulse."""

    recording: Recording
    upstroke_s: Array
    height_mmhg: Array
    base_mmhg: Array


def made(
    *,
    start_mmhg: float = 185.0,
    stop_mmhg: float = 55.0,
    mmhg_per_s: float = 5.0,
    rate_hz: float = 100.0,
    period_s: float = 0.4,
    foot_s: Array | None = None,
    noise_mmhg: float = 0.0,
    seed: int = 0,
    circumstances: Circumstances = CAT,
    heights: Callable[[Array], Array] = bell,
) -> Made:
    """A straight fall with pulses of known heights, every `period_s` or at the feet given."""
    base = line(start_mmhg, stop_mmhg, mmhg_per_s, rate_hz)
    seconds = base.size / rate_hz
    feet = np.arange(0.13, seconds, period_s) if foot_s is None else foot_s
    pressure, height = ride(base, rate_hz, feet, heights, period_s)
    pressure = pressure + noise_mmhg * np.random.default_rng(seed).normal(size=pressure.size)
    upstroke = feet + STEEPEST * np.diff(feet, append=feet[-1] + period_s)
    return Made(
        recording=sampled(pressure, rate_hz, circumstances),
        upstroke_s=upstroke,
        height_mmhg=height,
        base_mmhg=np.interp(upstroke, np.arange(base.size) / rate_hz, base),
    )


def deflation_of(pressure: Array, rate_hz: float, valve_open: NDArray[np.bool_] | None = None) -> Deflation:
    """A deflation of these samples as they are, without looking for it."""
    opened = np.zeros(pressure.size, dtype=np.bool_) if valve_open is None else valve_open
    time = np.arange(pressure.size) / rate_hz
    return Deflation(
        rate_hz=rate_hz,
        oversampled=1.0,
        time_s=time,
        pressure=pressure,
        valve_open=opened,
        missing=np.zeros(pressure.size, dtype=np.bool_),
        kind="stepwise" if opened.any() else "linear",
        fall_mmhg_per_s=float((pressure[0] - pressure[-1]) / time[-1]),
        began_in_recording=False,
        saturated_s=0.0,
        sensor_step_mmhg=1e-6,
    )
