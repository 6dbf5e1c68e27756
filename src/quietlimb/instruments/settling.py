"""A closed cuff: where in a recording its pressure was held, and the leak beside the settling of warm air.

Air that was pumped in is warm and the bladder still gives way: for a while the pressure falls without any leak. Over a
hold

    p(t) = a - b t + c exp(-t / tau)

with the leak b. Settling is fitted and not cut off by a test, because a test that finds no settling any more does not
prove that there is none, and what it misses would be counted as leak without showing in the interval. What cannot be
told apart, a slow settling and a leak in a short hold, makes the interval wide instead.

A settling may be slower than the hold is long, and may be no single exponential. Where the fitted one is not spent at
the end of the hold, or the later half by itself shows less leak than the whole, the interval reaches from what was lost
beyond the largest settling to the rate of the later half: settling only slows, so that rate bounds the leak. The later
half sees what a form bends; a creep so slow that it looks straight over the hold is seen by nothing but a longer hold.

The errors of the means of short stretches follow one another (AR(1)). Neither their correlation nor tau is known, so
the interval is that of a mixture of Student's t over a grid of both, each with its own likelihood: a, b and the SD of
the errors free (flat, flat, 1/SD), c within a few per cent of the pressure. That prior is invented and matters: a
leak through a hole fades with the pressure and would pass for a settling that is large and slow enough.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq
from scipy.special import stdtr

from quietlimb.engine.recording import Recording
from quietlimb.engine.values import Cited

Values = NDArray[np.float64]

SHORTEST_HOLD_S = 50.0  # of the quick test of 60 s, less what belongs to the pump
# Slower than this the cuff counts as closed; a faster fall is a valve that is open.
FASTEST_FALL_MMHG_PER_S, FASTEST_RISE_MMHG_PER_S = 5.0, 1.0
LEAST_HELD_MMHG = 20.0
_STRETCH_S = 1.0  # means by which a hold is found
_AFTER_INFLATION_S = 1.0  # left out: the pump's last stroke and the air on its way through the tube

SETTLING_SHARE = Cited(0.04, "share", "Quietlimb", "SD of the settling against the pressure", "invented")
SETTLING_S = (
    Cited(0.5, "s", "Quietlimb", "shortest settling", "invented"),
    Cited(30.0, "s", "Quietlimb", "longest settling of a usual cuff", "invented"),
)
# Slower settling is possible up to so many times the hold, beyond which it looks like a leak, and grows rarer.
LONGEST_SETTLING = Cited(4.0, "holds", "Quietlimb", "longest settling against the hold", "invented")
# A fall that settling slows by more than this from half to half of the hold, with a time constant of more than half
# of it, is not spent: how much of what is left is leak depends on what the prior holds of the settling.
UNSPENT = Cited(0.5, "mmHg/min", "Quietlimb", "slowing by settling that still goes on", "invented")
MOST_SETTLING = Cited(0.12, "share", "Quietlimb", "largest settling against the pressure", "invented")
RARER = Cited(1.0, "exponent", "Quietlimb", "fading of the prior beyond the usual settling", "invented")
# What no fit of one hold can see: a sensor that drifts by itself, and a leak that fades otherwise than assumed.
SENSOR_DRIFT = Cited(0.05, "mmHg/min", "Quietlimb", "SD of a sensor's own drift over a hold", "invented")
FORM_SHARE = Cited(0.01, "share", "Quietlimb", "SD of the leak's rate by the form of its fading", "invented")
_MOST_MEANS = 100
_TAUS, _NARROWINGS = 16, 6
_CORRELATIONS = np.concatenate((np.linspace(0.0, 0.8, 6), [0.88, 0.93, 0.96, 0.98]))
_FEW_CORRELATIONS = np.array([0.0, 0.5, 0.9])
_FADING = (0.0, 0.5, 1.0)  # the leak's share in the fading of the pressure: steady, as of a root, in proportion
_LEAST_VARIANCE = 1e-8  # mmHg^2, of a recording without any noise


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class HoldFit:
    """One hold and what the pressure lost in it.

    start_s, end_s : in the recording [s]
    start_mmhg     : at the beginning, by the fit [mmHg]
    rate, low, high: leak with its 95 % interval, above 0 when the pressure falls [mmHg/min]
    plain_rate     : fall over the last half of the hold, settling and all [mmHg/min]
    settling_mmhg  : what the pressure still lost by settling, from the beginning of the hold [mmHg]
    settling_s     : its time constant [s]
    settled        : whether no settling that still goes on was seen at the end
    time_s, held_mmhg, fitted_mmhg : (n,) means of short stretches, and the fit there
    """

    start_s: float
    end_s: float
    start_mmhg: float
    rate: float
    low: float
    high: float
    plain_rate: float
    settling_mmhg: float
    settling_s: float
    settled: bool
    time_s: Values
    held_mmhg: Values
    fitted_mmhg: Values

    @property
    def seconds(self) -> float:
        """How long it was held. [s]"""
        return self.end_s - self.start_s


def find_holds(recording: Recording) -> list[tuple[float, float]]:
    """Begin and end of each stretch of 5 s or more in which the cuff was closed and above 20 mmHg. [s]"""
    time, pressure = _means(recording.time_s, recording.cuff_pressure_mmhg, _STRETCH_S)
    if time.size < 4:
        return []
    slope = np.gradient(pressure, time)
    closed = (slope >= -FASTEST_FALL_MMHG_PER_S) & (slope <= FASTEST_RISE_MMHG_PER_S) & (pressure >= LEAST_HELD_MMHG)
    edge = np.flatnonzero(np.diff(np.concatenate(([0], closed.astype(np.int8), [0]))))
    holds = []
    for first, after in zip(edge[::2], edge[1::2], strict=True):
        begin = float(time[first]) + (_AFTER_INFLATION_S if first > 0 else 0.0)
        end = float(time[after - 1])
        if end - begin >= 5.0:
            holds.append((begin, end))
    return holds


def fit_hold(recording: Recording, start_s: float, end_s: float) -> HoldFit:
    """The leak within one hold of a recording. [s]"""
    inside = (recording.time_s >= start_s) & (recording.time_s <= end_s)
    time, pressure = recording.time_s[inside], recording.cuff_pressure_mmhg[inside]
    at, held = _means(time, pressure, (end_s - start_s) / _MOST_MEANS)
    half = at >= 0.5 * (start_s + end_s)
    plain = -60.0 * float(np.polyfit(at[half] - at[half][0], held[half], 1)[0])
    fading = max(plain, 0.0) / 60.0 / float(held.mean())
    rounding = _rounding(time, pressure) * 60.0
    unseen = math.hypot(SENSOR_DRIFT.value, FORM_SHARE.value * plain, rounding / (end_s - start_s))
    grid = _marginal(at - start_s, held, fading, end_s - start_s)
    low, high = (_quantile(grid, unseen, held.size - 3, p) for p in (0.025, 0.975))
    rate = min(max(float(np.sum(grid.weight * grid.rate)), low), high)
    later = _marginal(at[half] - at[half][0], held[half], fading, end_s - start_s)
    unseen = math.hypot(SENSOR_DRIFT.value, FORM_SHARE.value * plain, 2.0 * rounding / (end_s - start_s))
    # A leak that fades with the pressure is slower in the later half; it must not be taken for settling.
    fades = 2.0 / (1.0 + math.exp(0.5 * fading * (end_s - start_s)))
    slower = rate * fades > _quantile(later, unseen, int(half.sum()) - 3, 0.975)
    spent = not slower and not _goes_on(grid, end_s - start_s)
    if not spent:
        # what was lost beyond the largest settling leaked; the last rate is an upper bound, for settling only slows
        leaked = float(held[0] - held[-1]) - MOST_SETTLING.value * float(held[0])
        low, high = min(low, max(60.0 * leaked / (end_s - start_s), 0.0)), max(plain / fades, high)
    if slower:
        rate = min(max(float(np.sum(later.weight * later.rate)), low), high)
    return HoldFit(
        start_s=start_s,
        end_s=end_s,
        start_mmhg=float(grid.fitted[0]),
        rate=rate,
        low=low,
        high=high,
        plain_rate=plain,
        settling_mmhg=grid.settling_mmhg,
        settling_s=grid.settling_s,
        settled=spent and grid.settling_s <= 0.5 * (end_s - start_s),
        time_s=at,
        held_mmhg=held,
        fitted_mmhg=grid.fitted,
    )


def _goes_on(grid: _Grid, hold_s: float) -> bool:
    """Whether a slow settling that surely is there, by what it bends the fall, is not spent at the end of the hold."""
    half_s = 0.5 * hold_s
    slowed = 60.0 / half_s * grid.settling_mmhg * math.expm1(-half_s / grid.settling_s) ** 2
    return grid.settling_s > half_s and slowed > UNSPENT.value


def _means(time_s: Values, pressure_mmhg: Values, stretch_s: float) -> tuple[Values, Values]:
    """Means over stretches of this length; (n,) middle of each [s] and its pressure [mmHg]."""
    stretch = np.floor((time_s - time_s[0]) / stretch_s).astype(np.intp)
    stretch = np.unique(stretch, return_inverse=True)[1]
    count = np.bincount(stretch)
    return np.bincount(stretch, time_s) / count, np.bincount(stretch, pressure_mmhg) / count


def _rounding(time_s: Values, pressure_mmhg: Values) -> float:
    """SD of the fall over a hold from the converter's steps; 0 where noise carries the pressure over several steps.

    Without noise the pressure stands on one step until it falls upon the next, and both ends of the fall are rounded.
    Each step that is crossed is a further sight of the pressure.
    """
    levels = np.unique(pressure_mmhg)
    if levels.size < 2:
        return 1.0 / math.sqrt(6.0)  # it never moved: steps of 1 mmHg are the coarsest that are usual
    step = float(np.diff(levels).min())
    changes = float(np.count_nonzero(np.diff(pressure_mmhg)))
    if changes > 10.0 * float(np.ptp(pressure_mmhg)) / step:
        return 0.0
    return step / math.sqrt(6.0 * (1.0 + float(np.ptp(pressure_mmhg)) / step))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Grid:
    """Leak, its SD and its weight over a grid of what is not known, and the best fit of all."""

    rate: Values
    sd: Values
    weight: Values
    fitted: Values
    settling_mmhg: float
    settling_s: float


def _marginal(since_s: Values, held: Values, fading_per_s: float, hold_s: float) -> _Grid:
    """The grid of settling time and correlation, drawn together around what the data allow, for each way of fading."""
    parts = [_refined(since_s, held, share * fading_per_s, hold_s) for share in _FADING]
    top = max(log.max() for _rate, _sd, log, _best in parts)
    rate = np.concatenate([rate.ravel() for rate, _sd, _log, _best in parts])
    sd = np.concatenate([sd.ravel() for _rate, sd, _log, _best in parts])
    weight = np.concatenate([(np.exp(log - top) / log.size * width).ravel() for _rate, _sd, log, (width, *_) in parts])
    _rate, _sd, _log, (_width, fitted, settling_mmhg, settling_s) = max(parts, key=lambda part: float(part[2].max()))
    return _Grid(
        rate=rate,
        sd=sd,
        weight=weight / weight.sum(),
        fitted=fitted,
        settling_mmhg=settling_mmhg,
        settling_s=settling_s,
    )


def _refined(
    since_s: Values, held: Values, fading_per_s: float, hold_s: float
) -> tuple[Values, Values, Values, tuple[float, Values, float, float]]:
    """Rate, SD and logarithm of the weight over settling time and correlation.

    The grid of times begins wide and is narrowed to where there is any weight: of a quiet sensor the time is known to
    a per cent, and a grid of wider meshes would miss it.
    """
    usual = SETTLING_S[1].value
    low, high = math.log(SETTLING_S[0].value), math.log(max(usual, LONGEST_SETTLING.value * hold_s))
    leaked = -np.expm1(-fading_per_s * since_s) if fading_per_s > 1e-9 else since_s
    leaked = leaked / leaked[-1] * (since_s[-1] / 60.0)
    prior = 1.0 / (SETTLING_SHARE.value * float(held.mean())) ** 2
    correlations = _FEW_CORRELATIONS
    for _narrowing in range(_NARROWINGS):
        taus = np.exp(np.linspace(low, high, _TAUS))
        rate, sd, log, coefficients = _fits(since_s, held, leaked, taus, prior, correlations)
        log = log - RARER.value * np.log(np.maximum(taus / usual, 1.0))
        share = np.exp(log - log.max()).sum(axis=0)
        kept = np.flatnonzero(share > 1e-4 * share.max())
        if correlations is _CORRELATIONS:
            break
        if kept.size >= _TAUS // 2:
            correlations = _CORRELATIONS
            continue
        mesh = (high - low) / (_TAUS - 1)
        low, high = low + mesh * max(int(kept[0]) - 1, 0), low + mesh * min(int(kept[-1]) + 1, _TAUS - 1)
    best = np.unravel_index(int(log.argmax()), log.shape)
    chosen, tau = coefficients[best], float(taus[best[1]])
    fitted = chosen[0] - chosen[1] * leaked + chosen[2] * np.exp(-since_s / tau)
    return rate, sd, log, (high - low, fitted, float(chosen[2]), tau)


def _fits(
    since_s: Values, held: Values, leaked: Values, taus: Values, prior: float, correlations: Values
) -> tuple[Values, Values, Values, Values]:
    """Rate, its SD, the logarithm of its weight, and (a, b, c), for each correlation and settling time.

    prior : precision of c [mmHg^-2]; brought to the errors' scale by the SD that the fit without it leaves
    """
    count = held.size
    decay = np.exp(-since_s / taus[:, np.newaxis])
    model = np.stack((np.ones_like(decay), np.broadcast_to(-leaked, decay.shape), decay), axis=-1)
    x, y = _whitened(model, correlations), _whitened(held[:, np.newaxis], correlations)
    y = y[:, np.newaxis]  # x is (correlations, times, n, 3), y the same with 1 in place of times and of 3
    turned = np.swapaxes(x, -1, -2)
    gram, cross = turned @ x, turned @ y
    free = np.linalg.solve(gram + 1e-12 * np.eye(3), cross)
    variance = np.sum((y - x @ free) ** 2, axis=(-1, -2)) / (count - 3) + _LEAST_VARIANCE
    gram[..., 2, 2] += prior * variance
    inverse = np.linalg.inv(gram)
    solved = inverse @ cross
    left = np.sum((y - x @ solved) ** 2, axis=(-1, -2)) + prior * variance * solved[..., 2, 0] ** 2
    left += count * _LEAST_VARIANCE
    log = -0.5 * (count - 3) * np.log(left) + 0.5 * np.log(variance) + 0.5 * np.linalg.slogdet(inverse)[1]
    log += 0.5 * np.log(1.0 - correlations**2)[:, np.newaxis]
    sd = np.sqrt(left / (count - 3) * inverse[..., 1, 1])
    return solved[..., 1, 0], sd, log, solved[..., 0]


def _whitened(values: Values, correlations: Values) -> Values:
    """Values (..., n, columns) less what the one before foretells, the first scaled to the same spread; the
    correlations come first."""
    by = correlations.reshape((-1,) + (1,) * values.ndim)
    first = np.sqrt(1.0 - by**2) * values[..., :1, :]
    return np.concatenate((first, values[..., 1:, :] - by * values[..., :-1, :]), axis=-2)


def _quantile(grid: _Grid, unseen: float, freedom: int, probability: float) -> float:
    """Quantile of a mixture of Student's t, each widened by what the fit does not see. [mmHg/min]"""
    kept = grid.weight > 1e-9
    centre, weight = grid.rate[kept], grid.weight[kept]
    sd = np.maximum(np.hypot(grid.sd[kept], unseen), 1e-9)

    def missing(value: float) -> float:
        return float(np.sum(weight * stdtr(freedom, (value - centre) / sd)) / weight.sum()) - probability

    reach = 40.0 * float(sd.max())
    return float(brentq(missing, float(centre.min()) - reach, float(centre.max()) + reach, xtol=1e-5))
