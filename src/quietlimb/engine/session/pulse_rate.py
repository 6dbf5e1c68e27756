"""The pulse rate to chart: the median over the readings, with an interval that few readings cannot make too narrow."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtrit

from quietlimb.engine.values import Estimate

Values = NDArray[np.float64]

# Invented: the scatter of the rate between readings, as a share of it, and how many readings that belief is worth.
SCATTER_SHARE = 0.08
BELIEF_READINGS = 3.0
# Relative efficiency of the median for normal errors is 2/pi for many readings and better for few.
MEDIAN_WIDENING = float(np.sqrt(np.pi / 2.0))
MAD_TO_SD = 1.4826


def charted_pulse_rate(rate_per_min: Values, *, shared_sd: float | None = None) -> Estimate | None:
    """Median of the known rates [/min] with a Student-t interval; None where none is known.

    shared_sd : 0 where the pulses were counted in recordings; None where a display counted them
    """
    known = rate_per_min[np.isfinite(rate_per_min)]
    if not known.size:
        return None
    middle = float(np.median(known))
    scatter = MAD_TO_SD * float(np.median(np.abs(known - middle)))
    freedom = BELIEF_READINGS + known.size - 1
    variance = (BELIEF_READINGS * (SCATTER_SHARE * middle) ** 2 + (known.size - 1) * scatter**2) / freedom
    sd = float(np.sqrt(variance / known.size)) * (MEDIAN_WIDENING if known.size > 2 else 1.0)
    half = float(stdtrit(freedom, 0.975)) * sd
    return Estimate(
        value=middle, low=max(middle - half, 0.0), high=middle + half, own_sd=sd, shared_sd=shared_sd, unit="/min"
    )
