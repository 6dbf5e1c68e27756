"""An estimate with its interval, whatever it estimates."""

from __future__ import annotations

import math
from dataclasses import dataclass

CONFIDENCE = 0.95


@dataclass(frozen=True, slots=True, kw_only=True)
class Interval:
    """An estimate and the interval around it.

    estimate  : in whatever unit the quantity has
    low, high : ends of the interval; nan where the data are too few for one. The estimate need not lie between them
                (a share of 1 and an adjusted interval, say), and an end may be infinite
    confidence: that the interval was made for, 0..1
    """

    estimate: float
    low: float
    high: float
    confidence: float = CONFIDENCE

    @property
    def is_known(self) -> bool:
        """Whether there is an interval at all."""
        return not (math.isnan(self.low) or math.isnan(self.high))

    def holds(self, value: float) -> bool:
        """Whether a value lies in the interval, ends included."""
        return self.low <= value <= self.high
