"""What the study of artery families left out makes of arteries and errors."""

from __future__ import annotations

import numpy as np
import pytest
from families_left_out import OfEngine, dearer, outcomes

from quietlimb.engine.arteries.artery import FAMILIES


@pytest.mark.parametrize("name", FAMILIES)
def test_an_artery_of_the_engine_under_the_simulators_cuff(name: str) -> None:
    """Its compliance is 1 at transmural pressure 0 and half of that one half width to either side.

    Oracle: by construction. Tolerance: that of a central difference over 0.02 mmHg, and of the grid's edge at 0.
    """
    artery = OfEngine(name=name, collapsed=11.0, distended=18.0)
    at = np.array([-11.0, 0.0, 18.0])
    slope = (artery.volume(at + 0.01) - artery.volume(at - 0.01)) / 0.02
    assert slope == pytest.approx([0.5, 1.0, 0.5], abs=1e-3)


def test_errors_twice_as_large_are_dearer_by_as_much() -> None:
    """Errors of SD 2 that become errors of SD 4 are dearer by 2, and by nothing when they stay.

    Oracle: by construction. Tolerance: four times the Monte Carlo error told, which for 10 000 normal errors that are
    doubled is 2 / sqrt(2 x 10 000).
    """
    error = 2.0 * np.random.default_rng(1).normal(size=10_000)
    grows, spread = dearer(error, 2.0 * error)
    assert spread == pytest.approx(2.0 / np.sqrt(20_000.0), rel=0.05)
    assert grows == pytest.approx(2.0, abs=4.0 * spread)
    assert dearer(error, error) == (0.0, 0.0)


def test_a_family_left_out_moves_the_heights() -> None:
    """Of recordings with an artery of a family, the heights' values are others when that family is left out.

    Oracle: by construction.
    """
    found = outcomes("slow", range(4))
    assert found
    for outcome in found:
        assert outcome.error.shape == outcome.held.shape == (2, 2, 3)
        assert np.abs(outcome.error[0, 0] - outcome.error[0, 1]).max() > 0.01
