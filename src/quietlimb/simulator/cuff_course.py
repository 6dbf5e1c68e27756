"""What pump, bulb and valve do to the cuff: the pressure it would have on a limb without an artery.

Magnitudes are invented, unless a source stands beside them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.signal import lfilter

from quietlimb.engine.errors import ParameterError
from quietlimb.simulator.animals import Animal
from quietlimb.simulator.draws import log_uniform

Samples = NDArray[np.float64]
Inflation = Literal["pump", "bulb"]
Deflation = Literal["linear", "steps"]

LOWEST_END_MMHG = 12.0
LONGEST_DEFLATION_S = 65.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CuffCourse:
    """The course of one inflation and deflation.

    knot_s, knot_mmhg     : (k,) the valve's and the pump's doing, straight between knots
    step_s                : (m,) when the valve opened for a step; empty when the deflation is linear
    deflation_s           : from the top of the inflation to the dump [s]
    pump_off_s            : when the pump stopped [s]
    end_s                 : end of the recording [s]
    recovery_share, _s    : air that was let out or in quickly is too cold or too warm by this share of the change, and
                            comes back with this time constant [s]
    valve_s               : time constant of air moving through the tube [s]
    ring_mmhg, _hz, _s    : ringing at each step: first height, frequency, decay
    ripple_mmhg, _hz      : strokes of the pump
    leak_mmhg_per_s       : what is lost beside the valve; the knots hold it already
    """

    inflation: Inflation
    deflation: Deflation
    knot_s: Samples
    knot_mmhg: Samples
    step_s: Samples
    inflation_start_s: float
    pump_off_s: float
    deflation_s: tuple[float, float]
    end_s: float
    recovery_share: float
    recovery_s: float
    valve_s: float
    ring_mmhg: float
    ring_hz: float
    ring_s: float
    ripple_mmhg: float
    ripple_hz: float
    dump_time_constant_s: float
    leak_mmhg_per_s: float = 0.0

    def base(self, time_s: Samples, rate_hz: float) -> Samples:
        """Pressure without an artery [mmHg] at equally spaced times from 0."""
        wanted = np.interp(time_s, self.knot_s, self.knot_mmhg)
        base = wanted + self.recovery_share * (wanted - _lagged(wanted, self.recovery_s * rate_hz))
        base = _lagged(base, self.valve_s * rate_hz)
        if self.ripple_mmhg > 0.0:
            base += self.ripple_mmhg * self._pumping(time_s) * np.sin(2.0 * np.pi * self.ripple_hz * time_s)
        if self.step_s.size:
            base -= self.ring_mmhg * self._ringing(time_s.size, rate_hz)
        dump = int(np.ceil(self.deflation_s[1] * rate_hz))
        base[dump:] = base[dump] * np.exp(-(time_s[dump:] - time_s[dump]) / self.dump_time_constant_s)
        return base

    def _pumping(self, time_s: Samples) -> Samples:
        begins = np.clip((time_s - self.inflation_start_s) / 0.1, 0.0, 1.0)
        ends = np.clip((self.pump_off_s - time_s) / 0.1, 0.0, 1.0)
        return begins * ends

    def _ringing(self, size: int, rate_hz: float) -> Samples:
        struck = np.zeros(size)
        struck[np.ceil(self.step_s * rate_hz).astype(np.intp)] = 1.0
        decay = np.exp(-1.0 / (self.ring_s * rate_hz))
        turn = 2.0 * np.pi * self.ring_hz / rate_hz
        ringing: Samples = lfilter([0.0, decay * np.sin(turn)], [1.0, -2.0 * decay * np.cos(turn), decay**2], struck)
        return ringing


def _lagged(values: Samples, time_constant: float) -> Samples:
    """First-order lag; the time constant is in samples."""
    stay = float(np.exp(-1.0 / time_constant))
    lagged: Samples = lfilter([1.0 - stay], [1.0, -stay], values, zi=[stay * values[0]])[0]
    return lagged


def _pump(rng: np.random.Generator, start_mmhg: float) -> tuple[Samples, Samples]:
    """Knots of a pump's ramp from 0: it slows down as the cuff fills."""
    seconds = start_mmhg / log_uniform(rng, 20.0, 60.0)
    slowing = rng.uniform(0.0, 0.4)
    share = np.linspace(0.0, 1.0, 16)
    return share * seconds, start_mmhg * (share + slowing * share * (1.0 - share))


