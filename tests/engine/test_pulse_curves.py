"""What a pulse and its neighbours have in common, beside the same written out pulse by pulse."""

from __future__ import annotations

import numpy as np
import pytest

from quietlimb.engine.pulse_curves import (
    LINE_RIDGE,
    NEIGHBOURS_MMHG,
    Cut,
    fit_curves,
    leading_shapes,
    neighbours,
    neighbours_curves,
)

Array = np.ndarray


def made_up(pulses: int, points: int) -> Cut:
    """Pulses that grow, narrow and shrink as the cuff falls, with noise, and a part of some hidden."""
    rng = np.random.default_rng(pulses)
    level, since = np.linspace(180.0, 60.0, pulses), np.linspace(-0.1, 0.3, points)
    size = np.exp(-0.5 * ((level - 110.0) / 25.0) ** 2)
    width = 0.06 + 0.02 * (level[:, None] - 60.0) / 120.0
    rows = size[:, None] * np.exp(-0.5 * ((since - 0.08) / width) ** 2) + 0.03 * rng.normal(size=(pulses, points))
    weights = np.ones((pulses, points))
    weights[::3, -points // 6 :] = 0.0
    weights[1::5, : points // 9] = 0.0
    return Cut(
        at=100.0 * np.arange(pulses),
        rows=rows,
        weights=weights,
        since_upstroke_s=since,
        level=level,
        valve=np.zeros(pulses, dtype=np.bool_),
        missing=np.zeros(pulses, dtype=np.bool_),
    )


def one_pulse(cut: Cut, i: int, curve: Array, shapes: Array) -> tuple[float, Array, Array, Array, Array]:
    """Scale, what is left, shapes beside the curve, their products and their projections, for pulse i, by the book."""
    w, row = cut.weights[i], cut.rows[i]
    centred = curve - np.average(curve, weights=w)
    size = np.sum(w * centred * (row - np.average(row, weights=w))) / np.sum(w * centred**2)
    left = w * (row - np.average(row, weights=w) - size * centred)
    beside = np.array([s - np.sum(w * centred * s) / np.sum(w * centred**2) * curve for s in shapes])
    along = np.array([b - np.average(b, weights=w) for b in beside])
    return size, left, beside, (w * along) @ along.T, along @ left


@pytest.mark.parametrize(("pulses", "points"), [(60, 40), (25, 70)])
def test_fit_is_that_of_every_pulse_by_itself(pulses: int, points: int):
    """Curve, offset, departures and misfit of each pulse, from sums over all pulses at once.

    Oracle: by construction, the slow twin: each pulse's shapes written out, centred, and solved for. Tolerance:
    rounding of sums of squares.
    """
    cut = made_up(pulses, points)
    usable = np.arange(pulses) % 7 != 3
    curves, shapes = neighbours_curves(cut.rows * cut.weights, cut, usable, neighbours(cut.level))
    found = fit_curves(cut, curves, shapes, usable)
    each = [one_pulse(cut, i, curves[i], shapes) for i in range(pulses)]
    freedom = cut.weights.sum(axis=1) - 2.0
    variance = np.median([np.sum(left**2) / freedom[i] for i, (_, left, *_) in enumerate(each) if usable[i]])
    normal, projected = np.array([e[3] for e in each]), np.array([e[4] for e in each])
    diagonal = np.einsum("nkk->nk", normal)[usable]
    seen = np.maximum(np.median(projected[usable] ** 2 / 0.455 - variance * diagonal, axis=0), 0.0)
    spread = np.maximum(seen / np.median(diagonal**2, axis=0), 1e-9 * variance)
    for i, (size, _, beside, products, projection) in enumerate(each):
        departure = np.linalg.solve(products + np.diag(variance / spread), projection)
        own = size * curves[i] + departure @ beside
        w = cut.weights[i]
        offset = np.average(cut.rows[i] - own, weights=w)
        np.testing.assert_allclose(found.own[i], own, atol=1e-10)
        assert found.offset[i] == pytest.approx(offset, abs=1e-10)
        misfit = np.sqrt(np.sum(w * (cut.rows[i] - own - offset) ** 2) / freedom[i])
        assert found.misfit[i] == pytest.approx(misfit, abs=1e-10)


@pytest.mark.parametrize(("pulses", "points"), [(60, 40), (25, 70)])
def test_neighbours_curve_is_a_local_line(pulses: int, points: int):
    """The curve at each pulse is the local line through the cleaned usable pulses, evaluated there.

    Oracle: by construction, weighted least squares by numpy.linalg.solve with the same ridge. Tolerance: rounding.
    """
    cut = made_up(pulses, points)
    usable = np.arange(pulses) % 7 != 3
    curves, shapes = neighbours_curves(cut.rows, cut, usable, neighbours(cut.level))
    rows = cut.rows[usable] - cut.rows[usable].mean(axis=1, keepdims=True)
    clean = rows @ shapes.T @ shapes
    for i in (0, pulses // 2, pulses - 1):
        distance = (cut.level[usable] - cut.level[i]) / NEIGHBOURS_MMHG
        near = np.exp(-0.5 * np.minimum(np.abs(distance), 6.0) ** 2)
        line = np.stack((np.ones_like(distance), distance))
        products = (near * line) @ line.T + np.diag([0.0, LINE_RIDGE])
        np.testing.assert_allclose(curves[i], np.linalg.solve(products, (near * line) @ clean)[0], atol=1e-10)


@pytest.mark.parametrize(("pulses", "points"), [(60, 40), (25, 70), (4, 70)])
def test_leading_shapes_are_singular_vectors(pulses: int, points: int):
    """Wide and tall, and with fewer pulses than shapes: the same plane as the singular vectors span.

    Oracle: reference library, numpy.linalg.svd of NumPy 2.4. Tolerance: products of the rows lose half of the digits of
    what is small, and noise is a fiftieth of the pulses here.
    """
    rows = made_up(pulses, points).rows
    shapes = leading_shapes(rows, 5)
    right = np.linalg.svd(rows, full_matrices=False)[2][:5]
    assert shapes.shape == right.shape
    np.testing.assert_allclose(shapes.T @ shapes, right.T @ right, atol=1e-9)
