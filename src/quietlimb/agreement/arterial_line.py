"""Whether the line of an arterial catheter tells the pressure at its tip: zero, level and fast flush.

Catheter, tube and transducer ring like a mass on a spring. A fast flush lifts the pressure and lets it drop, and what
rings on after it tells natural frequency fn and damping z:

    exp(-2 pi z fn t) (a cos(wt) + b sin(wt)),  w = 2 pi fn sqrt(1 - z^2)

On paper, z is had from the heights of neighbouring peaks and fn from the time between them. Here the oscillation is
fitted whole, the mean beat taken out: with peaks alone, the pulse passes for ringing where the damping is good.
"""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from quietlimb.agreement.arterial_trace import ArterialTrace, find_beats
from quietlimb.engine.errors import ParameterError
from quietlimb.engine.values import Cited

Samples = NDArray[np.float64]
Dynamics = Literal["adequate", "rings too much", "damped too much", "too slow", "not tested"]

# Tube and transducer are filled with saline, not with blood (0.78).
MMHG_PER_CM: Final = Cited(0.74, "mmHg/cm", "Quietlimb", "a column of saline of 1005 kg/m3", "derived")
ZERO_WITHIN: Final = Cited(2.0, "mmHg", "Quietlimb", "this file", "invented")
LEVEL_WITHIN: Final = Cited(2.0, "cm", "Quietlimb", "this file: 1.5 mmHg", "invented")
# The region of natural frequency and damping in which pressures are told to within a few mmHg, drawn for people.
_REGION = "figure of natural frequency against damping"
REGION: Final = tuple(
    (
        Cited(hz, "Hz", "Gardner1981", _REGION, "from memory"),
        Cited(least, "-", "Gardner1981", _REGION, "from memory"),
        Cited(most, "-", "Gardner1981", _REGION, "from memory"),
    )
    for hz, least, most in (
        (7.5, 0.50, 0.60),
        (10.0, 0.40, 0.67),
        (15.0, 0.28, 0.75),
        (20.0, 0.20, 0.80),
        (24.0, 0.15, 0.85),
    )
)
REGION_RATE: Final = Cited(118.0, "/min", "Gardner1981", "fastest pulse it was drawn for", "from memory")
# A flush goes far beyond any artery's pressure, and a while.
FLUSH_ABOVE_MMHG: Final = Cited(280.0, "mmHg", "practice", "pressure bag of 300 mmHg", "common practice")
SHORTEST_FLUSH_S: Final = 0.1
RINGS_FOR_S: Final = 0.4
BEATS_FROM_S: Final = 3.0  # of trace, for the mean beat
# Soon, while the rhythm still holds, or once a line that rings long is still: what explains more is taken.
BEATS_AFTER_S: Final = (0.2, 0.5, 1.0)
FEWEST_SAMPLES: Final = 20
LOWEST_HZ, HIGHEST_HZ, MOST_DAMPING = 4.0, 100.0, 0.98
MOST_UNEXPLAINED: Final = 0.15  # of the variance [invented]


@dataclass(frozen=True, slots=True, kw_only=True)
class FlushResponse:
    """What rings after a fast flush.

    ended_s    : when the flush ended [s]; None where only the two figures are told
    natural_hz : natural frequency [Hz]
    damping    : as a share of the critical damping, at most 0.98: what does not swing at all
    """

    ended_s: float | None
    natural_hz: float
    damping: float


def find_flushes(trace: ArterialTrace) -> tuple[tuple[float, float], ...]:
    """When each fast flush in the trace began and ended [s]."""
    above = np.concatenate(([False], np.nan_to_num(trace.pressure_mmhg) >= FLUSH_ABOVE_MMHG.value, [False]))
    edges = np.flatnonzero(np.diff(above.astype(np.int8)))
    return tuple(
        (float(trace.time_s[first]), float(trace.time_s[last - 1]))
        for first, last in zip(edges[::2], edges[1::2], strict=True)
        if last < trace.time_s.size and trace.time_s[last - 1] - trace.time_s[first] >= SHORTEST_FLUSH_S
    )


