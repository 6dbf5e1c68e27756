"""A catheter line between an artery and its transducer: a mass on a spring, and a bag that flushes it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.signal import bilinear, lfilter, lfilter_zi

from quietlimb.engine.errors import ParameterError

Samples = NDArray[np.float64]

BAG_MMHG = 300.0
SLOWEST_HZ, FASTEST_HZ = 2.0, 100.0


@dataclass(frozen=True, slots=True, kw_only=True)
class CatheterLine:
    """A line, and how its transducer stands.

    natural_hz     : natural frequency [Hz]
    damping        : as a share of the critical damping
    zero_mmhg      : what the transducer says when open to the air [mmHg]
    below_heart_cm : height of the transducer, positive below the heart [cm]
    """

    natural_hz: float
    damping: float
    zero_mmhg: float = 0.0
    below_heart_cm: float = 0.0

    def __post_init__(self) -> None:
        if not SLOWEST_HZ <= self.natural_hz <= FASTEST_HZ or not 0.0 < self.damping < 3.0:
            raise ParameterError(
                "impossible-line",
                f"a line of {self.natural_hz:g} Hz with damping {self.damping:g}",
                f"give {SLOWEST_HZ:g} to {FASTEST_HZ:g} Hz and a damping above 0 and below 3",
            )

    def tells(self, arterial_mmhg: Samples, rate_hz: float, flushes_s: tuple[tuple[float, float], ...] = ()) -> Samples:
        """What the transducer says of a pressure in the artery, sampled at `rate_hz` from 0 s. (n,) -> (n,) [mmHg]

        flushes_s : begin and end of each fast flush [s], during which the bag's pressure takes the artery's place

        The transform of the analogue filter is bent so that the natural frequency stays in its place.
        """
        time = np.arange(arterial_mmhg.size) / rate_hz
        there = arterial_mmhg.copy()
        for start, end in flushes_s:
            there[(time >= start) & (time < end)] = BAG_MMHG
        # tan() holds the natural frequency where it is; w is in radians a second
        w = 2.0 * rate_hz * np.tan(np.pi * self.natural_hz / rate_hz)
        above, below = bilinear([w**2], [1.0, 2.0 * self.damping * w, w**2], fs=rate_hz)
        told, _ = lfilter(above, below, there, zi=lfilter_zi(above, below) * there[0])
        column_mmhg = 0.74 * self.below_heart_cm  # saline of 1005 kg/m3 fills the line
        return np.asarray(told) + self.zero_mmhg + column_mmhg