def _bulb(rng: np.random.Generator, start_mmhg: float) -> tuple[Samples, Samples]:
    """Knots of squeezes from 0, each with a little backflow."""
    squeezes = max(3, round(start_mmhg / rng.uniform(14.0, 28.0)))
    rise = rng.uniform(0.7, 1.3, squeezes)
    rest = rng.uniform(0.15, 0.40, squeezes)
    backflow = rng.uniform(0.0, 2.0, squeezes)
    level = np.cumsum(start_mmhg * rise / rise.sum())
    knots_s, knots_mmhg, now = [0.0], [0.0], 0.0
    for top, pause, back in zip(level, rest, backflow, strict=True):
        now += 0.18
        knots_s += [now, now + pause]
        knots_mmhg += [float(top), float(top - back)]
        now += pause
    knots_mmhg[-1] = start_mmhg
    return np.array(knots_s), np.array(knots_mmhg)


def _linear(rng: np.random.Generator, start: float, stop: float, rate: float) -> tuple[Samples, Samples]:
    """Knots of a bleed valve: on the whole `rate`, faster while the pressure is high."""
    span = start - stop
    fading = rng.uniform(0.0, 0.3)
    share = np.linspace(0.0, 1.0, 33)
    return share * span / rate, start - span * (share + 0.5 * fading * share * (1.0 - share))


def _steps(
    rng: np.random.Generator, start: float, stop: float, step: float, dwell: float
) -> tuple[Samples, Samples, Samples]:
    """Knots of level stretches and the moments of the steps between them; steps and stretches vary a little."""
    count = max(2, round((start - stop) / step))
    level = start - (start - stop) / count * (np.arange(count + 1) + rng.uniform(-0.08, 0.08, count + 1))
    level[0] = start
    ends = np.cumsum(dwell * rng.uniform(0.9, 1.1, count + 1))
    begins = np.concatenate(([0.0], ends[:-1] + 0.02))
    knot_s = np.column_stack((begins, ends)).ravel()
    return knot_s, np.repeat(level, 2), ends[:-1]