def flush_response(trace: ArterialTrace, ended_s: float) -> FlushResponse:
    """Natural frequency and damping from what rings after a flush that ended at `ended_s`.

    Raises
    ------
    ParameterError : `flush-not-told`: too short a trace after it, or what follows is no dying oscillation.
    """
    after = trace.between(ended_s, ended_s + RINGS_FOR_S)
    measured = None if after is None else np.isfinite(after.pressure_mmhg)
    if after is None or measured is None or np.count_nonzero(measured) < FEWEST_SAMPLES:
        raise _not_told(ended_s, f"fewer than {FEWEST_SAMPLES} samples follow it")
    time, pressure = after.time_s[measured], after.pressure_mmhg[measured]
    fits = [_fitted(time, pressure, _pulse(trace, time, ended_s + waited_s)) for waited_s in BEATS_AFTER_S]
    unexplained, natural_hz, damping = min(fits)
    if unexplained > MOST_UNEXPLAINED:
        raise _not_told(ended_s, "what follows it is no dying oscillation")
    return FlushResponse(ended_s=ended_s, natural_hz=natural_hz, damping=damping)


def first_response(trace: ArterialTrace) -> tuple[FlushResponse, ArterialTrace] | None:
    """Of the first flush in a trace that tells one, with the samples that tell it; None where none does.

    These samples alone give the same response again: the flush from its begin, and all that is looked at after it.
    """
    for began_s, ended_s in find_flushes(trace):
        with suppress(ParameterError):
            response = flush_response(trace, ended_s)
            samples = trace.between(began_s, ended_s + max(BEATS_AFTER_S) + BEATS_FROM_S)
            assert samples is not None
            return response, samples
    return None


def _not_told(ended_s: float, why: str) -> ParameterError:
    return ParameterError(
        "flush-not-told",
        f"the flush that ended at {ended_s:.2f} s does not tell how the line rings: {why}",
        "flush for a second, let go at once, and record on for 3 s or more at 200 or more samples a second",
    )


def _fitted(time: Samples, pressure: Samples, pulse: Samples) -> tuple[float, float, float]:
    """Share of the variance that is left unexplained, natural frequency [Hz], damping.

    time, pressure : (n,) from the end of the flush on
    pulse          : (n, k) what the pulse may add, each to be weighted
    """
    at = time - time[0]

    def left(shape: Samples) -> Samples:
        decay = np.exp(-2.0 * np.pi * np.exp(shape[0]) * shape[1] * at)
        turning = 2.0 * np.pi * np.exp(shape[0]) * np.sqrt(1.0 - shape[1] ** 2) * at
        parts = np.column_stack([decay * np.cos(turning), decay * np.sin(turning), np.ones_like(at), pulse])
        return np.asarray(pressure - parts @ np.linalg.lstsq(parts, pressure, rcond=None)[0])

    highest_hz = min(HIGHEST_HZ, 0.45 * (time.size - 1) / float(at[-1]))
    grid = [(np.log(hz), z) for hz in np.geomspace(LOWEST_HZ, highest_hz, 24) for z in (0.05, 0.2, 0.4, 0.6, 0.8)]
    start = min(grid, key=lambda shape: float(np.sum(left(np.array(shape)) ** 2)))
    bounds = ([np.log(0.5 * LOWEST_HZ), 0.005], [np.log(1.2 * highest_hz), MOST_DAMPING])
    found = least_squares(left, start, bounds=bounds, x_scale=(0.1, 0.1))
    unexplained = float(np.sum(found.fun**2) / np.sum((pressure - pressure.mean()) ** 2))
    return unexplained, float(np.exp(found.x[0])), float(found.x[1])


def _pulse(trace: ArterialTrace, time: Samples, from_s: float) -> Samples:
    """The mean beat of the seconds from `from_s` on, laid where the beats would be at these times, and its slope.

    The line is linear: what it tells is what it would have told without the flush, and its own ringing beside it. The
    slope moves the beat by as much as the rhythm did. (n,) -> (n, 2), or (n, 0) where there is no beat
    """
    later = trace.between(from_s, from_s + BEATS_FROM_S)
    beats = None if later is None else find_beats(later)
    if later is None or beats is None or len(beats) < 2:
        return np.empty((time.size, 0))
    phase = np.arange(100) / 100.0
    at = beats.start_s[:, np.newaxis] + phase * (beats.end_s - beats.start_s)[:, np.newaxis]
    shape = np.interp(at, later.time_s, later.pressure_mmhg).mean(axis=0)
    now = (time - beats.start_s[0]) / float(np.median((beats.end_s - beats.start_s)[:3])) % 1.0
    slope = np.gradient(np.concatenate((shape[-1:], shape, shape[:1])))[1:-1]
    return np.column_stack([np.interp(now, phase, curve, period=1.0) for curve in (shape, slope)])


