"""Compliance that leaves a residue."""

from __future__ import annotations

import numpy as np
import pytest

from quietlimb.engine.arteries import exponential_linear, residual


def test_the_residue_is_a_seventh_of_the_peak():
    """Far out, where the exponential is gone, what is left is the algebraic tail of a share of 0.15 and a reach of 6.

    Oracle: by construction, the docstring's formula at x = 40 by plain arithmetic. Tolerance: rounding.
    """
    assert float(exponential_linear.compliance(np.array(40.0))) < 1e-15
    assert float(residual.compliance(np.array(40.0))) == pytest.approx(0.15 * (1.0 + (40.0 / 6.0) ** 2) ** -1.5)


def test_a_distended_artery_fills_further():
    """The residue adds volume without end in reach: 0.9 beyond the exponential's 2 (0.85 x 2 + 0.15 x 6 = 2.6).

    Oracle: by construction, the limits of both parts. Tolerance: 1e-6 of what the algebraic part still lacks at 5e3.
    """
    assert float(exponential_linear.filled(np.array(5e3))) == pytest.approx(2.0)
    assert float(residual.filled(np.array(5e3))) == pytest.approx(2.6, rel=1e-6)