def draw_course(
    rng: np.random.Generator,
    animal: Animal,
    *,
    start_mmhg: float | None = None,
    stop_mmhg: float | None = None,
    inflation: Inflation | None = None,
    deflation: Deflation | None = None,
    deflation_mmhg_per_s: float | None = None,
    step_mmhg: float | None = None,
    step_s: float | None = None,
) -> CuffCourse:
    """A course that suits this animal; what is given is kept.

    It starts 20..50 mmHg above the systolic and ends 25..50 mmHg below the diastolic pressure, never under 12 mmHg.
    Linear: 2 to 8 mmHg/s, but at most 4 mmHg a beat. Steps: 3 to 15 mmHg of 0.4 to 2.5 s, each long enough for 2 to
    3.5 beats where 2.5 s allow it, and never fewer than seven over the pulse pressure and 50 mmHg. No deflation that is
    drawn takes over 65 s.

    Raises
    ------
    ParameterError : a start above 320 mmHg or less than 10 mmHg above the stop, a stop under 5 mmHg; a rate outside
                     0.5..100 mmHg/s, steps outside 0.5..60 mmHg or 0.1..20 s.
    """
    for name, given, low, high in (
        ("deflation_mmhg_per_s", deflation_mmhg_per_s, 0.5, 100.0),
        ("step_mmhg", step_mmhg, 0.5, 60.0),
        ("step_s", step_s, 0.1, 20.0),
    ):
        if given is not None and not low <= given <= high:
            raise ParameterError("impossible-course", f"{name} is {given:g}", f"give {low:g} to {high:g}")
    start = animal.systolic + float(rng.uniform(20.0, 50.0))
    start = start if start_mmhg is None else start_mmhg
    stop = max(animal.diastolic - float(rng.uniform(25.0, 50.0)), LOWEST_END_MMHG)
    stop = stop if stop_mmhg is None else stop_mmhg
    if not (stop >= 5.0 and stop + 10.0 <= start <= 320.0):
        raise ParameterError(
            "impossible-course",
            f"a deflation from {start:g} to {stop:g} mmHg",
            "start at 320 mmHg at most and stop 10 mmHg or more below the start, at 5 mmHg or more",
        )
    drawn_inflation: Inflation = "bulb" if rng.uniform() < 0.25 else "pump"
    inflation = inflation or drawn_inflation
    stepwise = rng.uniform() < 0.5
    # a hand on a bulb lets air out steadily; steps are a machine's way
    drawn_deflation: Deflation = "steps" if stepwise and inflation == "pump" else "linear"
    deflation = deflation or drawn_deflation
    inflating, moving, detail = (np.random.default_rng(int(n)) for n in rng.integers(0, 2**63, size=3))

    idle = float(detail.uniform(0.5, 2.0))
    hold = float(detail.uniform(0.3, 1.0))
    rise_s, rise_mmhg = (_bulb if inflation == "bulb" else _pump)(inflating, start)
    pump_off = idle + float(rise_s[-1])
    top = pump_off + hold

    rate = log_uniform(moving, 2.0, 8.0)
    step = log_uniform(moving, 3.0, 15.0)
    beats_a_step = float(moving.uniform(2.0, 3.5))
    if deflation == "linear":
        slowest = (start - stop) / LONGEST_DEFLATION_S
        rate = max(min(rate, 4.0 / animal.period_s), slowest) if deflation_mmhg_per_s is None else deflation_mmhg_per_s
        fall_s, fall_mmhg = _linear(moving, start, stop, rate)
        opened = np.empty(0)
    else:
        dwell = float(np.clip(beats_a_step * animal.period_s, 0.4, 2.5)) if step_s is None else step_s
        if step_mmhg is None:
            coarsest = min(15.0, (animal.pulse_pressure + 50.0) / 7.0)
            step = max(min(step, coarsest), (start - stop) * dwell / LONGEST_DEFLATION_S)
        else:
            step = step_mmhg
        fall_s, fall_mmhg, opened = _steps(moving, start, stop, step, dwell)
    dump = top + float(fall_s[-1])

    return CuffCourse(
        inflation=inflation,
        deflation=deflation,
        knot_s=np.concatenate((idle + rise_s, top + fall_s)),
        knot_mmhg=np.concatenate((rise_mmhg, fall_mmhg)),
        step_s=top + opened,
        inflation_start_s=idle,
        pump_off_s=pump_off,
        deflation_s=(top, dump),
        end_s=dump + 1.0 + float(detail.uniform(0.5, 1.0)),
        recovery_share=float(detail.uniform(0.02, 0.08)),
        recovery_s=float(detail.uniform(0.5, 2.0)),
        valve_s=log_uniform(detail, 0.02, 0.06),
        ring_mmhg=log_uniform(detail, 0.2, 1.0),
        ring_hz=float(detail.uniform(5.0, 15.0)),
        ring_s=float(detail.uniform(0.03, 0.08)),
        ripple_mmhg=float(detail.uniform(0.2, 1.0)) if inflation == "pump" else 0.0,
        ripple_hz=float(detail.uniform(15.0, 35.0)),
        dump_time_constant_s=float(detail.uniform(0.12, 0.30)),
    )
