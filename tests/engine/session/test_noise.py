"""The densities of the errors against SciPy, and the discount for serial correlation against its covariance matrix."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import integrate, stats

from quietlimb.engine.session.noise import SCATTER, Noise, noise_for

OSCILLOMETRIC = noise_for("oscillometric", "cat", own_sd_known=False)


@pytest.mark.parametrize("tail", [3.0, 5.0, 8.0, math.inf])
def test_ordinary_density_has_unit_variance(tail: float) -> None:
    """The ordinary error is a Student t (or normal) scaled to the standard deviation that is asked for.

    Oracle: reference library, scipy.stats.t and norm. Tolerance: rounding.
    """
    noise = Noise(sd_median=1.0, tail=tail)
    error = np.linspace(-6.0, 6.0, 25)
    density, _ = noise.ordinary(error**2)
    scale = 1.0 if math.isinf(tail) else math.sqrt((tail - 2.0) / tail)
    expected = stats.norm.pdf(error) if math.isinf(tail) else stats.t.pdf(error, tail, scale=scale)
    np.testing.assert_allclose(noise.peak * density, expected, rtol=1e-12)


def test_weight_is_that_of_a_student_location_estimate() -> None:
    """The weight is minus the slope of the log density over the error, relative to that at 0.

    Oracle: by construction, numerical differentiation of scipy.stats.t.logpdf. Tolerance: of the difference quotient.
    """
    error, step, scale = np.linspace(0.5, 6.0, 12), 1e-5, math.sqrt(3.0 / 5.0)
    _, weight = Noise(sd_median=1.0).ordinary(error**2)
    slope = (stats.t.logpdf(error + step, 5, scale=scale) - stats.t.logpdf(error - step, 5, scale=scale)) / (2 * step)
    expected = -slope / error / (6.0 / 5.0 / scale**2)
    np.testing.assert_allclose(weight, expected, rtol=1e-6)


def test_moved_density_integrates_to_one_and_vanishes_at_no_error() -> None:
    """A spoiled reading never says that nothing happened, is likeliest b / sqrt 2 off, and its density is one.

    Oracle: reference library, scipy.integrate.quad. Tolerance: of the quadrature.
    """
    noise = OSCILLOMETRIC
    total, _ = integrate.quad(lambda r: float(noise.moved(np.array([r * r]))[0]), -np.inf, np.inf)
    assert total == pytest.approx(1.0, abs=1e-8)
    off = np.linspace(0.0, 200.0, 20001)
    assert noise.moved(off**2)[0] == 0.0
    likeliest = off[np.argmax(noise.moved(off**2))]
    assert likeliest == pytest.approx(noise.spoiled_reach_mmhg / math.sqrt(2.0), abs=0.02)


def test_scatter_is_lognormal() -> None:
    """The quadrature keeps median and spread of the logarithm.

    Oracle: by construction: Gauss-Hermite with 7 nodes is exact for the second moment. Tolerance: rounding.
    """
    sd, weight = OSCILLOMETRIC.sd_quadrature()
    assert weight @ np.log(sd) == pytest.approx(math.log(8.0), abs=1e-12)
    assert weight @ (np.log(sd / 8.0)) ** 2 == pytest.approx(0.55**2, abs=1e-12)


@pytest.mark.parametrize("n", [1, 2, 5, 10])
def test_effective_share_is_that_of_a_correlated_mean(n: int) -> None:
    """Neighbours correlated by 0.3 are worth fewer: the variance of their mean says how many.

    Oracle: by construction, the mean of the covariance matrix rho^|i-j|. Tolerance: rounding.
    """
    noise = Noise(sd_median=8.0, serial=0.3)
    k = np.arange(n)
    variance_of_mean = (0.3 ** np.abs(k[:, None] - k)).mean()
    assert noise.effective_share(n) == pytest.approx(1.0 / (n * variance_of_mean), rel=1e-12)


def test_scatter_follows_method_and_species() -> None:
    """Doppler scatters less than oscillometry and cats less than dogs; own standard deviations leave less to learn.

    Oracle: published order (4.55 and 5.09 mmHg in cats by Doppler, ACVIM Forum 2023; 9.0 in dogs by Doppler and 13.3 to
    14.1 by oscillometry, Wernick et al. 2012); all lie within the published range of 5 to 14.
    """
    for species in ("cat", "dog"):
        assert SCATTER["doppler", species].value < SCATTER["oscillometric", species].value
    for method in ("doppler", "oscillometric"):
        assert SCATTER[method, "cat"].value < SCATTER[method, "dog"].value
        known, unknown = (noise_for(method, "dog", own_sd_known=told).sd_median for told in (True, False))
        assert known < unknown == SCATTER[method, "dog"].value
    assert all(5.0 <= each.value <= 14.0 for each in SCATTER.values())