def dynamics(response: FlushResponse | None, pulse_rate: float) -> Dynamics:
    """What a line of this response makes of a pulse of this rate [/min].

    The printed region was drawn for people. What a line makes of a wave depends on the natural frequency over that of
    the pulse, so for a faster pulse the natural frequency is brought down by as much before it is looked up. [derived]
    """
    if response is None:
        return "not tested"
    hz = response.natural_hz * min(1.0, REGION_RATE.value / pulse_rate)
    at = [row[0].value for row in REGION]
    if hz < at[0]:
        return "too slow"
    least, most = (float(np.interp(hz, at, [row[k].value for row in REGION])) for k in (1, 2))
    return (
        "rings too much" if response.damping < least else "damped too much" if response.damping > most else "adequate"
    )


def systolic_error(response: FlushResponse, systolic: float, diastolic: float, pulse_rate: float) -> float:
    """By how much such a line would tell the systolic pressure of an ordinary pulse too high [mmHg]. [derived]

    Of a pulse that rises in a fifth of the beat by a half sine and runs off exponentially (invented), in steady beats:
    each harmonic f is told multiplied by 1 / (1 - (f/fn)^2 + 2 i z f/fn).
    """
    phase = np.arange(1024) / 1024.0
    shape = np.where(phase < 0.2, np.sin(0.5 * np.pi * phase / 0.2), np.exp(-3.0 * (phase - 0.2)))
    shape = (shape - shape.min()) / np.ptp(shape)
    spectrum = np.fft.rfft(diastolic + (systolic - diastolic) * shape)
    ratio = np.arange(spectrum.size) * pulse_rate / 60.0 / response.natural_hz
    told = np.fft.irfft(spectrum / (1.0 - ratio**2 + 2j * response.damping * ratio), phase.size)
    return float(told.max() - systolic)


@dataclass(frozen=True, slots=True, kw_only=True)
class ArterialLine:
    """What is known of a line. None means not told or not tested.

    zero_mmhg            : what the transducer said when open to the air [mmHg]
    below_heart_cm       : height of the transducer, positive below the heart [cm]
    response             : of its fast flush
    pulse_rate           : of the animal [/min]
    dynamics             : what the response makes of this pulse
    systolic_error_mmhg  : by how much it would tell the systolic pressure too high; None where no pressure is known
    """

    zero_mmhg: float | None
    below_heart_cm: float | None
    response: FlushResponse | None
    pulse_rate: float
    dynamics: Dynamics
    systolic_error_mmhg: float | None

    @property
    def offset_mmhg(self) -> float:
        """By how much every pressure is told too high for zero and level; told, never subtracted [mmHg]."""
        return (self.zero_mmhg or 0.0) + MMHG_PER_CM.value * (self.below_heart_cm or 0.0)

    @property
    def faults(self) -> tuple[str, ...]:
        """Codes of what is wrong or was not looked at, in the order zero, level, flush."""
        found = []
        for value, limit, name in (
            (self.zero_mmhg, ZERO_WITHIN.value, "zero"),
            (self.below_heart_cm, LEVEL_WITHIN.value, "level"),
        ):
            if value is None:
                found.append(f"{name}-not-told")
            elif abs(value) > limit:
                found.append(f"{name}-off")
        if self.dynamics != "adequate":
            found.append(f"flush-{'-'.join(self.dynamics.split())}")
        return tuple(found)


def judge_line(
    *,
    zero_mmhg: float | None,
    below_heart_cm: float | None,
    response: FlushResponse | None,
    systolic: float | None,
    diastolic: float | None,
    pulse_rate: float,
) -> ArterialLine:
    """The line of an animal with these pressures [mmHg] and this pulse [/min]."""
    known = response is not None and systolic is not None and diastolic is not None and systolic > diastolic
    return ArterialLine(
        zero_mmhg=zero_mmhg,
        below_heart_cm=below_heart_cm,
        response=response,
        pulse_rate=pulse_rate,
        dynamics=dynamics(response, pulse_rate),
        systolic_error_mmhg=systolic_error(response, systolic, diastolic, pulse_rate) if known else None,  # type: ignore[arg-type]
    )
