"""Which pressures go before all others, and which of several of one day is acted on.

Two sessions of a day, or two series of a session, are not averaged and none stands for the other: until a veterinarian
has taken one back, the one that asks for more is acted on. That a low pressure goes before a high one is our order
[invented]: the animal has to be looked at either way.
"""

from __future__ import annotations

from typing import Literal

from quietlimb.engine.standards import low_pressure
from quietlimb.engine.standards.acvim_2018 import SEVERELY_HYPERTENSIVE_FROM

Urgency = Literal["low", "severe"]


def urgency_of(systolic_mmhg: float, mean_mmhg: float | None = None) -> Urgency | None:
    """Whether a pressure is low, or severely raised; None where it is neither.

    mean_mmhg : looked at for low pressure only
    """
    low_mean = mean_mmhg is not None and mean_mmhg < low_pressure.MEAN_BELOW.value
    if systolic_mmhg < low_pressure.SYSTOLIC_BELOW.value or low_mean:
        return "low"
    return "severe" if systolic_mmhg >= SEVERELY_HYPERTENSIVE_FROM.value else None


def need(systolic_mmhg: float, mean_mmhg: float | None = None) -> tuple[bool, float]:
    """A key that puts the pressure to act on last: high ones in rising order, then low ones in falling order."""
    low = urgency_of(systolic_mmhg, mean_mmhg) == "low"
    return low, -systolic_mmhg if low else systolic_mmhg
