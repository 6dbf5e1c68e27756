"""The pulses riding on a deflation, each kept or set aside and why."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

SET_ASIDE_REASONS = ("", "valve", "limb-moved", "odd-shape", "odd-interval", "odd-height")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pulses:
    """n pulses in the order of time.

    time_s             : (n,) foot of the pulse [s]
    period_s           : (n,) to the foot of the next pulse [s]
    cuff_pressure_mmhg : (n,) cuff pressure under the pulse, deflation taken out [mmHg]
    height_mmhg        : (n,) trough to peak [mmHg]
    height_sd_mmhg     : (n,) standard error of that height from the noise around the pulse [mmHg]
    set_aside          : (n,) "" when kept, otherwise one of SET_ASIDE_REASONS
    """

    time_s: NDArray[np.float64]
    period_s: NDArray[np.float64]
    cuff_pressure_mmhg: NDArray[np.float64]
    height_mmhg: NDArray[np.float64]
    height_sd_mmhg: NDArray[np.float64]
    set_aside: tuple[str, ...]

    def __len__(self) -> int:
        return int(self.time_s.size)

    @property
    def kept(self) -> NDArray[np.bool_]:
        """(n,) True where the pulse is used."""
        return np.array([reason == "" for reason in self.set_aside], dtype=np.bool_)
