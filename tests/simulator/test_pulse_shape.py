"""The shape of one pulse."""

from __future__ import annotations

import numpy as np
import pytest

from quietlimb.simulator.pulse_shape import draw_pulse_shape, pulse_shape


@pytest.mark.parametrize("form_factor", [0.28, 0.36, 0.45])
@pytest.mark.parametrize("upstroke", [0.15, 0.22, 0.30])
@pytest.mark.parametrize("dicrotic", [0.0, 0.12])
def test_shape_has_the_mean_and_the_upstroke_asked_for(form_factor: float, upstroke: float, dicrotic: float):
    """Time mean and phase of the peak are those asked for; foot 0, peak 1.

    Oracle: by construction. Tolerance: 0.002 of the mean (root finding), 0.006 of the phase (three of 512 points).
    """
    shape = pulse_shape(form_factor=form_factor, upstroke=upstroke, dicrotic=dicrotic)
    assert shape.height.mean() == pytest.approx(form_factor, abs=0.002)
    assert shape.upstroke == pytest.approx(upstroke, abs=0.006)
    assert shape.height.min() == 0.0
    assert shape.height.max() == 1.0
    assert shape.height.argmin() == 0


def test_drawn_shapes_stay_within_their_ranges():
    """Form factor 0.28 to 0.45, upstroke 15 to 30 %, and one peak above all others.

    Oracle: invented ranges, frozen: they are what the accuracy figures are stated for. Tolerance: as above, but 0.01 of
    the mean where a large dicrotic wave forbids a small one.
    """
    rng = np.random.default_rng(5)
    shapes = [draw_pulse_shape(rng) for _ in range(200)]
    assert all(0.278 <= shape.form_factor <= 0.46 for shape in shapes)
    assert all(0.144 <= shape.upstroke <= 0.306 for shape in shapes)


def test_shape_is_smooth_and_periodic():
    """No two neighbouring points differ by more than the steepest rise allows, over the end of the period too.

    Oracle: by construction: a rise over 15 % of the period that looks like half a cosine has slope pi / 2 / 0.15.
    Tolerance: 30 %, as rounding and the aim beside the mark move the slope.
    """
    shape = pulse_shape(form_factor=0.33, upstroke=0.15, dicrotic=0.2)
    around = np.append(shape.height, shape.height[0])
    assert np.abs(np.diff(around)).max() * 512 < 1.3 * np.pi / 2 / 0.15
    assert shape.at(np.array([0.0, 1.0])) == pytest.approx([0.0, 0.0])


def test_spread_predicts_the_error_of_a_fitted_height():
    """The standard error from `spread` is that of a least-squares fit of height, level and slope.

    Oracle: reference library (numpy.linalg, normal equations) on 64 samples of one beat.
    Tolerance: 3 %, as 64 samples stand for the integral.
    """
    shape = pulse_shape(form_factor=0.36, upstroke=0.2, dicrotic=0.1)
    phase = np.arange(64) / 64
    design = np.column_stack((shape.at(phase), np.ones(64), phase))
    error = np.sqrt(np.linalg.inv(design.T @ design)[0, 0])
    assert 1.0 / np.sqrt(64 * shape.spread) == pytest.approx(error, rel=0.03)
