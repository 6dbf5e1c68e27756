"""An artery whose residue is a parameter."""

from __future__ import annotations

import numpy as np
import pytest

from quietlimb.engine.arteries.artery import FAMILIES
from quietlimb.engine.arteries.free_residue import volumes

TRANSMURAL = np.array([-80.0, -25.0, -6.0, -0.5, 0.5, 4.0, 18.0, 60.0, 150.0])
SMALL = 1e-4


def artery(transmural: np.ndarray = TRANSMURAL, collapsed: float = 13.0, distended: float = 19.0, residue: float = 0.2):
    """The artery at these pressures."""
    return volumes(transmural, collapsed=collapsed, distended=distended, residue=residue)


def test_without_residue_it_is_exponential_linear():
    """With c = 0 volume and compliance are those of the family without residue.

    Oracle: by construction. Tolerance: rounding.
    """
    family, widths = FAMILIES["exponential-linear"], (np.array(13.0), np.array(19.0))
    found = artery(residue=0.0)
    np.testing.assert_allclose(found.volume, family.volume(TRANSMURAL, *widths), rtol=1e-12)
    np.testing.assert_allclose(found.compliance, family.compliance(TRANSMURAL, *widths), rtol=1e-12)


@pytest.mark.parametrize("residue", [0.0, 0.2, 0.6])
def test_derivatives(residue: float):
    """Compliance and the three derivatives are the slopes of the volume.

    Oracle: central differences of the volume over 2e-4, whose error is of the order of 1e-8. Tolerance: 1e-6.
    """
    found = artery(residue=residue)

    def slope(of: str) -> np.ndarray:
        def at(step: float) -> np.ndarray:
            pressure = TRANSMURAL + (step if of == "transmural" else 0.0)
            collapsed = 13.0 * np.exp(step if of == "collapsed" else 0.0)
            distended = 19.0 * np.exp(step if of == "distended" else 0.0)
            share = residue + (step if of == "residue" else 0.0)
            return artery(pressure, collapsed, distended, share).volume

        return (at(SMALL) - at(-SMALL)) / (2.0 * SMALL)

    np.testing.assert_allclose(found.compliance, slope("transmural"), atol=1e-6)
    np.testing.assert_allclose(found.by_collapsed, slope("collapsed"), atol=1e-6)
    np.testing.assert_allclose(found.by_distended, slope("distended"), atol=1e-6)
    np.testing.assert_allclose(found.by_residue, slope("residue"), atol=1e-6)


def test_a_residue_keeps_a_distended_artery_yielding():
    """The more residue, the more compliance is left far above zero; the collapsed side does not know of it.

    Oracle: by construction. At 60 mmHg the exponential part has fallen to 3 % of the peak.
    """
    shares = [artery(residue=residue).compliance for residue in (0.0, 0.2, 0.5)]
    assert shares[0][7] < 0.04 < shares[1][7] < shares[2][7]
    np.testing.assert_array_equal(shares[0][:4], shares[2][:4])
