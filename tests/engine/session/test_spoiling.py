"""Prior weights of sets of spoiled readings, and the sums over them, against plain enumeration."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from scipy import stats

from quietlimb.engine.session.spoiled_sets import SpoiledSets, spoiled_probability
from quietlimb.engine.session.spoiling import NOTHING_SPOILED, Spoiling


def neighbours(sides: tuple[int, ...], spoiling: Spoiling) -> float:
    factor = 1.0
    for left, right in itertools.pairwise(sides):
        if left * right:
            factor *= spoiling.same_side if left == right else spoiling.other_side
    return factor


@pytest.mark.parametrize("n", [1, 2, 3, 5, 7])
def test_weights_give_the_truncated_beta_binomial(n: int) -> None:
    """Summed over all sets and sides, the number spoiled is beta-binomial, cut off before half of the readings.

    Oracle: reference library, scipy.stats.betabinom, and enumeration of every set. Tolerance: rounding.
    """
    spoiling = Spoiling(share=0.3, concentration=6.0, same_side=5.0, other_side=0.5)
    weights = spoiling.weights(n)
    assert weights.size - 1 == Spoiling.most(n) == (0 if n == 1 else max(1, (n - 1) // 2))
    found = np.zeros(weights.size)
    for sides in itertools.product((0, 1, -1), repeat=n):
        count = n - sides.count(0)
        if count < weights.size:
            found[count] += weights[count] * 0.5**count * neighbours(sides, spoiling)
    expected = stats.betabinom.pmf(np.arange(weights.size), n, 0.3 * 6.0, 0.7 * 6.0)
    np.testing.assert_allclose(found, expected / expected.sum(), rtol=1e-10)


def test_nothing_spoiled_leaves_one_set() -> None:
    """Where nothing is ever spoiled the only set is the empty one. Oracle: by construction."""
    assert NOTHING_SPOILED.weights(6).tolist() == [1.0]


@pytest.mark.parametrize("n", [1, 2, 3, 6])
def test_sums_are_those_of_every_set(n: int) -> None:
    """The total and each reading's probability of being spoiled are those of a list of all sets.

    Oracle: by construction, enumeration; random densities and sides with a fixed seed. Tolerance: rounding.
    """
    rng = np.random.default_rng(n)
    spoiling = Spoiling()
    weights = spoiling.weights(n)
    cells = 4
    good, moved = rng.uniform(0.1, 2.0, (n, cells)), rng.uniform(0.1, 2.0, (n, cells))
    above = rng.uniform(size=(n, cells)) < 0.5
    expected, by_reading = np.zeros(cells), np.zeros((n, cells))
    for spoiled in itertools.product((False, True), repeat=n):
        count = sum(spoiled)
        if count >= weights.size:
            continue
        for c in range(cells):
            sides = tuple((1 if above[i, c] else -1) if spoiled[i] else 0 for i in range(n))
            term = weights[count] * neighbours(sides, spoiling)
            term *= np.prod([moved[i, c] if spoiled[i] else good[i, c] for i in range(n)])
            expected[c] += term
            by_reading[:, c] += term * np.array(spoiled)
    sets = SpoiledSets(weights, spoiling, (cells,))
    for i in range(n):
        sets.add(good[i].copy(), moved[i], above[i])
    total = sets.total()
    np.testing.assert_allclose(total / total[0], expected / expected[0], rtol=1e-10)
    found = spoiled_probability(good, moved, above, weights, spoiling)
    np.testing.assert_allclose(found, by_reading / expected, rtol=1e-10)


def test_run_to_one_side_is_likelier_than_scattered_ones() -> None:
    """Two spoiled neighbours off to one side are believed sooner than two apart, and those sooner than two opposite.

    Oracle: by construction, the stated order of the factors.
    """
    spoiling = Spoiling()
    good = np.full((7, 3), 1.0)
    moved = np.full((7, 3), 1e-3)
    above = np.zeros((7, 3), dtype=bool)
    for cell, (pair, sides) in enumerate((((2, 3), (True, True)), ((1, 5), (True, True)), ((2, 3), (True, False)))):
        for reading, side in zip(pair, sides, strict=True):
            moved[reading, cell], above[reading, cell] = 3.0, side
    found = spoiled_probability(good, moved, above, spoiling.weights(7), spoiling)
    both = [found[2, 0] * found[3, 0], found[1, 1] * found[5, 1], found[2, 2] * found[3, 2]]
    assert both[0] > both[1] > both[2]
