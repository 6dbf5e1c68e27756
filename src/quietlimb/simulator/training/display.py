"""What an instrument that shows only numbers would display of an inflation.

It is no method of reading: the numbers are what this setup would show on average, with the scatter of a display. Where
an instrument would give up, so does this one. All sizes are invented.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from quietlimb.engine.values import Cited
from quietlimb.simulator.training.animal import Inflation

Failure = Literal["inflate-higher", "movement", "no-pulse"]

_OURS = "Quietlimb"
SCATTER = Cited(3.0, "mmHg", _OURS, "SD of a displayed systolic value", "invented")
MEAN_SCATTER = Cited(2.0, "mmHg", _OURS, "SD of a displayed mean value", "invented")
DIASTOLIC_SCATTER = Cited(3.0, "mmHg", _OURS, "SD of a displayed diastolic value", "invented")
COARSE = Cited(0.6, "share", _OURS, "SD added, of the fall from pulse to pulse", "invented")
GIVES_UP = Cited(0.5, "share", _OURS, "readings of a limb that keeps moving without numbers", "invented")
THROWN = (
    Cited(15.0, "mmHg", _OURS, "least that a moving limb throws a number off", "invented"),
    Cited(50.0, "mmHg", _OURS, "most that a moving limb throws a number off", "invented"),
)
FEWEST_PULSES = Cited(5.0, "pulses", _OURS, "without so many there is nothing to show", "invented")
LEAST_ABOVE = Cited(5.0, "mmHg", _OURS, "inflated to less above the systolic pressure, nothing is shown", "invented")
_LONG_MOVED_SHARE = 0.3


@dataclass(frozen=True, slots=True, kw_only=True)
class Displayed:
    """Whole mmHg and beats a minute, or none of them and why.

    failure : None where numbers are shown
    """

    systolic: int | None = None
    mean: int | None = None
    diastolic: int | None = None
    pulse_rate: int | None = None
    failure: Failure | None = None


def numbers_of(inflation: Inflation) -> Displayed:
    """What the display shows at the end of this inflation; the same each time."""
    rng = np.random.default_rng((inflation.seed, inflation.number, 1))
    scatter = rng.normal(size=3)
    gives_up, how_far, side = rng.uniform(size=3)
    truth, shown = inflation.truth, inflation.shown
    begin, end = truth.deflation_s
    lasts = end - begin
    if inflation.choices.inflate_to_mmhg < shown.systolic + LEAST_ABOVE.value:
        return Displayed(failure="inflate-higher")
    rate = truth.pulse_rate or 0.0
    if truth.foot_s.size < FEWEST_PULSES.value or rate <= 0.0:
        return Displayed(failure="no-pulse")
    thrown = 0.0
    if sum(last - first for first, last in truth.moved_s) > _LONG_MOVED_SHARE * lasts:
        if gives_up < GIVES_UP.value:
            return Displayed(failure="movement")
        least, most = (limit.value for limit in THROWN)
        # mostly upwards, as a moving limb adds pulses at pressures where the artery has none
        thrown = (least + how_far * (most - least)) * (1.0 if side < 0.7 else -1.0)
    per_pulse = (inflation.choices.inflate_to_mmhg - shown.diastolic) / lasts * 60.0 / rate
    coarse = COARSE.value * max(0.0, per_pulse - 3.0)
    systolic = shown.systolic + thrown + np.hypot(SCATTER.value, coarse) * scatter[0]
    diastolic = shown.diastolic + 0.6 * thrown + np.hypot(DIASTOLIC_SCATTER.value, coarse) * scatter[2]
    diastolic = min(diastolic, systolic - 10.0)
    mean = shown.mean + 0.7 * thrown + np.hypot(MEAN_SCATTER.value, coarse) * scatter[1]
    mean = np.clip(mean, diastolic + 2.0, systolic - 2.0)
    return Displayed(systolic=round(systolic), mean=round(mean), diastolic=round(diastolic), pulse_rate=round(rate))
