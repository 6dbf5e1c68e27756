"""The height of the cuff against the heart: what the column of blood between them weighs, and from where it matters.

A cuff below the heart bears that column too and reads high, above it reads low. No value is ever corrected for it:
cats with the cuff 5 cm above the heart showed twice of what the column weighs, and nothing 5 cm below it
(Franchino 2024). From 10 cm on the statement of 2018 counts the height in (`acvim_2018.WIDEST_HEIGHT_GAP`); that a
smaller one is told is our own choice: from where it does more than a display may stand off from a manometer.
"""

from __future__ import annotations

from quietlimb.engine.values import Cited

BLOOD = Cited(0.776, "mmHg/cm", "Quietlimb", "1.055 g/mL over mercury at 13.595 g/mL, 10 mm/cm", "derived")
MATTERS_OVER = Cited(5.0, "mmHg", "practice", "as much as a display may stand off from a manometer", "common practice")
HEIGHT_IGNORED = Cited(
    round(MATTERS_OVER.value / BLOOD.value, 1), "cm", "Quietlimb", f"{MATTERS_OVER.value:g} mmHg of blood", "derived"
)


def column_mmhg(cuff_below_heart_cm: float) -> float:
    """What the column of blood adds to a reading; negative with the cuff above the heart [mmHg]."""
    return BLOOD.value * cuff_below_heart_cm


def height_matters(cuff_below_heart_cm: float) -> bool:
    """Whether the cuff lies so far off the level of the heart that it is told."""
    return abs(cuff_below_heart_cm) > HEIGHT_IGNORED.value
