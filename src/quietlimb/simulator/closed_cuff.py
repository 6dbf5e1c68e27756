"""A cuff on a rigid cylinder, without an animal: closed and settling, let out at once, or let down by its bleed valve.

For the checks of instruments and cuffs. Magnitudes are invented. The recordings say that they are simulated.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from quietlimb.engine.circumstances import Circumstances
from quietlimb.engine.errors import ParameterError
from quietlimb.engine.recording import Recording, recording
from quietlimb.simulator.draws import Seed, log_uniform, streams
from quietlimb.simulator.sensor import TRACE_HZ, Sensor, draw_sensor

Samples = NDArray[np.float64]

_IDLE_S, _AFTER_S = 1.0, 3.0
_CIRCUMSTANCES = Circumstances(species="cat", animal="simulated: a cuff on a cylinder", instrument="simulator")


@dataclass(frozen=True, slots=True, kw_only=True)
class ClosedCuff:
    """How a closed cuff loses its pressure.

    leak_mmhg_per_min : at the pressure at which it was closed; as through a hole, it fades with the pressure
    settling_share    : of the pressure, lost by settling in the end
    settling_s        : its time constant [s]
    """

    leak_mmhg_per_min: float
    settling_share: float
    settling_s: float

    def course(self, since_s: Samples, closed_mmhg: float) -> Samples:
        """Pressure so long after it was closed. [mmHg]"""
        fading = self.leak_mmhg_per_min / 60.0 / closed_mmhg
        settled = self.settling_share * closed_mmhg * -np.expm1(-since_s / self.settling_s)
        course: Samples = (closed_mmhg - settled) * np.exp(-fading * since_s)
        return course


def draw_closed_cuff(rng: np.random.Generator, leak_mmhg_per_min: float) -> ClosedCuff:
    """A cuff of this leak, settling by 0.5 to 6 % with a time constant of 2 to 20 s."""
    return ClosedCuff(
        leak_mmhg_per_min=leak_mmhg_per_min,
        settling_share=float(rng.uniform(0.005, 0.06)),
        settling_s=log_uniform(rng, 2.0, 20.0),
    )


def record_closed_cuff(
    seed: Seed,
    cuff: ClosedCuff,
    *,
    levels_mmhg: tuple[float, ...] = (250.0,),
    hold_s: float = 60.0,
    sensor: Sensor | None = None,
) -> Recording:
    """Pumped to each level, closed for `hold_s`, then let out; the same for the same seed.

    Raises
    ------
    ParameterError : levels that do not rise, or lie outside 30..300 mmHg; a hold outside 5..600 s.
    """
    if list(levels_mmhg) != sorted(set(levels_mmhg)) or not levels_mmhg:
        raise ParameterError("impossible-course", f"levels {levels_mmhg}", "give rising levels")
    if not (levels_mmhg[0] >= 30.0 and levels_mmhg[-1] <= 300.0 and 5.0 <= hold_s <= 600.0):
        raise ParameterError("impossible-course", "a level or a hold", "give 30 to 300 mmHg, held for 5 to 600 s")
    for_pump, for_noise = streams(seed, 2)
    since = np.arange(int(hold_s * TRACE_HZ)) / TRACE_HZ
    parts, now = [np.zeros(int(_IDLE_S * TRACE_HZ))], 0.0
    for level in levels_mmhg:
        rise_s = (level - now) / log_uniform(for_pump, 20.0, 60.0)
        share = np.arange(1, max(2, int(rise_s * TRACE_HZ)) + 1) / max(2, int(rise_s * TRACE_HZ))
        parts += [now + (level - now) * share, cuff.course(since, level)]
        now = float(parts[-1][-1])
    after = np.arange(1, int(_AFTER_S * TRACE_HZ)) / TRACE_HZ
    parts.append(now * np.exp(-after / log_uniform(for_pump, 0.12, 0.3)))
    return _recorded(for_noise, np.concatenate(parts), sensor)


def record_exhaust(
    seed: Seed, *, start_mmhg: float = 280.0, time_constant_s: float = 1.5, sensor: Sensor | None = None
) -> Recording:
    """Pumped up, then let out through the open valve: an exponential fall from the moment of opening."""
    (for_noise,) = streams(seed, 1)
    rise = np.linspace(0.0, start_mmhg, int(6.0 * TRACE_HZ))
    hold = np.full(int(2.0 * TRACE_HZ), start_mmhg)
    after = np.arange(1, int(max(6.0 * time_constant_s, 5.0) * TRACE_HZ)) / TRACE_HZ
    return _recorded(for_noise, np.concatenate((rise, hold, start_mmhg * np.exp(-after / time_constant_s))), sensor)


def record_bleed(
    seed: Seed,
    *,
    start_mmhg: float = 265.0,
    rates_mmhg_per_s: tuple[float, ...] = (2.5,),
    end_mmhg: float = 35.0,
    sensor: Sensor | None = None,
) -> Recording:
    """Pumped up, then let down by the bleed valve: at these rates over equal parts of the pressure, then let out."""
    (for_noise,) = streams(seed, 1)
    parts = [np.linspace(0.0, start_mmhg, int(6.0 * TRACE_HZ)), np.full(int(1.0 * TRACE_HZ), start_mmhg)]
    now, part = start_mmhg, (start_mmhg - end_mmhg) / len(rates_mmhg_per_s)
    for rate in rates_mmhg_per_s:
        steps = int(part / rate * TRACE_HZ)
        parts.append(now - part * np.arange(1, steps + 1) / steps)
        now -= part
    parts.append(now * np.exp(-np.arange(1, int(_AFTER_S * TRACE_HZ)) / TRACE_HZ / 0.2))
    return _recorded(for_noise, np.concatenate(parts), sensor)


def _recorded(rng: np.random.Generator, pressure_mmhg: Samples, sensor: Sensor | None) -> Recording:
    used = draw_sensor(rng, sampling_hz=100.0) if sensor is None else sensor
    return recording(*used.record(rng, np.clip(pressure_mmhg, -15.0, 345.0)), _CIRCUMSTANCES)
