"""The pressure around each upstroke, and the curve that a pulse and its neighbours in cuff pressure have in common."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from quietlimb.engine.deflation import Deflation
from quietlimb.engine.tabulated import tabulated

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
    """Pressure around each upstroke (n pulses, p points), fall taken out; weight 0 where another pulse or step is."""

    at: Array
    rows: Array
    weights: Array
    since_upstroke_s: Array
    level: Array
    valve: Mask


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
    return np.asarray(np.take_along_axis(curves, points[:, None], axis=1)[:, 0])


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
    opened = deflation.valve_open[low] | deflation.valve_open[low + 1]
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
    return Cut(at=at, rows=rows, weights=weights, since_upstroke_s=since, level=level, valve=valve)


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


def neighbours_curves(filled: Array, cut: Cut, usable: Mask) -> tuple[Array, Array]:
    """(n, p) the curve of the usable pulses near each pulse in cuff pressure, and the (k, p) shapes it is made of."""
    rows = filled[usable] - filled[usable].mean(axis=1, keepdims=True)
    left, size, right = np.linalg.svd(rows, full_matrices=False)
    clean = (left[:, :SHAPES] * size[:SHAPES]) @ right[:SHAPES]

    def curves(level: Array) -> Array:
        # local line, not local mean: shape and height both change with pressure, and a mean would lean to the larger
        distance = (cut.level[usable] - level[:, None]) / NEIGHBOURS_MMHG
        near = np.exp(-0.5 * np.minimum(np.abs(distance), 6.0) ** 2)
        total, first = near.sum(axis=1, keepdims=True), (near * distance).sum(axis=1, keepdims=True)
        second = (near * distance**2).sum(axis=1, keepdims=True) + LINE_RIDGE
        line = near * (second - distance * first) / (total * second - first**2)
        return np.asarray(line @ clean)

    return tabulated(curves, cut.level), np.asarray(right[:SHAPES])


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
    variance = float(np.median(np.sum(left[usable] ** 2, axis=1) / np.maximum(total[usable] - 2.0, 1.0)))

    like_curve = (cut.weights * curve) @ shapes.T / energy[:, None]
    beside = shapes[None, :, :] - like_curve[:, :, None] * curves[:, None, :]  # (n, k, p), nothing of the curve in it
    along = beside - beside @ cut.weights[:, :, None] / total[:, None, None]
    projected = (along @ left[:, :, None])[..., 0]
    normal = (cut.weights[:, None, :] * along) @ np.swapaxes(along, 1, 2)
    diagonal = np.einsum("nkk->nk", normal)[usable]
    # 0.455: median of a squared normal deviate
    seen = np.maximum(np.median(projected[usable] ** 2 / 0.455 - variance * diagonal, axis=0), 0.0)
    spread = seen / np.maximum(np.median(diagonal**2, axis=0), 1e-12)
    ridge = np.diag(variance / np.maximum(spread, 1e-9 * max(variance, 1e-12)))
    departure = np.linalg.solve(normal + ridge, projected[..., None])[..., 0]
    own = size[:, None] * curves + (departure[:, None, :] @ beside)[:, 0]
    offset = np.sum(cut.weights * (cut.rows - own), axis=1) / total
    residual = cut.weights * (cut.rows - own - offset[:, None])
    misfit = np.sqrt(np.sum(residual**2, axis=1) / np.maximum(total - 2.0, 1.0))
    return CurveFit(own=own, size_sd=energy**-0.5, offset=offset, misfit=misfit)
