"""Robust least squares with priors, for many starts or recordings at once (Levenberg-Marquardt, Student-t weights)."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Model = Callable[[Array], tuple[Array, Array]]

DEGREES_OF_FREEDOM = 4.0


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


def fit(
    start: Array,
    model: Model,
    observed: Array,
    sd: Array,
    prior: Callable[[Array], tuple[Array, Array]],
    *,
    bounds: tuple[Array, Array],
    steps: int = 40,
) -> Fitted:
    """Maximum of Student-t likelihood times Gaussian priors.

    start    : (b, q) starting parameters
    model    : (b, q) -> prediction (b, n) and its Jacobian (b, n, q)
    observed : (b, n)
    sd       : (b, n) scale of each observation; infinite where there is none
    prior    : (b, q) -> standardised prior residuals (b, r) and their Jacobian (b, r, q)
    bounds   : (q,), (q,) far outside anything believable; they only keep a lost start from overflowing
    """
    nu = DEGREES_OF_FREEDOM
    theta = np.clip(start, *bounds)
    damping = np.full(theta.shape[0], 1e-2)
    going = np.ones(theta.shape[0], dtype=np.bool_)  # each stops by itself: its company must not change its result

    def evaluate(theta: Array) -> tuple[Array, Array, Array, Array, Array]:
        predicted, slope = model(theta)
        u = (observed - predicted) / sd
        pull, pull_slope = prior(theta)
        loss = 0.5 * (nu + 1.0) * np.log1p(u**2 / nu)
        return loss.sum(axis=1) + 0.5 * (pull**2).sum(axis=1), u, slope / sd[..., None], pull, pull_slope

    cost, u, jacobian, pull, pull_slope = evaluate(theta)
    eye = np.eye(theta.shape[1])
    for _ in range(steps):
        weight = (nu + 1.0) / (nu + u**2)
        weighted = jacobian * weight[..., None]
        data = np.einsum("bnq,bnr->bqr", weighted, jacobian)
        prior_precision = np.einsum("bnq,bnr->bqr", pull_slope, pull_slope)
        hessian = data + prior_precision
        gradient = np.einsum("bnq,bn->bq", weighted, u) - np.einsum("bnq,bn->bq", pull_slope, pull)
        diagonal = np.einsum("bqq->bq", hessian)
        damped = hessian + damping[:, None, None] * (diagonal[:, :, None] * eye) + 1e-12 * eye
        move = np.linalg.solve(damped, gradient[..., None])[..., 0]
        trial = np.clip(theta + move, *bounds)
        found = evaluate(trial)
        better = going & np.isfinite(found[0]) & (found[0] < cost)
        gained = np.where(better, cost - found[0], 0.0)
        theta = np.where(better[:, None], trial, theta)
        cost = np.where(better, found[0], cost)
        u = np.where(better[:, None], found[1], u)
        jacobian = np.where(better[:, None, None], found[2], jacobian)
        pull = np.where(better[:, None], found[3], pull)
        pull_slope = np.where(better[:, None, None], found[4], pull_slope)
        damping = np.where(better, np.maximum(damping * 0.2, 1e-6), np.minimum(damping * 6.0, 1e6))
        going &= ~((better & (gained < 1e-6)) | (~better & (damping > 1e3)))
        if not going.any():
            break
    # expected information of a Student-t location: (nu + 1) / (nu + 3) per observation
    information = (nu + 1.0) / (nu + 3.0)
    return Fitted(
        parameters=theta,
        cost=cost,
        data_precision=information * np.einsum("bnq,bnr->bqr", jacobian, jacobian),
        prior_precision=np.einsum("bnq,bnr->bqr", pull_slope, pull_slope),
        residual=u,
    )
