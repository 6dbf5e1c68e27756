"""The mark: how near what was charted comes to the truth, in four plain grades of our own."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

from quietlimb.engine.values import Cited

Grade = Literal["close", "near", "off", "far off", "nothing charted"]

# Up to so much between charted and true systolic pressure; instruments are judged in bands of 10 and 20 mmHg.
CLOSE = Cited(5.0, "mmHg", "Quietlimb", "half of the narrower band of instruments", "invented")
NEAR = Cited(10.0, "mmHg", "ACVIM2007", "criteria for instruments, narrower band", "from memory")
OFF = Cited(20.0, "mmHg", "ACVIM2007", "criteria for instruments, wider band", "from memory")
GRADES: Mapping[Grade, Cited | None] = {
    "close": CLOSE,
    "near": NEAR,
    "off": OFF,
    "far off": None,
    "nothing charted": None,
}


def grade_of(error_mmhg: float | None) -> Grade:
    """The grade of a charted systolic pressure that stands off by so much; None where nothing was charted."""
    if error_mmhg is None:
        return "nothing charted"
    for grade, most in GRADES.items():
        if most is not None and abs(error_mmhg) <= most.value:
            return grade
    return "far off"
