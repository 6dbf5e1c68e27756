"""The mean and the diastolic pressure, given the systolic one of the same displays.

    value_i = level + slope (systolic_i - systolic level) + error_i

Course and errors that move the systolic value move the others too, by the slope; what is left over scatters less. So
the level at the end needs no course of its own, and its error is that of the systolic level times the slope, beside
its own: the three pressures are joint. A display whose left-over is odd has another shape than the rest.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from quietlimb.engine.session.noise import Noise
from quietlimb.engine.session.posterior import LevelPosterior, level_posterior
from quietlimb.engine.session.spoiling import Spoiling

Values = NDArray[np.float64]

# How much of a systolic rise the others show. Clinic against home, 17 animals, 2022: 27.7 systolic, 12.9 diastolic; the
# mean lies between them by the usual share of the pulse pressure. [derived]
DIASTOLIC_SLOPE = 12.9 / 27.7
MEAN_SLOPE = DIASTOLIC_SLOPE + 0.4 * (1.0 - DIASTOLIC_SLOPE)
SLOPE_SD = 0.15  # [invented]
_SLOPE_NODES = np.polynomial.hermite_e.hermegauss(5)
# [invented: about half of the systolic scatter]
LEFT_OVER = Noise(sd_median=4.0, sd_spread=0.6, sd_nodes=5, spoiled_reach_mmhg=30.0, spoiling=Spoiling(share=0.15))
# How much the odds that a systolic value was spoiled rise where its display surely has another shape than the rest. One
# of the usual shape proves nothing: a movement may shift all three alike. [invented]
ODDS_OF_ODD_SHAPE = 10.0
_PRIOR_WORTH = 4.0  # so many displays' worth of belief in the usual scatter [invented]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Companion:
    """The pressure that goes with one systolic level, `reference_mmhg`; how it moves with that level."""

    posterior: LevelPosterior
    reference_mmhg: float
    slope: float
    slope_sd: float


def companion_of(
    value: Values,
    systolic: Values,
    *,
    reference_mmhg: float,
    slope: float,
    own_sd: Values,
    suspicion: Values,
    widening: Values,
) -> Companion:
    """What n displays say of a companion at a systolic level of `reference_mmhg`.

    value, systolic     : (n,) of the same displays [mmHg]
    slope               : expected before they are seen
    own_sd, ..., widening : as for `level_posterior`
    """
    node, weight = _SLOPE_NODES
    slopes = slope + SLOPE_SD * node
    posterior = level_posterior(
        value,
        shift=slopes[:, None] * (systolic - reference_mmhg),
        course_probability=weight / weight.sum(),
        noise=LEFT_OVER,
        own_sd=own_sd,
        suspicion=suspicion,
        widening=widening,
    )
    found = float(posterior.course @ slopes)
    return Companion(
        posterior=posterior,
        reference_mmhg=reference_mmhg,
        slope=found,
        slope_sd=float(np.sqrt(posterior.course @ (slopes - found) ** 2)),
    )


def suspicion_by_shape(value: Values, systolic: Values, slope: float) -> Values:
    """(n,) factor of 1 and more on the odds that a systolic value was spoiled, by the shape of n displays.

    What is left of the companion beside the systolic value is compared with its median, at a scatter between the usual
    one and that of this series.
    """
    left = value - slope * systolic
    left = left - np.median(left)
    here = 1.4826 * float(np.median(np.abs(left)))
    usual = LEFT_OVER.sd_median
    sd = np.sqrt((_PRIOR_WORTH * usual**2 + left.size * here**2) / (_PRIOR_WORTH + left.size))
    share = LEFT_OVER.spoiling.share
    density, _ = LEFT_OVER.ordinary((left / sd) ** 2)
    good = (1.0 - share) * LEFT_OVER.peak / sd * density
    odd = share * LEFT_OVER.moved(left**2)
    factor: Values = 1.0 + (ODDS_OF_ODD_SHAPE - 1.0) * odd / (good + odd)
    return factor
