"""Robust least squares with priors."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import minimize
from scipy.stats import t as student

from quietlimb.engine.methods.least_squares import DEGREES_OF_FREEDOM, Fitted, fit

Array = NDArray[np.float64]

AT = np.linspace(-1.0, 1.0, 41)
WIDE = (np.full(2, -1e6), np.full(2, 1e6))
RNG_SEED = 20


def straight(theta: Array) -> tuple[Array, Array]:
    """Lines a + b x at AT, and their Jacobian."""
    slope = np.broadcast_to(np.stack((np.ones_like(AT), AT), axis=-1), (theta.shape[0], AT.size, 2))
    return theta[:, :1] + theta[:, 1:] * AT, slope


def rising(theta: Array) -> tuple[Array, Array]:
    """Curves a exp(b x) at AT, and their Jacobian."""
    curve = theta[:, :1] * np.exp(theta[:, 1:] * AT)
    return curve, np.stack((curve / theta[:, :1], curve * AT), axis=-1)


def nothing_known(theta: Array) -> tuple[Array, Array]:
    """A prior that is not there."""
    return np.zeros((theta.shape[0], 1)), np.zeros((theta.shape[0], 1, 2))


def near_zero(theta: Array) -> tuple[Array, Array]:
    """The first parameter is about 0 with SD 1/2, nothing is known of the second."""
    slope = np.zeros((theta.shape[0], 1, 2))
    slope[:, 0, 0] = 2.0
    return 2.0 * theta[:, :1], slope


def noisy(sd: float, rows: int = 1) -> Array:
    """Lines 3 + 2 x with normal noise."""
    return 3.0 + 2.0 * AT + sd * np.random.default_rng(RNG_SEED).normal(size=(rows, AT.size))


def fitted(
    observed: Array, sd: float, prior: object = nothing_known, start: tuple[float, float] = (0.0, 0.0)
) -> Fitted:
    """Straight lines through these observations."""
    begin = np.tile(np.array(start), (observed.shape[0], 1))
    return fit(begin, straight, observed, np.full_like(observed, sd), prior, bounds=WIDE)  # type: ignore[arg-type]


def test_small_residuals_give_least_squares():
    """Where every residual is far below its scale, the Student-t loss is a parabola and the fit is the plain line.

    Oracle: reference library, numpy.polyfit of NumPy 2.4. Tolerance: residuals are 1e-3 of the scale, so that weights
    depart from 1 by 1e-6, and the fit stops when it gains less than 1e-6.
    """
    observed = noisy(1e-3)
    slope, level = np.polyfit(AT, observed[0], 1)
    np.testing.assert_allclose(fitted(observed, 1.0).parameters[0], [level, slope], atol=1e-5)


def test_the_fit_is_the_likeliest():
    """With noise and an outlier, no search finds parameters of higher likelihood, and the cost is minus its logarithm.

    Oracle: reference library, Nelder-Mead and the Student-t density of SciPy 1.17. Tolerance: the fit stops when it
    gains less than 1e-6, where the cost is flat to 1e-3 standard errors.
    """
    observed = noisy(0.3)
    observed[0, 5] += 4.0
    found = fitted(observed, 0.3)

    def minus_log_likelihood(theta: Array) -> float:
        u = (observed[0] - theta[0] - theta[1] * AT) / 0.3
        return float(-(student.logpdf(u, DEGREES_OF_FREEDOM) - student.logpdf(0.0, DEGREES_OF_FREEDOM)).sum())

    best = minimize(minus_log_likelihood, [3.0, 2.0], method="Nelder-Mead", options={"xatol": 1e-8, "fatol": 1e-12})
    np.testing.assert_allclose(found.parameters[0], best.x, atol=2e-4)
    assert found.cost[0] == pytest.approx(best.fun, abs=1e-5)


def test_one_wild_value_hardly_moves_the_line():
    """A value a hundred scales away moves the line by a small part of its standard error; plain least squares by many.

    Oracle: by construction. Tolerance: half a standard error, 0.3 / sqrt(41) = 0.047, where least squares moves by
    30 / 41 = 0.73.
    """
    clean, spoiled = noisy(0.3), noisy(0.3)
    spoiled[0, 20] += 30.0
    moved = np.abs(fitted(spoiled, 0.3).parameters - fitted(clean, 0.3).parameters)[0]
    assert moved[0] < 0.5 * 0.047
    assert np.abs(np.polyfit(AT, spoiled[0], 1) - np.polyfit(AT, clean[0], 1))[1] > 10.0 * 0.047


def test_a_prior_draws_the_line_by_its_worth():
    """Data and prior on the level average by their precisions; the slope, of which nothing is known, stays.

    Oracle: by construction. For small residuals the loss is (nu + 1) / nu times a parabola of unit scale, so 41 data of
    scale 10 weigh 41 x 1.25 / 100 against 4 of the prior. Tolerance: residuals up to 0.3 of the scale change a weight
    by 2 %.
    """
    data = 41.0 * 1.25 / 100.0
    found = fitted(noisy(1e-3), 10.0, near_zero).parameters[0]
    assert found[0] == pytest.approx(3.0 * data / (data + 4.0), rel=0.02)
    assert found[1] == pytest.approx(2.0, abs=1e-2)


def test_precisions_are_the_expected_information():
    """Data precision is (nu + 1) / (nu + 3) of the normal one, prior precision is the prior's own.

    Oracle: published. Expected information of a Student-t location, Lange, Little & Taylor 1989, J Am Stat Assoc 84:
    881-896, from memory; checked here by SciPy 1.17's density on a grid. Tolerance: 1e-6, the grid's ends.
    """
    u = np.linspace(-200.0, 200.0, 400_001)
    score = np.gradient(student.logpdf(u, DEGREES_OF_FREEDOM), u)
    information = float(np.trapezoid(score**2 * student.pdf(u, DEGREES_OF_FREEDOM), u))
    found = fitted(noisy(0.3), 0.3, near_zero)
    design = np.stack((np.ones_like(AT), AT), axis=-1)
    np.testing.assert_allclose(found.data_precision[0], information * design.T @ design / 0.09, rtol=1e-6, atol=1e-9)
    np.testing.assert_allclose(found.prior_precision[0], [[4.0, 0.0], [0.0, 0.0]])


def test_what_is_not_there_does_not_count():
    """An observation of infinite scale changes neither the fit nor its precision.

    Oracle: by construction. Tolerance: the fit's stopping rule.
    """
    observed = noisy(0.3)
    sd = np.full_like(observed, 0.3)
    sd[0, 30:] = np.inf
    wild = observed.copy()
    wild[0, 30:] = -500.0
    start = np.zeros((1, 2))
    first, second = (fit(start, straight, o, sd, nothing_known, bounds=WIDE) for o in (observed, wild))
    np.testing.assert_array_equal(first.parameters, second.parameters)
    np.testing.assert_array_equal(first.data_precision, second.data_precision)
    assert (second.residual[0, 30:] == 0.0).all()


def test_many_at_once_are_each_like_one():
    """Curves fitted together come out as when each is fitted alone.

    Oracle: a slower twin, one fit at a time. Tolerance: each has gained less than 1e-6 in
    its last step.
    """
    rng = np.random.default_rng(RNG_SEED)
    true = np.column_stack((rng.uniform(0.5, 3.0, 6), rng.uniform(-2.0, 2.0, 6)))
    observed = rising(true)[0] + 0.1 * rng.normal(size=(6, AT.size))
    start, sd = np.tile([1.0, 0.1], (6, 1)), np.full_like(observed, 0.1)
    together = fit(start, rising, observed, sd, nothing_known, bounds=WIDE)
    for k in range(6):
        row = slice(k, k + 1)
        alone = fit(start[row], rising, observed[row], sd[row], nothing_known, bounds=WIDE)
        np.testing.assert_allclose(together.parameters[k], alone.parameters[0], atol=1e-4)
        assert together.cost[k] == pytest.approx(alone.cost[0], abs=2e-6)
    error = (together.parameters - true) / np.sqrt(
        np.diagonal(np.linalg.inv(together.data_precision), axis1=1, axis2=2)
    )
    assert np.abs(error).max() < 4.0


def test_a_lost_start_stays_within_bounds():
    """A start from which the curve overflows is brought back within the bounds and never leaves them.

    Oracle: by construction.
    """
    bounds = (np.array([0.1, -3.0]), np.array([5.0, 3.0]))
    observed = rising(np.array([[2.0, 8.0]]))[0]
    found = fit(np.array([[1e9, 1e9]]), rising, observed, np.ones_like(observed), nothing_known, bounds=bounds)
    assert (found.parameters >= bounds[0]).all()
    assert (found.parameters <= bounds[1]).all()
    assert np.isfinite(found.cost).all()
