"""What a series says of the level at its end, by exact quadrature: no sampling, same numbers every time.

For each course k, scatter s and level on a grid, the likelihood is the sum over all sets of readings that `spoiling`
allows to be spoiled, each with the densities of `noise`; it is raised to the power by which serial correlation
discounts n readings. The level has a flat prior. A first pass on a coarse grid, in single precision and with readings
spoiled each for itself, finds where the level can be and which courses matter; a second one resolves that region.

The sum over sets runs along the readings and keeps the number spoiled so far and whether the last one was. To which
side a spoiled reading is off need not be kept: in one cell it is known.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from quietlimb.engine.session.noise import Noise
from quietlimb.engine.session.scratch import SCRATCH
from quietlimb.engine.session.spoiled_sets import SpoiledSets, spoiled_probability

Values = NDArray[np.float64]
Cells = NDArray[np.floating]

# How far outside the readings a level is still considered: one reading may be far off, several hardly all to one side.
BEYOND_MMHG, BEYOND_AT_LEAST_MMHG = 240.0, 30.0
COARSE_STEP_MMHG = 5.0
FINE_POINTS = 61
MIDDLE_SHARE = 0.9
MIDDLE_SHARES = tuple((0.5 * (1.0 - MIDDLE_SHARE) + MIDDLE_SHARE * (np.arange(40) + 0.5) / 40).tolist())
NEGLIGIBLE_DENSITY, NEGLIGIBLE_CELLS = 1e-5, 1e-4  # shares of the largest
_RESCALE_EVERY = 8
LONGEST_BY_SETS = 16  # longer series have no need of it, and the sets would be many
# Spoiled readings are judged in the cells that hold more than this share of the likeliest, and in every third of those.
JUDGED_CELLS, JUDGED_EVERY = 1e-3, 3


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LevelPosterior:
    """The level at the end of the series, and what was learned with it.

    level   : (m,) mmHg, rising
    density : (m,) 1/mmHg
    course  : (k,) probability of each course
    scatter : (s,) mmHg, rising, and scatter_probability, of each
    spoiled : (n,) probability that the reading was spoiled
    worth   : (n,) 0..1, its expected weight against the most precise reading that fits perfectly
    """

    level: Values
    density: Values
    course: Values
    scatter: Values
    scatter_probability: Values
    spoiled: Values
    worth: Values

    def quantiles(self, shares: tuple[float, ...]) -> tuple[float, ...]:
        """Levels [mmHg] below which these shares of the probability lie; the density is linear between its points."""
        fine = np.linspace(self.level[0], self.level[-1], 20 * (self.level.size - 1) + 1)
        density = np.interp(fine, self.level, self.density)
        below = np.concatenate([[0.0], np.cumsum(density[1:] + density[:-1])])
        return tuple(np.interp(np.asarray(shares) * below[-1], below, fine).tolist())

    @property
    def summary(self) -> tuple[float, float, float]:
        """Ends of the 95 % interval, and the mean of the middle 90 % [mmHg]: robust as the median, but it hears a
        lopsided course."""
        low, high, *middle = self.quantiles((0.025, 0.975, *MIDDLE_SHARES))
        return low, high, float(np.mean(middle))

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
    suspicion: Values,
    widening: Values,
    judge: bool = True,
) -> LevelPosterior:
    """The posterior of the level at the end.

    value              : (n,) readings [mmHg], n >= 1
    shift              : (k, n) courses relative to the level at the end [mmHg]
    course_probability : (k,) before these readings
    own_sd             : (n,) standard deviation of each reading by itself [mmHg]; 0 where not known
    suspicion          : (n,) factor on the odds that a reading was spoiled, 1 for one like any other
    widening           : (n,) factor on each reading's scatter
    judge              : whether to judge each reading; where not, `spoiled` and `worth` are nan, and the second pass
                         is in single precision too: enough for how wide an interval may become
    """
    scatter, scatter_weight = noise.sd_quadrature()
    sd = np.sqrt(own_sd[:, None] ** 2 + scatter**2) * widening[:, None]
    courses = np.flatnonzero(course_probability > NEGLIGIBLE_CELLS * course_probability.max())
    before = np.outer(scatter_weight, course_probability[courses])

    coarse = _coarse_levels(value, sd).astype(np.float32)
    chance: Cells = _Cells(value, shift[courses], coarse, sd, suspicion, noise).likelihood_each() * before[:, :, None]
    by_level, by_course, by_scatter = chance.sum((0, 1)), chance.sum((0, 2)), chance.sum((1, 2))
    inside = np.flatnonzero(by_level > NEGLIGIBLE_DENSITY * by_level.max())
    low, high = coarse[max(inside[0] - 1, 0)], coarse[min(inside[-1] + 1, coarse.size - 1)]
    fine = np.linspace(float(low), float(high), FINE_POINTS)
    kept = by_course > NEGLIGIBLE_CELLS * by_course.max()
    scatters = by_scatter > NEGLIGIBLE_CELLS * by_scatter.max()

    kind = fine.dtype if judge else coarse.dtype
    cells = _Cells(value, shift[courses[kept]], fine.astype(kind), sd[:, scatters], suspicion, noise)
    chance = cells.likelihood().astype(np.float64, copy=False)
    chance *= before[np.ix_(scatters, kept)][:, :, None]
    chance /= chance.sum()
    by_level = chance.sum((0, 1))
    course = np.zeros(course_probability.size)
    course[courses[kept]] = chance.sum((0, 2))
    spoiled, worth = cells.judge(chance) if judge else (np.full(value.size, np.nan), np.full(value.size, np.nan))
    return LevelPosterior(
        level=fine,
        density=by_level / (fine[1] - fine[0]),
        course=course,
        scatter=scatter[scatters],
        scatter_probability=chance.sum((1, 2)),
        spoiled=spoiled,
        worth=worth,
    )


def _coarse_levels(value: Values, sd: Values) -> Values:
    """Every level that these readings could come from, as coarse as their scatter allows."""
    beyond = max(BEYOND_MMHG / value.size, BEYOND_AT_LEAST_MMHG)
    # readings that are known to be precise leave a level too narrow for the usual step
    step = min(COARSE_STEP_MMHG, 2.0 * float(sd.max(axis=1).min()) / np.sqrt(value.size))
    levels: Values = np.arange(value.min() - beyond, value.max() + beyond + step, step)
    return levels


class _Cells:
    """The readings' densities in every cell of (scatter, course, level), in the precision of `level`.

    What does not depend on the scatter has one plane of (course, level), which every scatter goes through in one run.
    """

    def __init__(self, value: Values, shift: Values, level: Cells, sd: Values, suspicion: Values, noise: Noise) -> None:
        kind = level.dtype
        middle = float(level[level.size // 2])  # so that single precision is spent on differences
        self._value, self._level = (value - middle).astype(kind), (level - middle).astype(kind)
        self._shift = shift.astype(kind)
        self._noise = noise
        unit = np.median(sd, axis=1, keepdims=True)  # densities per typical sd stay near 1
        self._precision = (1.0 / sd**2).astype(kind)[:, :, None, None]
        self._ordinary = (noise.peak * unit / sd).astype(kind)[:, :, None, None]
        self._spoiled = (suspicion * unit[:, 0]).astype(kind)
        self._weights = noise.spoiling.weights(value.size)
        self._shape = (sd.shape[1], shift.shape[0], level.size)

    def _error(self, i: int) -> Cells:
        """(k, m) error of reading i."""
        error: Cells = (self._value[i] - self._shift[:, i])[:, None] - self._level
        return error

    def likelihood_each(self) -> Cells:
        """(s, k, m) up to a factor, were readings spoiled each for itself with the same share on the whole."""
        share = self._noise.spoiling.share
        product = np.ones(self._shape, dtype=self._level.dtype)
        for i in range(self._value.size):
            squared = np.square(self._error(i))
            density, _ = self._noise.ordinary(squared * self._precision[i])
            density *= (1.0 - share) * self._ordinary[i]
            density += share * self._spoiled[i] * self._noise.moved(squared)
            product *= density
            if i % _RESCALE_EVERY == _RESCALE_EVERY - 1:
                product /= product.max()
        return self._discounted(product)

    def likelihood(self) -> Cells:
        """(s, k, m) up to a factor."""
        if self._value.size > LONGEST_BY_SETS:
            return self.likelihood_each()
        kind = self._level.dtype
        sets = SpoiledSets(self._weights, self._noise.spoiling, self._shape, kind)
        relative, density = (SCRATCH.array(name, self._shape, kind) for name in ("relative", "density"))
        for i in range(self._value.size):
            error = self._error(i)
            squared = np.square(error)
            np.multiply(squared, self._precision[i], out=relative)
            ordinary, _ = self._noise.ordinary(relative, out=density)
            ordinary *= self._ordinary[i]
            sets.add(ordinary, self._spoiled[i] * self._noise.moved(squared), error > 0.0)
        return self._discounted(sets.total())

    def _discounted(self, product: Cells) -> Cells:
        share = self._noise.effective_share(self._value.size)
        discounted: Cells = product if share == 1.0 else product**share
        return discounted

    def judge(self, chance: Cells) -> tuple[Values, Values]:
        """(n,) probability of being spoiled, and (n,) worth, under the probability of the cells that matter."""
        n = self._value.size
        k, s, m = np.nonzero(chance.swapaxes(0, 1) > JUDGED_CELLS * chance.max())
        # every cell speaks for its neighbours on the level's axis as well
        k, s, m = k[::JUDGED_EVERY], s[::JUDGED_EVERY], m[::JUDGED_EVERY]
        weight = chance[s, k, m] / chance[s, k, m].sum()
        error = self._value[:, None] - self._shift[k].T - self._level[m]
        squared = np.square(error)
        ordinary, worth_if_good = self._noise.ordinary(squared * self._precision[:, s, 0, 0])
        ordinary *= self._ordinary[:, s, 0, 0]
        moved = self._spoiled[:, None] * self._noise.moved(squared)
        if n > LONGEST_BY_SETS:
            share = self._noise.spoiling.share
            spoiled = share * moved / ((1.0 - share) * ordinary + share * moved)
        else:
            spoiled = spoiled_probability(ordinary, moved, error > 0.0, self._weights, self._noise.spoiling)
        relative = (self._precision / self._precision.max(axis=0))[:, s, 0, 0]
        worth = ((1.0 - spoiled) * worth_if_good * relative) @ weight
        return np.clip(spoiled @ weight, 0.0, 1.0), np.clip(worth, 0.0, 1.0)
