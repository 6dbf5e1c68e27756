"""The study of intervals: its truths are those of what it draws, and it counts rightly."""

from __future__ import annotations

import math

import comparison_intervals as script
import numpy as np
import pytest

from quietlimb.agreement.categories import kappa
from quietlimb.agreement.interval import Interval


@pytest.mark.parametrize(("kind", "level", "each"), [("single", 0.0, 1), ("changing", script.LEVEL, 2)])
def test_truths_are_those_of_the_pairs_that_are_drawn(kind: str, level: float, each: int) -> None:
    """Scatter, correlation, concordance and kappa of very many pairs.

    Oracle: by construction, 60,000 animals drawn. Tolerance: four standard errors, and more for kappa.
    """
    pairs = script.draw(np.random.default_rng(71), kind, np.full(60_000, each))
    truth = script.truth_of(level)
    x, y = pairs.tested, pairs.reference
    assert float(pairs.difference.mean()) == pytest.approx(script.BIAS, abs=0.15)
    assert float(pairs.difference.std()) == pytest.approx(truth.sd, abs=0.1)
    assert float(np.corrcoef(x, y)[0, 1]) == pytest.approx(truth.r, abs=2e-3)
    together = 2.0 * float(np.cov(x, y)[0, 1]) / float(x.var() + y.var() + script.BIAS**2)
    assert together == pytest.approx(truth.concordance, abs=3e-3)
    rows, columns = (np.searchsorted(script.EDGES, v, side="right") for v in (y, x))
    counts = np.bincount(rows * 4 + columns, minlength=16).reshape(4, 4)
    assert kappa(counts, "quadratic")[0] == pytest.approx(truth.kappa, abs=0.01)
    high = y >= 160.0
    assert float((x[high] >= 160.0).mean()) == pytest.approx(truth.sensitivity, abs=0.015)


def test_within_animals_only_the_true_pressure_moves_together() -> None:
    """The correlation within animals is 225 / 250 for SDs of 15 and 5.

    Oracle: by construction.
    """
    pairs = script.draw(np.random.default_rng(72), "changing", np.full(20_000, 3))
    x, y = (v.reshape(-1, 3) - v.reshape(-1, 3).mean(axis=1, keepdims=True) for v in (pairs.tested, pairs.reference))
    assert float((x * y).sum() / math.sqrt((x**2).sum() * (y**2).sum())) == pytest.approx(0.9, abs=5e-3)


@pytest.mark.parametrize(
    ("held", "said"), [(95, "met"), (100, "NOT MET, long"), (70, "NOT MET, short"), (92, "undecided")]
)
def test_intervals_are_counted(held: int, said: str) -> None:
    """Of 400 runs a share held the truth 1; the others lie above it, and ten gave none.

    Oracle: by construction; the Monte Carlo error of 92 % in 400 is 1.4.
    """
    ends = iter([0.0 if i % 100 < held else 2.0 for i in range(400)] + [math.nan] * 10)

    def tell() -> script.Told:
        low = next(ends)
        yield "invented", Interval(estimate=1.0, low=low, high=low + 3.0), 1.0

    lines, missed = script.tabulated("a design", 410, tell)
    line = lines[-1]
    assert line.split()[:4] == ["invented", "400", "10", f"{held:.1f}"]
    assert line.endswith(said)
    assert bool(missed) == said.startswith("NOT")


def test_every_table_can_be_computed() -> None:
    """Two runs of each, and the same seed gives the same lines.

    Oracle: by construction.
    """
    for number in range(3, len(script.TABLES)):
        lines, _, _ = script.computed((number, 2, 5))
        assert len(lines) > 3
    assert script.computed((8, 2, 5))[:2] == script.computed((8, 2, 5))[:2]
