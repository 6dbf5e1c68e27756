"""A straight line through pairs of several animals, each with a level of its own: a mixed model by REML.

y = X b + u(animal) + e, with u and e normal. The share of the variance between animals is found by maximising the
restricted likelihood over one number, so the result is the same to the last digit each time; degrees of freedom by
Satterthwaite's way. [Patterson1971], [Satterthwaite1946]
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize_scalar

Array = NDArray[np.float64]
Index = NDArray[np.int64]

# Variance between animals over that within, searched on its logarithm; below the least it is taken for none.
LEAST_RATIO, MOST_RATIO = 1e-6, 1e6


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MixedFit:
    """Fit of the model.

    coefficients     : (p,)
    covariance       : (p, p) of the coefficients
    between_variance : of the animals' levels; 0 where every animal has one value, and then part of the residual
    residual_variance: within animals
    parts_covariance : (2, 2) of the two variances
    gradients        : (2, p, p) by how much `covariance` grows with either variance
    df_most          : n - p
    """

    coefficients: Array
    covariance: Array
    between_variance: float
    residual_variance: float
    parts_covariance: Array
    gradients: Array
    df_most: int

    @property
    def ratio(self) -> float:
        """Variance between animals over that within; 0 where nothing is left within."""
        return self.between_variance / self.residual_variance if self.residual_variance > 0.0 else 0.0

    def variance_and_df(self, row: Array, *, new_animal: bool) -> tuple[float, float]:
        """Variance of row @ coefficients and its degrees of freedom; with both variances added for a new animal."""
        variance = float(row @ self.covariance @ row)
        slope = np.array([float(row @ gradient @ row) for gradient in self.gradients])
        if new_animal:
            variance += self.between_variance + self.residual_variance
            slope += np.array([1.0 if self.between_variance > 0.0 else 0.0, 1.0])
        scale = float(slope @ self.parts_covariance @ slope)
        df = 2.0 * variance**2 / scale if scale > 0.0 else float(self.df_most)
        return variance, min(max(df, 1.0), float(self.df_most))


class Groups:
    """Sums over animals of a model whose variance is 1 within and `ratio` between them."""

    def __init__(self, y: Array, x: Array, index: Index) -> None:
        self.y, self.x, self.index = y, x, index
        self.sizes = np.bincount(index).astype(np.float64)

    def sums(self, rows: Array) -> Array:
        """(k, p) sums of (n, p) rows by animal."""
        return np.column_stack([np.bincount(self.index, column) for column in rows.T])

    def whiten(self, rows: Array, ratio: float) -> Array:
        """The rows times the inverse of the variance matrix."""
        taken = self.held(ratio)[:, None] * self.sums(rows)
        return np.asarray(rows - taken[self.index])

    def held(self, ratio: float) -> Array:
        """(k,) what of an animal's sum is taken from each of its values."""
        return np.asarray(ratio / (1.0 + ratio * self.sizes))

    def solve(self, ratio: float) -> tuple[Array, Array, float]:
        """Coefficients, inverse of X'V^-1X, weighted sum of squared residuals."""
        weighted = self.whiten(self.x, ratio)
        inverse = np.asarray(np.linalg.inv(self.x.T @ weighted), dtype=np.float64)
        coefficients = inverse @ (weighted.T @ self.y)
        residual = self.y - self.x @ coefficients
        return coefficients, inverse, float(residual @ self.whiten(residual[:, None], ratio)[:, 0])

    def deviance(self, ratio: float) -> float:
        """Minus twice the restricted log likelihood, but for a constant, the residual variance being at its best."""
        _, inverse, squares = self.solve(ratio)
        free = self.y.size - self.x.shape[1]
        return float(
            free * np.log(max(squares, np.finfo(float).tiny))
            + np.log1p(ratio * self.sizes).sum()
            - np.linalg.slogdet(inverse)[1]
        )


def fit_mixed(y: Array, x: Array, index: Index) -> MixedFit:
    """Fit (n,) y on (n, p) x, of full rank, with a level for each animal of (n,) index; n > p."""
    groups = Groups(y, x, index)
    n, p = x.shape
    split = n > groups.sizes.size > 1
    ratio = _best_ratio(groups) if split else 0.0
    coefficients, inverse, squares = groups.solve(ratio)
    residual = squares / (n - p)
    covariance = residual * inverse
    gradients, information = _derivatives(groups, ratio, residual, covariance)
    parts: Array = np.diag([0.0, 2.0 * residual**2 / (n - p)])
    if split and residual > 0.0:
        parts = np.asarray(np.linalg.pinv(information), dtype=np.float64)
    return MixedFit(
        coefficients=coefficients,
        covariance=covariance,
        between_variance=ratio * residual,
        residual_variance=residual,
        parts_covariance=parts,
        gradients=gradients,
        df_most=n - p,
    )


def _best_ratio(groups: Groups) -> float:
    """Ratio of the variances at the highest restricted likelihood. A grid first: the likelihood may have two tops."""
    grid = np.linspace(np.log(LEAST_RATIO), np.log(MOST_RATIO), 25)
    values = [groups.deviance(float(np.exp(each))) for each in grid]
    best = int(np.argmin(values))
    found = minimize_scalar(
        lambda each: groups.deviance(float(np.exp(each))),
        bounds=(float(grid[max(best - 1, 0)]), float(grid[min(best + 1, grid.size - 1)])),
        method="bounded",
        options={"xatol": 1e-8},
    )
    none = groups.deviance(0.0)
    return 0.0 if none <= found.fun + 1e-9 else float(np.exp(found.x))


def _derivatives(groups: Groups, ratio: float, residual: float, covariance: Array) -> tuple[Array, Array]:
    """How the covariance moves with the two variances, and the expected information on them."""
    if residual == 0.0:
        return np.zeros((2, *covariance.shape)), np.zeros((2, 2))
    weighted = groups.whiten(groups.x, ratio) / residual
    twice = groups.whiten(weighted, ratio) / residual
    by_animal = groups.sums(weighted)
    level = 1.0 / (residual * (1.0 + ratio * groups.sizes))  # inverse variance on a value of each animal's level
    gradients = np.stack([by_animal.T @ by_animal, weighted.T @ weighted])
    gradients = covariance @ gradients @ covariance
    c = covariance
    between = groups.sizes * level
    bb = (between**2).sum() - 2.0 * np.sum(between[:, None] * (by_animal @ c) * by_animal)
    bb += np.trace(np.linalg.matrix_power(c @ (by_animal.T @ by_animal), 2))
    bw = (groups.sizes * level**2).sum() - 2.0 * np.sum((groups.sums(twice) @ c) * by_animal)
    bw += np.sum((by_animal @ c @ (weighted.T @ weighted) @ c) * by_animal)
    ww = ((groups.sizes - 1.0) / residual**2 + level**2).sum() - 2.0 * np.trace(c @ (weighted.T @ twice))
    ww += np.trace(np.linalg.matrix_power(c @ (weighted.T @ weighted), 2))
    return gradients, 0.5 * np.array([[bb, bw], [bw, ww]])
