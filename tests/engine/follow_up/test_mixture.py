"""Mixtures of normal laws."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import integrate, stats

from quietlimb.engine.follow_up.mixture import NormalMixture

THREE = NormalMixture(
    weight=np.array([0.5, 0.3, 0.2]), mean=np.array([140.0, 150.0, 190.0]), sd=np.array([5.0, 10.0, 3.0])
)


def density(x: float) -> float:
    """Of the same mixture."""
    return float(THREE.weight @ stats.norm.pdf(x, THREE.mean, THREE.sd))


@pytest.mark.parametrize("at", [120.0, 140.0, 160.0, 188.0])
def test_probabilities_are_those_of_the_density(at: float) -> None:
    """Below and above sum to 1 and agree with the integral of the density.

    Oracle: reference library, SciPy's quadrature. Tolerance: that of the quadrature.
    """
    assert THREE.below(at) == pytest.approx(integrate.quad(density, 60.0, at, points=[140.0, 190.0])[0], abs=1e-7)
    assert THREE.above(at) == pytest.approx(1.0 - THREE.below(at), abs=1e-12)


@pytest.mark.parametrize("share", [0.025, 0.5, 0.975])
def test_quantiles_are_where_the_probability_is_reached(share: float) -> None:
    """The inverse of `below`.

    Oracle: by construction. Tolerance: rounding.
    """
    assert THREE.below(THREE.quantile(share)) == pytest.approx(share, abs=1e-10)


def test_one_component_is_the_normal_law() -> None:
    """Limiting case.

    Oracle: reference library, SciPy's normal law. Tolerance: that of 60 halvings.
    """
    one = NormalMixture(weight=np.ones(1), mean=np.array([150.0]), sd=np.array([8.0])).estimate()
    assert (one.low, one.value, one.high) == pytest.approx(stats.norm.ppf([0.025, 0.5, 0.975], 150.0, 8.0), abs=1e-6)
    assert one.own_sd == pytest.approx(8.0)


def test_a_component_without_spread_is_a_point() -> None:
    """Its value counts half at itself, wholly above, not at all below.

    Oracle: by construction.
    """
    point = NormalMixture(weight=np.ones(1), mean=np.array([0.0]), sd=np.zeros(1))
    assert [point.below(x) for x in (-1.0, 0.0, 1.0)] == [0.0, 0.5, 1.0]


def test_noise_adds_in_quadrature() -> None:
    """3 and 4 make 5.

    Oracle: by construction.
    """
    noisy = NormalMixture(weight=np.ones(1), mean=np.zeros(1), sd=np.array([3.0])).with_noise(4.0)
    assert noisy.spread() == pytest.approx(5.0)
