"""Units in which a pressure sensor may speak, and their exact factors to mmHg.

| unit  | pascals                                                  | by                                     |
| ----- | -------------------------------------------------------- | -------------------------------------- |
| mmHg  | 133.322387415 = 13 595.1 kg/m3 * 9.80665 m/s2 * 0.001 m  | `engine.units`                         |
| kPa   | 1000                                                     | definition                             |
| mbar  | 100: the bar is 100 000 Pa                               | definition                             |
| cmH2O | 98.0665 = 1000 kg/m3 * 9.80665 m/s2 * 0.01 m             | conventional water, standard gravity   |
| psi   | 0.45359237 kg * 9.80665 m/s2 / (0.0254 m)2 = 6894.757... | pound, inch of 1959, standard gravity  |

Standing: definitions known to everybody who measures; the numbers from memory, the arithmetic here.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final, Literal

from quietlimb.engine.units import KPA_PER_MMHG

SensorUnit = Literal["mmHg", "kPa", "mbar", "cmH2O", "psi"]

STANDARD_GRAVITY: Final = 9.80665  # m/s2
_POUND_KG, _INCH_M = 0.45359237, 0.0254

_KPA: Mapping[SensorUnit, float] = {
    "mmHg": KPA_PER_MMHG,
    "kPa": 1.0,
    "mbar": 0.1,
    "cmH2O": 1000.0 * STANDARD_GRAVITY * 0.01 / 1000.0,
    "psi": _POUND_KG * STANDARD_GRAVITY / _INCH_M**2 / 1000.0,
}
# One multiplication a sample; exactly 1 for mmHg, so that what a sensor said is what is kept.
MMHG_PER_UNIT: Final[Mapping[SensorUnit, float]] = {unit: kpa / KPA_PER_MMHG for unit, kpa in _KPA.items()}


def sensor_unit(name: str) -> SensorUnit | None:
    """The unit of this exact name; None for any other. Letters are not forgiven: mPa is no MPa."""
    return next((unit for unit in MMHG_PER_UNIT if unit == name), None)
