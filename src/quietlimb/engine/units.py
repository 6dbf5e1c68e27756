"""Pressure units.

One millimetre of mercury is the pressure of 1 mm of a liquid of 13 595.1 kg/m3 under standard gravity 9.80665 m/s2:
13 595.1 * 9.80665 * 0.001 = 133.322387415 Pa exactly. (UCUM rounds it to 133.3220 Pa; the relative difference of
2.9e-6 is 0.0009 mmHg at 300 mmHg.)
"""

from __future__ import annotations

from typing import TypeVar

import numpy as np

Number = TypeVar("Number", float, np.ndarray)

KPA_PER_MMHG = 0.133322387415
MMHG_PER_KPA = 1.0 / KPA_PER_MMHG

DAYS_PER_YEAR = 365.25


def mmhg_from_kpa(pressure_kpa: Number) -> Number:
    """Pressure in mmHg of a pressure in kPa."""
    return pressure_kpa / KPA_PER_MMHG


def kpa_from_mmhg(pressure_mmhg: Number) -> Number:
    """Pressure in kPa of a pressure in mmHg."""
    return pressure_mmhg * KPA_PER_MMHG
