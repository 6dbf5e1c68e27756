"""Pressure units."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest

from quietlimb.engine.units import KPA_PER_MMHG, kpa_from_mmhg, mmhg_from_kpa


def test_the_factor_is_exact():
    """One mmHg is 13595.1 kg/m3 times 9.80665 m/s2 times 1 mm, to the last binary digit of a float.

    Oracle: published. Conventional density of mercury and standard gravity (ISO 80000-4, annex; 3rd CGPM 1901),
    multiplied here as exact fractions. Tolerance: none.
    """
    pascal = Fraction("13595.1") * Fraction("9.80665") / 1000
    assert Fraction("133.322387415") == pascal
    assert float(pascal / 1000) == KPA_PER_MMHG


def test_known_pressures():
    """120 mmHg are 15.9987 kPa and 1 atm, 101.325 kPa, is 760 mmHg.

    Oracle: published. The standard atmosphere is 101 325 Pa and 760 torr (10th CGPM 1954); torr and mmHg differ by
    1.4e-7 of themselves. Tolerance: that difference.
    """
    assert kpa_from_mmhg(120.0) == pytest.approx(15.9987, abs=5e-5)
    assert mmhg_from_kpa(101.325) == pytest.approx(760.0, rel=2e-7)


def test_there_and_back():
    """Arrays come back from kPa as they went.

    Oracle: by construction. Tolerance: two roundings.
    """
    pressure = np.linspace(-20.0, 350.0, 1001)
    np.testing.assert_allclose(mmhg_from_kpa(kpa_from_mmhg(pressure)), pressure, rtol=4.5e-16)
