"""Robust least squares with priors, for many starts or recordings at once (Levenberg-Marquardt, Student-t weights)."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Model = Callable[..., tuple[Array, Array]]

DEGREES_OF_FREEDOM = 4.0
INFORMATION = (DEGREES_OF_FREEDOM + 1.0) / (DEGREES_OF_FREEDOM + 3.0)  # expected, of one observation's location
STILL_GOING = 0.7  # invented: with fewer left, the others are put aside


def loss(u: Array) -> Array:
    """Minus log density of standardised Student-t residuals, up to a constant."""
    return np.asarray(0.5 * (DEGREES_OF_FREEDOM + 1.0) * np.log1p(u**2 / DEGREES_OF_FREEDOM))


def weight(u: Array) -> Array:
    """Weight of standardised residuals: their loss falls as that of normal ones so weighted."""
    return (DEGREES_OF_FREEDOM + 1.0) / (DEGREES_OF_FREEDOM + u**2)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fitted:
    """b fits of q parameters.

    parameters : (b, q)
    cost       : (b,) minus log posterior up to a constant
    data_precision  : (b, q, q) Gauss-Newton information of the data
    prior_precision : (b, q, q)
    residual   : (b, n) standardised residuals
    """

    parameters: Array
    cost: Array
    data_precision: Array
    prior_precision: Array
    residual: Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _State:
    """What b sets of parameters make of the data: each field has b rows."""

    theta: Array
    cost: Array
    u: Array
    jacobian: Array
    pull: Array
    pull_slope: Array

    def rows(self, which: NDArray[np.bool_]) -> _State:
        """These rows."""
        return _State(**{f.name: getattr(self, f.name)[which] for f in fields(self)})

    def with_rows(self, which: NDArray[Any], other: _State) -> _State:
        """With these rows from another state, which holds them only."""

        def changed(name: str) -> Array:
            values: Array = getattr(self, name).copy()
            values[which] = getattr(other, name)
            return values

        return _State(**{f.name: changed(f.name) for f in fields(self)})


def fit(
    start: Array,
    model: Model,
    observed: Array,
    sd: Array,
    prior: Callable[[Array], tuple[Array, Array]],
    *,
    bounds: tuple[Array, Array],
    given: Sequence[Array] = (),
    steps: int = 40,
    settled: float = 1e-6,
) -> Fitted:
    """Maximum of Student-t likelihood times Gaussian priors.

    start    : (b, q) starting parameters
    model    : (c, q) parameters, and c rows of each of `given` -> prediction (c, n) and its Jacobian (c, n, q)
    observed : (b, n)
    sd       : (b, n) scale of each observation; infinite where there is none
    prior    : (c, q) -> standardised prior residuals (c, r) and their Jacobian (c, r, q)
    bounds   : (q,), (q,) far outside anything believable; they only keep a lost start from overflowing
    given    : arrays (b, ...) that the model needs
    settled  : a step that lowers the cost by less is the last
    """
    theta = np.clip(start, *bounds)
    damping = np.full(theta.shape[0], 1e-2)
    going = np.ones(theta.shape[0], dtype=np.bool_)  # each stops by itself: its company must not change its result
    rows, data = np.arange(theta.shape[0]), (observed, sd, *given)
    now = _evaluated(theta, model, data, prior)
    done = now
    eye = np.eye(theta.shape[1])
    for _ in range(steps):
        if np.count_nonzero(going) <= STILL_GOING * going.size:
            # those that have settled cost time and gain nothing
            done = done.with_rows(rows, now)
            rows, damping, data = rows[going], damping[going], tuple(values[going] for values in data)
            now, going = now.rows(going), going[going]
        if not going.any():
            break
        weighted = now.jacobian * weight(now.u)[..., None]
        hessian = np.swapaxes(weighted, 1, 2) @ now.jacobian + np.swapaxes(now.pull_slope, 1, 2) @ now.pull_slope
        gradient = np.einsum("bnq,bn->bq", weighted, now.u) - np.einsum("bnq,bn->bq", now.pull_slope, now.pull)
        diagonal = np.einsum("bqq->bq", hessian)
        damped = hessian + damping[:, None, None] * (diagonal[:, :, None] * eye) + 1e-12 * eye
        move = np.linalg.solve(damped, gradient[..., None])[..., 0]
        trial = _evaluated(np.clip(now.theta + move, *bounds), model, data, prior)
        better = going & np.isfinite(trial.cost) & (trial.cost < now.cost)
        gained = np.where(better, now.cost - trial.cost, 0.0)
        now = trial if better.all() else now.with_rows(better, trial.rows(better))
        damping = np.where(better, np.maximum(damping * 0.2, 1e-6), np.minimum(damping * 6.0, 1e6))
        going &= ~((better & (gained < settled)) | (~better & (damping > 1e3)))
    done = done.with_rows(rows, now)
    return Fitted(
        parameters=done.theta,
        cost=done.cost,
        data_precision=INFORMATION * (np.swapaxes(done.jacobian, 1, 2) @ done.jacobian),
        prior_precision=np.swapaxes(done.pull_slope, 1, 2) @ done.pull_slope,
        residual=done.u,
    )


def _evaluated(
    theta: Array, model: Model, data: tuple[Array, ...], prior: Callable[[Array], tuple[Array, Array]]
) -> _State:
    observed, sd, *given = data
    predicted, slope = model(theta, *given)
    u = (observed - predicted) / sd
    pull, pull_slope = prior(theta)
    cost = loss(u).sum(axis=1) + 0.5 * (pull**2).sum(axis=1)
    return _State(theta=theta, cost=cost, u=u, jacobian=slope / sd[..., None], pull=pull, pull_slope=pull_slope)
