"""The pressure around each upstroke, and the curve that a pulse and its neighbours in cuff pressure have in common."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from quietlimb.engine.deflation import Deflation
from quietlimb.engine.quantiles import median, medians
from quietlimb.engine.tabulated import read_off, table_for

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

BEFORE, AFTER = 0.22, 0.70  # of the period: the part of a pulse around its upstroke that is looked at
LATE_REST = 0.05  # invented: of the height, what a pulse has not yet lost shortly before the next
SHAPES = 5  # a pulse narrows as the cuff passes the mean pressure: a few shapes carry that
LINE_RIDGE = 0.3  # in squared NEIGHBOURS_MMHG: holds the line back where only one or two pulses are near
NEIGHBOURS_MMHG = 9.0  # pulses this close in cuff pressure look alike
OWN_EXTREME = 0.06  # of the period: a pulse's own foot and top are sought so close to its neighbours'
RISE = 0.13  # of the period before and after the steepest point: foot and top lie within
FEWEST_SEEN = 0.45  # invented: of the points of a pulse; with fewer its height hangs in the air


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Cut:
    """Pressure around each upstroke (n pulses, p points), fall taken out; weight 0 where another pulse or step is.

    valve   : (n,) too much of it hidden, by a step or for want of samples
    missing : (n,) whether samples are missing anywhere in it
    """

    at: Array
    rows: Array
    weights: Array
    since_upstroke_s: Array
    level: Array
    valve: Mask
    missing: Mask


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CurveFit:
    """Each pulse as its neighbours' curve, scaled, and as much of its own shape as noise lets through.

    own     : (n, p) that pulse, offset taken out
    size_sd : (n,) standard error of the scale for unit noise
    offset  : (n,)
    misfit  : (n,) standard deviation of what is left
    """

    own: Array
    size_sd: Array
    offset: Array
    misfit: Array


def at_points(curves: Array, points: NDArray[np.intp]) -> Array:
    """Value of each curve at its own point. (n, p), (n,) -> (n,)"""
    return np.asarray(curves[np.arange(points.size), points])


def cut_out(deflation: Deflation, at: Array, period_s: float) -> Cut:
    """The pressure around each upstroke that lies wholly inside the deflation."""
    rate, pressure = deflation.rate_hz, deflation.pressure
    period = period_s * rate
    offsets = np.arange(-round(BEFORE * period), round(AFTER * period) + 1)
    inside = (at + offsets[0] >= 0) & (at + offsets[-1] <= pressure.size - 1)
    at = at[inside]
    where = at[:, None] + offsets
    low = np.minimum(where.astype(np.intp), pressure.size - 2)
    part = where - low
    rows = pressure[low] * (1.0 - part) + pressure[low + 1] * part
    hidden = deflation.valve_open | deflation.missing
    opened = hidden[low] | hidden[low + 1]
    missing = (deflation.missing[low] | deflation.missing[low + 1]).any(axis=1)
    next_upstroke = np.append(at[1:], np.inf)
    taken = where > (next_upstroke - BEFORE * period)[:, None]
    # a step elsewhere than between foot and top costs only what lies beyond it
    rise = (offsets >= -RISE * period) & (offsets <= RISE * period)
    valve = (opened & rise).any(axis=1)
    first, last = int(np.flatnonzero(rise)[0]), int(np.flatnonzero(rise)[-1])
    beyond = np.zeros_like(opened)
    beyond[:, : first + 1] = np.logical_or.accumulate(opened[:, first::-1], axis=1)[:, ::-1]
    beyond[:, last:] = np.logical_or.accumulate(opened[:, last:], axis=1)
    weights = np.where(taken | beyond, 0.0, 1.0)
    valve |= weights.sum(axis=1) < FEWEST_SEEN * offsets.size
    weights[valve] = 1.0
    slope = _local_slope(pressure, at, period, rate) if deflation.kind == "linear" else np.zeros(at.size)
    since = offsets / rate
    rows = rows - slope[:, None] * since
    level = np.sum(rows * weights, axis=1) / weights.sum(axis=1)
    rows = rows - level[:, None]
    return Cut(at=at, rows=rows, weights=weights, since_upstroke_s=since, level=level, valve=valve, missing=missing)


def _local_slope(pressure: Array, at: Array, period: float, rate: float) -> Array:
    """Slope of the fall around each upstroke, from means over whole periods so that pulses cancel [mmHg/s]."""
    whole = max(2, round(period))
    total = np.concatenate(([0.0], np.cumsum(pressure)))
    mean = (total[whole:] - total[:-whole]) / whole
    centre = np.arange(mean.size) + (whole - 1) / 2.0
    reach = 2.0 * period
    before, after = np.maximum(at - reach, centre[0]), np.minimum(at + reach, centre[-1])
    rise = np.interp(after, centre, mean) - np.interp(before, centre, mean)
    return np.asarray(rise / np.maximum(after - before, 1.0) * rate)


def tilt(curves: Array, cut: Cut) -> Array:
    """(n, p) straight lines through the upstroke that bring the end of each curve down to its foot.

    What is left between two feet is not pulse: air that warms after a step, a leak, an artery that fills on average as
    the cuff falls. A late diastolic rest of 5 % of the height is left standing.
    """
    upstroke = int(np.searchsorted(cut.since_upstroke_s, 0.0))
    foot = np.argmin(curves[:, : upstroke + 1], axis=1)
    height = curves[:, upstroke + 1 :].max(axis=1) - at_points(curves, foot)
    rise = curves[:, -3:].mean(axis=1) - at_points(curves, foot) - LATE_REST * np.maximum(height, 0.0)
    length = cut.since_upstroke_s[-2] - cut.since_upstroke_s[foot]
    return np.asarray((rise / length)[:, None] * cut.since_upstroke_s)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Neighbours:
    """How much each pulse counts for the curve at each cuff pressure: the same in every round.

    at   : (m,) cuff pressures, in units of NEIGHBOURS_MMHG from the mean of the pulses
    own  : (n,) those of the pulses
    near : (m, n) weight of each pulse there
    """

    at: Array
    own: Array
    near: Array


def neighbours(level: Array) -> Neighbours:
    """The neighbours of pulses at (n,) cuff pressures [mmHg]."""
    middle = level.mean()
    at, own = (table_for(level) - middle) / NEIGHBOURS_MMHG, (level - middle) / NEIGHBOURS_MMHG
    return Neighbours(at=at, own=own, near=np.exp(-0.5 * np.minimum(np.abs(own - at[:, None]), 6.0) ** 2))


def neighbours_curves(filled: Array, cut: Cut, usable: Mask, beside: Neighbours) -> tuple[Array, Array]:
    """(n, p) the curve of the usable pulses near each pulse in cuff pressure, and the (k, p) shapes it is made of."""
    rows = filled[usable] - filled[usable].mean(axis=1, keepdims=True)
    shapes = leading_shapes(rows, SHAPES)
    # local line, not local mean: shape and height both change with pressure, and a mean would lean to the larger
    made_of, at = np.zeros((filled.shape[0], len(shapes) + 1)), beside.at[:, None]
    made_of[usable, :-1], made_of[usable, -1] = rows @ shapes.T, 1.0
    sums, by_own, by_square = np.split(
        beside.near @ np.concatenate((made_of, beside.own[:, None] * made_of, beside.own[:, None] ** 2 * made_of), 1),
        3,
        1,
    )
    total, first = sums[:, -1:], by_own[:, -1:] - at * sums[:, -1:]
    second = by_square[:, -1:] - 2.0 * at * by_own[:, -1:] + at**2 * total + LINE_RIDGE
    line = second * sums[:, :-1] - first * (by_own[:, :-1] - at * sums[:, :-1])
    return read_off(line / (total * second - first**2), cut.level) @ shapes, shapes


def leading_shapes(rows: Array, count: int) -> Array:
    """The first right singular vectors of (n, p) rows, (k, p), k = count or fewer.

    By the smaller of the two matrices of products, which takes a third of the time of the decomposition itself; what
    it loses in precision lies far below any noise.
    """
    n, p = rows.shape
    if p <= n:
        return np.asarray(np.linalg.eigh(rows.T @ rows)[1][:, : -count - 1 : -1].T)
    size, left = np.linalg.eigh(rows @ rows.T)
    size, left = size[::-1][:count], left[:, : -count - 1 : -1]
    return np.asarray(left.T @ rows / np.sqrt(np.maximum(size, 1e-24 * max(size[0], 1e-300)))[:, None])


def foot_and_top(curves: Array, own: Array, cut: Cut, period: float) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Points of foot and top, before and after the upstroke: near those of the neighbours' curve.

    One pulse's own extremes over the whole window would follow its noise and make every height too large.
    """
    upstroke = int(np.searchsorted(cut.since_upstroke_s, 0.0))
    foot = np.argmin(curves[:, : upstroke + 1], axis=1)
    top = upstroke + 1 + np.argmax(curves[:, upstroke + 1 :], axis=1)
    point, reach = np.arange(own.shape[1]), max(1.0, OWN_EXTREME * period)
    lowest = np.argmin(np.where(np.abs(point - foot[:, None]) <= reach, own, np.inf), axis=1)
    return lowest, np.argmax(np.where(np.abs(point - top[:, None]) <= reach, own, -np.inf), axis=1)


