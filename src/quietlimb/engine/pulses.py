"""The pulses riding on a deflation, each kept or set aside and why."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from quietlimb.engine.deflation import Deflation
from quietlimb.engine.pulse_curves import (
    at_points,
    cut_out,
    fit_curves,
    foot_and_top,
    neighbours,
    neighbours_curves,
    tilt,
)
from quietlimb.engine.pulse_timing import find_upstrokes, steadied, upstroke_strength
from quietlimb.engine.quantiles import median, running_median

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

SET_ASIDE_REASONS = ("", "valve", "limb-moved", "odd-interval", "odd-height", "samples-missing")

MOVED_TIMES_NOISE = 4.0  # invented: a pulse whose misfit exceeds this many times the quiet noise was disturbed
LEAST_SD_MMHG = 1e-4  # invented: a trace without any noise still has no perfect heights
STEP_ERROR = 0.2  # invented: half of 1 / sqrt(6)
EARLY = 0.70  # invented: of the period: a pulse this early or followed this early is not like the others
MOVED_SHARE_OF_HEIGHT = 0.12  # invented: of the local height, so that beat-to-beat changes of shape do not count


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pulses:
    """n pulses in the order of time.

    time_s             : (n,) steepest point of the upstroke [s]
    period_s           : (n,) to the next pulse [s]
    cuff_pressure_mmhg : (n,) cuff pressure at mid height, deflation taken out [mmHg]
    height_mmhg        : (n,) foot to top [mmHg]. Noise raises it by up to its own standard deviation; where there is no
                         pulse it scatters about 0 and may be negative
    height_sd_mmhg     : (n,) standard error of that height by the noise around the pulse, its curve given [mmHg]
    set_aside          : (n,) "" when kept, otherwise one of SET_ASIDE_REASONS
    """

    time_s: Array
    period_s: Array
    cuff_pressure_mmhg: Array
    height_mmhg: Array
    height_sd_mmhg: Array
    set_aside: tuple[str, ...]

    def __len__(self) -> int:
        return int(self.time_s.size)

    @property
    def kept(self) -> Mask:
        """(n,) True where the pulse is used."""
        return np.array([reason == "" for reason in self.set_aside], dtype=np.bool_)


@dataclass(frozen=True, slots=True, kw_only=True)
class Vibration:
    """What vibrates beside the pulses: middle of its hump in the spectrum [Hz], and its amplitude."""

    frequency_hz: float
    amplitude_mmhg: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PulseTrain:
    """The pulses of a deflation with what was learned on the way.

    pulses       : the pulses
    period_s     : typical period [s]
    noise_mmhg   : standard deviation of what neither pulse nor deflation explains, where the limb was quiet [mmHg]
    misfit_mmhg  : (n,) the same for each pulse [mmHg]
    shape        : (n, p) each pulse as its shapes show it, 0 at the foot [mmHg]
    shape_step_s : time between two points of a shape [s]
    around_mmhg  : (n, p) the pressure itself at these points, fall taken out, set at its shape's level [mmHg]
    seen         : (n, p) 1 where that belongs to the pulse, 0 where the next pulse or a step is
    over_valve   : (n,) whether the valve opened before the next pulse
    oversampled  : points for one sample of the recording, whose noise they share
    taken_out    : the vibration that was taken out before; None where there was none
    """

    pulses: Pulses
    period_s: float
    noise_mmhg: float
    misfit_mmhg: Array
    shape: Array
    shape_step_s: float
    around_mmhg: Array
    seen: Array
    over_valve: Mask
    oversampled: float
    taken_out: Vibration | None = None


def find_pulses(deflation: Deflation) -> PulseTrain | None:
    """The pulses of a deflation; None where fewer than five upstrokes can be made out."""
    strength = upstroke_strength(deflation)
    at, period_s = find_upstrokes(strength, deflation.valve_open, deflation.rate_hz)
    if at.size < 5:
        return None
    at = steadied(at, strength, period_s * deflation.rate_hz)
    cut = cut_out(deflation, at, period_s)
    if cut.at.size < 5:
        return None
    at = cut.at
    span = np.ptp(cut.rows * cut.weights, axis=1)
    usable = ~cut.valve & (span < 3.0 * running_median(span, 9))
    filled = cut.rows * cut.weights
    beside = neighbours(cut.level)
    for _ in range(4):
        if usable.sum() < 4:
            return None
        curves, shapes = neighbours_curves(filled, cut, usable, beside)
        fit = fit_curves(cut, curves, shapes, usable)
        level_ends = tilt(curves, cut)
        own = fit.own - level_ends
        foot, top = foot_and_top(curves - level_ends, own, cut, period_s * deflation.rate_hz)
        height = at_points(own, top) - at_points(own, foot)
        local = np.abs(running_median(np.where(usable, height, 0.0), 7))
        pooled = median(fit.misfit[usable])
        quiet = fit.misfit < MOVED_TIMES_NOISE * pooled + MOVED_SHARE_OF_HEIGHT * local
        as_before, usable = usable, ~cut.valve & quiet
        if (usable == as_before).all() and cut.weights[usable].all():
            break  # nothing to fill in: another round would see the same
        filled = np.where(cut.weights > 0, cut.rows, fit.own + fit.offset[:, None])
    noise = float(np.sqrt(np.mean(fit.misfit[usable] ** 2))) if usable.any() else pooled

    interval = np.diff(at, append=at[-1] + period_s * deflation.rate_hz) / deflation.rate_hz
    before = np.concatenate(([period_s], interval[:-1]))
    early = np.minimum(before, interval) < EARLY * period_s
    reasons = np.select([cut.valve & cut.missing, cut.valve, ~quiet, early], [5, 1, 2, 3], default=0).tolist()
    height_sd = np.abs(at_points(curves, top) - at_points(curves, foot)) * fit.size_sd * np.sqrt(deflation.oversampled)
    pulses = Pulses(
        time_s=deflation.time_s[0] + at / deflation.rate_hz,
        period_s=interval,
        cuff_pressure_mmhg=cut.level + fit.offset + (at_points(own, top) + at_points(own, foot)) / 2.0,
        height_mmhg=height,
        height_sd_mmhg=np.maximum(
            np.hypot(height_sd * np.maximum(fit.misfit, 0.7 * noise), _step_error(deflation, noise)), LEAST_SD_MMHG
        ),
        set_aside=tuple(SET_ASIDE_REASONS[reason] for reason in reasons),
    )
    shape = own - at_points(own, foot)[:, None]
    apart = np.sum(cut.weights * (cut.rows - shape), axis=1) / cut.weights.sum(axis=1)
    return PulseTrain(
        pulses=pulses,
        period_s=period_s,
        noise_mmhg=noise,
        misfit_mmhg=fit.misfit,
        shape=shape,
        shape_step_s=1.0 / deflation.rate_hz,
        around_mmhg=cut.rows - apart[:, None],
        seen=np.where(cut.valve[:, None], 0.0, cut.weights),
        over_valve=_opened_before_next(deflation, at),
        oversampled=deflation.oversampled,
    )


def _opened_before_next(deflation: Deflation, at: Array) -> Mask:
    opened = np.concatenate(([0], np.cumsum(deflation.valve_open)))
    edge = np.append(at, deflation.pressure.size - 1.0).astype(np.intp)
    return np.asarray(opened[edge[1:] + 1] > opened[edge[:-1]])


def _step_error(deflation: Deflation, noise: float) -> float:
    """Standard deviation that a coarse sensor adds to a height. [mmHg]

    Noise of half a step or more spreads the values over the steps, and least squares has counted that already. Without
    it the rounding of neighbouring samples is one error, not many: between step / sqrt(6), when foot and top are
    rounded as a whole, and nothing.
    """
    return STEP_ERROR * deflation.sensor_step_mmhg if noise < 0.5 * deflation.sensor_step_mmhg else 0.0
