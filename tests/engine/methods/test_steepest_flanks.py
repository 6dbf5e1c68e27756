"""Steepest flanks."""

from __future__ import annotations

import numpy as np
import pytest

from engine.methods.oscillograms import oscillogram_and_train, scatter_and_own_sd
from engine.recordings import ABOVE_MMHG, BELOW_MMHG, PEAK_AT_MMHG, bell, made
from quietlimb.engine.methods.fixed_ratios import BellFit, fit_ratios
from quietlimb.engine.methods.steepest_flanks import SHARED_SD, fit_flanks
from quietlimb.engine.reading import read

CUFF = np.linspace(190.0, 50.0, 60)


def fit_of(height: np.ndarray, sd_mmhg: float = 0.002) -> BellFit:
    """The fit of these heights at CUFF."""
    return fit_flanks([oscillogram_and_train(CUFF, height, sd_mmhg=sd_mmhg)[0]])[0]


def test_an_exact_asymmetric_gaussian():
    """Systolic and diastolic are one width above and below the peak, the mean is the peak.

    Oracle: derived. The second derivative of a Gaussian is zero one width from its peak. Tolerance: 0.1 mmHg, for the
    weak prior on the widths.
    """
    expected = [PEAK_AT_MMHG + ABOVE_MMHG, PEAK_AT_MMHG, PEAK_AT_MMHG - BELOW_MMHG]
    np.testing.assert_allclose(fit_of(bell(CUFF)).values, expected, atol=0.1)


def test_the_whole_path_from_a_recording():
    """A made recording read by this method gives one width above and below the peak of its bell.

    Oracle: derived, 110 + 24 and 110 - 18 mmHg. Tolerance: 1 mmHg: pulses are drawn at their mid height, half a
    millimetre above the base.
    """
    reading = read(made().recording, method="steepest flanks")
    assert reading.method == "steepest flanks"
    assert reading.systolic is not None
    assert reading.mean is not None
    assert reading.diastolic is not None
    found = [reading.systolic.value, reading.mean.value, reading.diastolic.value]
    np.testing.assert_allclose(found, [134.0, 110.0, 92.0], atol=1.0)


def test_no_other_point_of_the_envelope_is_steeper():
    """On a fine grid the fitted envelope falls fastest at the systolic and rises fastest at the diastolic pressure.

    Oracle: a slower twin, differences of the envelope on a grid of 0.02 mmHg. Tolerance: 0.05 mmHg, two grid steps
    and a little, as the slope is flat where it is steepest.
    """
    fit = fit_of(bell(CUFF))
    grid = np.arange(60.0, 180.0, 0.02)
    slope = np.gradient(fit.envelope(grid), grid)
    assert fit.values[0] == pytest.approx(grid[np.argmin(slope)], abs=0.05)
    assert fit.values[2] == pytest.approx(grid[np.argmax(slope)], abs=0.05)


def test_the_bell_is_that_of_the_fixed_ratios():
    """Both rules read the same envelope; only the pressures they pick differ.

    Oracle: by construction. Tolerance: none.
    """
    oscillogram = oscillogram_and_train(CUFF, bell(CUFF))[0]
    flanks, ratios = fit_flanks([oscillogram])[0], fit_ratios([oscillogram])[0]
    np.testing.assert_array_equal(flanks.parameters, ratios.parameters)
    assert flanks.misfit == ratios.misfit
    assert flanks.values[1] == ratios.values[1]
    assert flanks.values[0] < ratios.values[0]  # 0.61 of the peak is nearer to it than 0.55
    assert flanks.values[2] < ratios.values[2]  # and further from it than 0.82


def test_own_part_by_a_bootstrap():
    """The own part is about the scatter of readings under new noise.

    Oracle: by construction, 60 seeds. Tolerance: the SD of 60 values is known to 9 %, three of which are 27 %; the
    beat-to-beat share of 5 % is in the heights too.
    """
    scatter, stated = scatter_and_own_sd(fit_of, bell(CUFF), seed=21)
    np.testing.assert_allclose(scatter, stated, rtol=0.35)


def test_own_part_by_the_widths():
    """The own covariance is that of m + s2, m and m - s1, carried from the parameters by their slopes.

    Oracle: a slower twin: heights moved a little one by one, and the fits they lead to; the sum of the squares is the
    covariance when every height has the same error. Tolerance: 15 %, as a height that fits perfectly carries the
    information (nu + 1) / (nu + 3) = 5/7 of a Gaussian one, here divided out, and the fit stops at a finite step.
    """
    sd, step = 0.02, 1e-3
    exact = bell(CUFF)
    oscillogram = oscillogram_and_train(CUFF, exact, sd_mmhg=sd)[0]
    scale = oscillogram.scale(0.05)
    whole = np.zeros((3, 3))
    for k in range(CUFF.size):
        moved = [exact.copy(), exact.copy()]
        moved[0][k] += step
        moved[1][k] -= step
        up, down = (fit_of(height, sd).values for height in moved)
        by_height = (up - down) / (2.0 * step)
        whole += scale[k] ** 2 * np.outer(by_height, by_height)
    found = fit_of(exact, sd).own_cov
    np.testing.assert_allclose(np.diag(found), np.diag(whole) * 7.0 / 5.0, rtol=0.15)


def test_shared_part_is_as_stated():
    """The shared part is the stated standard deviations and no more, the same for wide and narrow envelopes.

    Oracle: by construction. Tolerance: none.
    """
    expected = np.diag([sd.value**2 for sd in SHARED_SD])
    for width in (1.0, 1.5):
        height = bell(PEAK_AT_MMHG + (CUFF - PEAK_AT_MMHG) / width)
        np.testing.assert_array_equal(fit_of(height).shared_cov, expected)


def test_many_at_once_are_each_like_one():
    """Fits of many oscillograms are those of each alone.

    Oracle: a slower twin. Tolerance: none.
    """
    rng = np.random.default_rng(22)
    drawn = [oscillogram_and_train(CUFF, bell(CUFF) + 0.03 * rng.normal(size=60), sd_mmhg=0.03)[0] for _ in range(3)]
    for together, oscillogram in zip(fit_flanks(drawn), drawn, strict=True):
        np.testing.assert_array_equal(together.values, fit_flanks([oscillogram])[0].values)
    assert fit_flanks([]) == []