def fit_curves(cut: Cut, curves: Array, shapes: Array, usable: Mask) -> CurveFit:
    """Weighted least squares of every pulse on its neighbours' curve, an offset, and departures along the shapes.

    The departures are held back by how much larger they are, over all usable pulses, than noise would make them. No
    slope: the fall is already taken out, and a free slope would take a part of the pulse for itself.
    """
    total = cut.weights.sum(axis=1)

    def centred(values: Array) -> Array:
        return np.asarray(values - (np.sum(cut.weights * values, axis=1) / total)[:, None])

    curve, row = centred(curves), centred(cut.rows)
    energy = np.maximum(np.sum(cut.weights * curve**2, axis=1), 1e-12)
    size = np.sum(cut.weights * curve * row, axis=1) / energy
    left = cut.weights * (row - size[:, None] * curve)
    variance = median(np.sum(left[usable] ** 2, axis=1) / np.maximum(total[usable] - 2.0, 1.0))

    # departures: the shapes without their mean and without what is like the curve; never written out pulse by pulse
    pairs = (shapes[:, None, :] * shapes).reshape(-1, shapes.shape[1])
    mean = cut.weights @ shapes.T / total[:, None]
    like_curve = (cut.weights * curve) @ shapes.T / energy[:, None]
    projected = left @ shapes.T - like_curve * np.sum(left * curves, axis=1)[:, None]
    alike = (np.sum(cut.weights * curve**2, axis=1) - 2.0 * energy)[:, None, None]
    normal = (cut.weights @ pairs.T).reshape(-1, len(shapes), len(shapes))
    normal += alike * like_curve[:, :, None] * like_curve[:, None, :]
    normal -= total[:, None, None] * mean[:, :, None] * mean[:, None, :]
    diagonal = np.einsum("nkk->nk", normal)[usable]
    # 0.455: median of a squared normal deviate
    seen = np.maximum(medians((projected[usable] ** 2 / 0.455 - variance * diagonal).T), 0.0)
    spread = seen / np.maximum(medians(diagonal.T**2), 1e-12)
    ridge = np.diag(variance / np.maximum(spread, 1e-9 * max(variance, 1e-12)))
    departure = np.linalg.solve(normal + ridge, projected[..., None])[..., 0]
    own = (size - np.sum(departure * like_curve, axis=1))[:, None] * curves + departure @ shapes
    offset = np.sum(cut.weights * (cut.rows - own), axis=1) / total
    residual = cut.weights * (cut.rows - own - offset[:, None])
    misfit = np.sqrt(np.sum(residual**2, axis=1) / np.maximum(total - 2.0, 1.0))
    return CurveFit(own=own, size_sd=energy**-0.5, offset=offset, misfit=misfit)
