"""The figures of a comparison hold its numbers, and draw in every case."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from agreement.invented_rows import invented_rows
from figures.specs import rows
from quietlimb.agreement.comparing import as_run, compare_rows
from quietlimb.agreement.pair_rows import PairRows
from quietlimb.agreement.plan import Analysis
from quietlimb.agreement.summary import Comparison
from quietlimb.figures.comparison import comparison_figures, difference_figure, quadrant_figure, scatter_figure
from quietlimb.figures.export import svg
from quietlimb.figures.invented import INVENTED_WORDS


def compared(given: PairRows) -> Comparison:
    """The systolic pressure of the rows."""
    return compare_rows(*as_run(given, Analysis(quantities=("systolic",))))[0].comparison


CASES = {
    "changing": invented_rows(1),
    "single": invented_rows(2, readings=1),
    "failed": invented_rows(3, failed=3),
    "two animals": invented_rows(4, animals=2),
    "one animal": invented_rows(5, animals=1),
    "many": invented_rows(6, animals=60, readings=2),
}


@pytest.mark.parametrize("name", CASES)
@pytest.mark.parametrize("theme", ["light", "dark"])
def test_every_case_draws(name: str, theme: Any) -> None:
    """Each figure becomes SVG without a warning, in both themes, and says that it is invented.

    Oracle: reference library, vl-convert. Warnings are errors here.
    """
    given = CASES[name]
    drawn = dict(comparison_figures(given, [compared(given)], theme=theme))
    assert {"systolic-differences", "systolic-scatter", "systolic-recruitment"} <= set(drawn)
    for spec in drawn.values():
        picture = svg(spec)
        assert picture.startswith("<svg")
        assert INVENTED_WORDS in picture


def test_each_pair_is_drawn_as_the_number_of_its_animal() -> None:
    """All pairs, at their mean and their difference.

    Oracle: by construction.
    """
    given = CASES["changing"]
    found = compared(given)
    drawn = rows(difference_figure(given, found), "animal", "x", "y")
    pairs = found.pairs
    assert len(drawn) == pairs.n
    assert {row["animal"] for row in drawn} == {str(k + 1) for k in range(9)}
    np.testing.assert_allclose(sorted(row["x"] for row in drawn), sorted(pairs.average))
    np.testing.assert_allclose(sorted(row["y"] for row in drawn), sorted(pairs.difference))


def test_limits_stand_with_the_bands_of_their_intervals() -> None:
    """Three bands with the ends that the limits have.

    Oracle: by construction.
    """
    given = CASES["changing"]
    found = compared(given)
    assert found.limits is not None
    bands = {(row["y"], row["y_to"]) for row in rows(difference_figure(given, found), "x_to", "y", "y_to")}
    lines = (found.limits.bias, found.limits.lower, found.limits.upper)
    assert bands == {(line.low, line.high) for line in lines}


def test_the_line_is_demings_and_the_quadrants_hold_the_changes() -> None:
    """Two points on Deming's line; as many changes as there are from pair to pair.

    Oracle: by construction.
    """
    given = CASES["changing"]
    found = compared(given)
    assert found.deming is not None
    assert found.trending is not None
    ends = [row for row in rows(scatter_figure(given, found), "x", "y") if "animal" not in row]
    on_line = [
        row
        for row in ends
        if abs(found.deming.intercept.estimate + found.deming.slope.estimate * row["x"] - row["y"]) < 1e-9
    ]
    assert len(on_line) >= 2
    assert len(rows(quadrant_figure(given, found), "animal", "x", "y")) == found.trending.changes == 27
