"""Units of pressure sensors."""

from __future__ import annotations

import pytest

from quietlimb.exchange.pressure_units import MMHG_PER_UNIT, sensor_unit


@pytest.mark.parametrize(
    ("unit", "pascal"),
    [
        ("mmHg", 133.322387415),
        ("kPa", 1000.0),
        ("mbar", 100.0),
        ("cmH2O", 98.0665),
        ("psi", 6894.757293168361),
    ],
)
def test_each_unit_has_its_pascals(unit: str, pascal: float) -> None:
    """The factor to mmHg is that of the unit's definition in pascals.

    Oracle: from memory, the definitions (conventional millimetre of mercury and centimetre of water, bar, pound and
    inch of 1959); 6894.757293168361 Pa is 0.45359237 * 9.80665 / 0.0254**2. Tolerance: rounding of float64.
    """
    assert MMHG_PER_UNIT[unit] == pytest.approx(pascal / 133.322387415, rel=1e-14)


def test_mmhg_stays_what_it_was() -> None:
    """A pressure in mmHg is not changed in its last place.

    Oracle: by construction.
    """
    assert MMHG_PER_UNIT["mmHg"] == 1.0


@pytest.mark.parametrize("name", ["", "mmhg", "MPa", "torr", "mm[Hg]", "hPa "])
def test_any_other_name_is_no_unit(name: str) -> None:
    """A name that is not exactly one of the five is none.

    Oracle: by construction; nothing is guessed where a factor hangs on it.
    """
    assert sensor_unit(name) is None
