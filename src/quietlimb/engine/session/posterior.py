"""What a series says of the level at its end, by exact quadrature: no sampling, same numbers every time.

For each course k, scatter s and level on a grid, the likelihood is the product over the readings of the two-part
density of `noise`; it is raised to the power by which serial correlation discounts n readings. The level has a flat
prior. A first pass on a coarse grid, in single precision, finds where the level can be and which courses matter; a
second one resolves that region.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline

from quietlimb.engine.session.noise import Noise

Values = NDArray[np.float64]
Cells = NDArray[np.floating]

# How far outside the readings a level is still considered: one reading may be far off, several hardly all to one side.
BEYOND_MMHG, BEYOND_AT_LEAST_MMHG = 240.0, 30.0
COARSE_STEP_MMHG = 5.0
FINE_POINTS = 61
NEGLIGIBLE_DENSITY, NEGLIGIBLE_CELLS = 1e-5, 1e-4  # shares of the largest
_RESCALE_EVERY = 8


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LevelPosterior:
    """The level at the end of the series, and what was learned with it.

    level   : (m,) mmHg, rising
    density : (m,) 1/mmHg
    course  : (k,) probability of each course
    spoiled : (n,) probability that the reading was spoiled
    worth   : (n,) 0..1, its expected weight against the most precise reading that fits perfectly
    """

    level: Values
    density: Values
    course: Values
    spoiled: Values
    worth: Values

    def quantiles(self, shares: tuple[float, ...]) -> tuple[float, ...]:
        """Levels [mmHg] below which these shares of the probability lie."""
        fine = np.linspace(self.level[0], self.level[-1], 40 * self.level.size)
        below = np.maximum.accumulate(CubicSpline(self.level, self.density).antiderivative()(fine))
        return tuple(float(np.interp(share * below[-1], below, fine)) for share in shares)

    @property
    def sd(self) -> float:
        """Standard deviation of the level [mmHg]."""
        weight = self.density / self.density.sum()
        mean = weight @ self.level
        return float(np.sqrt(weight @ (self.level - mean) ** 2))


def level_posterior(
    value: Values,
    *,
    shift: Values,
    course_probability: Values,
    noise: Noise,
    own_sd: Values,
    spoiled_share: Values,
    widening: Values,
) -> LevelPosterior:
    """The posterior of the level at the end.

    value              : (n,) readings [mmHg], n >= 1
    shift              : (k, n) courses relative to the level at the end [mmHg]
    course_probability : (k,) before these readings
    own_sd             : (n,) standard deviation of each reading by itself [mmHg]; 0 where not known
    spoiled_share      : (n,) probability that a reading was spoiled, before the series is looked at
    widening           : (n,) factor on each reading's scatter
    """
    scatter, scatter_weight = noise.sd_quadrature()
    sd = np.sqrt(own_sd[:, None] ** 2 + scatter**2) * widening[:, None]
    courses = np.flatnonzero(course_probability > NEGLIGIBLE_CELLS * course_probability.max())
    before = np.outer(course_probability[courses], scatter_weight)

    coarse = _coarse_levels(value, sd).astype(np.float32)
    chance = _Cells(value, shift[courses], coarse, sd, spoiled_share, noise).likelihood() * before[:, :, None]
    by_level, by_course, by_scatter = chance.sum((0, 1)), chance.sum((1, 2)), chance.sum((0, 2))
    inside = np.flatnonzero(by_level > NEGLIGIBLE_DENSITY * by_level.max())
    low, high = coarse[max(inside[0] - 1, 0)], coarse[min(inside[-1] + 1, coarse.size - 1)]
    fine = np.linspace(float(low), float(high), FINE_POINTS)
    kept = by_course > NEGLIGIBLE_CELLS * by_course.max()
    scatters = by_scatter > NEGLIGIBLE_CELLS * by_scatter.max()

    cells = _Cells(value, shift[courses[kept]], fine, sd[:, scatters], spoiled_share, noise)
    chance = cells.likelihood() * before[np.ix_(kept, scatters)][:, :, None]
    chance /= chance.sum()
    by_level = chance.sum((0, 1))
    course = np.zeros(course_probability.size)
    course[courses[kept]] = chance.sum((1, 2))
    spoiled, worth = cells.judge(chance)
    return LevelPosterior(
        level=fine, density=by_level / (fine[1] - fine[0]), course=course, spoiled=spoiled, worth=worth
    )


def _coarse_levels(value: Values, sd: Values) -> Values:
    """Every level that these readings could come from, as coarse as their scatter allows."""
    beyond = max(BEYOND_MMHG / value.size, BEYOND_AT_LEAST_MMHG)
    # readings that are known to be precise leave a level too narrow for the usual step
    step = min(COARSE_STEP_MMHG, 2.0 * float(sd.max(axis=1).min()) / np.sqrt(value.size))
    levels: Values = np.arange(value.min() - beyond, value.max() + beyond + step, step)
    return levels


class _Cells:
    """The readings' densities in every cell of (course, scatter, level), in the precision of `level`."""

    def __init__(
        self, value: Values, shift: Values, level: Cells, sd: Values, spoiled_share: Values, noise: Noise
    ) -> None:
        kind = level.dtype
        middle = float(level[level.size // 2])  # so that single precision is spent on differences
        self._value, self._level = (value - middle).astype(kind), (level - middle).astype(kind)
        self._shift = shift.astype(kind)
        self._noise = noise
        unit = np.median(sd, axis=1, keepdims=True)  # densities per typical sd stay near 1
        self._precision = (1.0 / sd**2).astype(kind)[:, :, None]
        self._ordinary = ((1.0 - spoiled_share)[:, None] * noise.peak * unit / sd).astype(kind)[:, :, None]
        self._spoiled = (spoiled_share * unit[:, 0]).astype(kind)
        self._shape = (shift.shape[0], sd.shape[1], level.size)

    def _reading(self, i: int) -> tuple[Cells, Cells, Cells]:
        """Densities of reading i as ordinary and as spoiled, and its weight if ordinary."""
        squared = np.square((self._value[i] - self._shift[:, i])[:, None, None] - self._level)
        ordinary, weight = self._noise.ordinary(squared * self._precision[i])
        ordinary *= self._ordinary[i]
        return ordinary, self._spoiled[i] * self._noise.moved(squared), weight

    def likelihood(self) -> Cells:
        """(k, s, m) up to a factor."""
        n = self._value.size
        product = np.ones(self._shape, dtype=self._level.dtype)
        for i in range(n):
            ordinary, spoiled, _ = self._reading(i)
            ordinary += spoiled
            product *= ordinary
            if i % _RESCALE_EVERY == _RESCALE_EVERY - 1:
                product /= product.max()
        share = self._noise.effective_share(n)
        return product if share == 1.0 else product**share

    def judge(self, chance: Cells) -> tuple[Values, Values]:
        """(n,) probability of being spoiled, and (n,) worth, under the probability of the cells."""
        n = self._value.size
        spoiled_probability, worth = np.empty(n), np.empty(n)
        relative = self._precision / self._precision.max(axis=0)
        for i in range(n):
            good, spoiled, weight = self._reading(i)
            good /= good + spoiled
            good *= chance
            spoiled_probability[i] = 1.0 - good.sum()
            good *= weight
            worth[i] = (good.sum(axis=(0, 2)) * relative[i, :, 0]).sum()
        return np.clip(spoiled_probability, 0.0, 1.0), np.clip(worth, 0.0, 1.0)
