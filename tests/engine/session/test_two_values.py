"""Charted pressure and guideline average side by side."""

from __future__ import annotations

from dataclasses import replace

import pytest

from engine.session.examples import MOVED, series_of
from quietlimb.engine.session.charting import chart
from quietlimb.engine.session.enough import enough
from quietlimb.engine.session.two_values import TwoValues, two_values

STEADY = [150.0, 152.0, 149.0, 151.0, 148.0, 150.0]
FALLING = [186.0, 174.0, 166.0, 160.0, 156.0, 154.0, 152.0, 151.0]


def both(systolic: list[float], **options: object) -> TwoValues:
    found = two_values(chart(series_of(systolic), **options))  # type: ignore[arg-type]
    assert found is not None
    return found


@pytest.mark.parametrize("systolic", [STEADY, FALLING, [*STEADY, 205.0], [150.0, 190.0]])
def test_parts_add_up_to_the_difference(systolic: list[float]) -> None:
    """Fall, far readings and scatter add up to guideline minus charted. Oracle: by construction, to rounding."""
    found = both(systolic)
    assert sum(part.mmhg for part in found.parts) == pytest.approx(found.difference_mmhg, abs=1e-9)
    assert found.difference_mmhg == found.guideline_mmhg - found.charted_mmhg


def test_fall_is_named_first() -> None:
    """In a fall from 186 to 151 the guideline average is higher because the fall is averaged into it.

    Oracle: by construction.
    """
    found = both(FALLING)
    assert found.parts[0].cause == "fall-averaged-in"
    assert found.parts[0].mmhg > 5.0


def test_far_reading_is_named_with_its_ordinal() -> None:
    """One reading 55 mmHg above the others accounts for the difference. Oracle: by construction: 55 / 6 mmHg, less what
    the model sees as movement. Tolerance: 2 mmHg."""
    found = both([*STEADY, 205.0])
    assert found.parts[0].cause == "far-readings-averaged-in"
    assert found.parts[0].readings == (7,)
    assert found.parts[0].mmhg == pytest.approx(55.0 / 6.0, abs=2.0)


def test_choice_only_where_categories_differ() -> None:
    """150 and 150 leave nothing to choose; 161 beside 156 do. An average that broke its rule has no category.

    Oracle: published boundaries, 160 mmHg; from memory, the rule on variability.
    """
    assert not both(STEADY).to_choose
    spoiled = both([152.0, 148.0, 205.0, 149.0, 150.0, 151.0])
    assert (spoiled.charted_category, spoiled.guideline_category) == ("prehypertensive", None)
    assert (spoiled.to_choose, spoiled.to_explain) == (False, True)
    found = both([140.0, 146.0, 152.0, 157.0, 161.0, 164.0])
    assert (found.charted_category, found.guideline_category) == ("hypertensive", "prehypertensive")
    assert found.to_choose


def test_definition_of_consistency_is_named() -> None:
    """The rule that was chosen is told with the values. Oracle: by construction: the formulas of the settings."""
    systolic = [150.0, 136.0, 140.0, 150.0, 165.0, 160.0]
    by_range, by_distance = (both(systolic, variability=name) for name in ("range", "largest-distance"))
    assert "(max - min) / mean" in by_range.consistency
    assert "max |x - mean| / mean" in by_distance.consistency


def test_nothing_to_compare() -> None:
    """One reading leaves no guideline average, none leaves no charted pressure. Oracle: by construction."""
    assert two_values(chart(series_of([150.0]))) is None
    assert two_values(chart(series_of([150.0], findings={0: MOVED}))) is None


@pytest.mark.parametrize(
    ("systolic", "around"), [([170.0, 130.0, 185.0, 140.0, 179.0, 133.0], {}), (FALLING, {"sedation": "sedated"})]
)
def test_no_category_is_named_where_it_is_withheld(systolic: list[float], around: dict[str, str]) -> None:
    """Readings that broke the rule on variability, or a sedated animal: the values are told, and no category of either.

    Oracle: from memory, ACVIM 2018: less than 20 % variability, and no sedation.
    """
    series = series_of(systolic)
    charted = chart(replace(series, circumstances=replace(series.circumstances, **around)))
    two, more = two_values(charted), enough(charted)
    assert two is not None
    assert more is not None
    assert (two.charted_category, two.guideline_category, two.to_choose) == (None, None, False)
    assert (more.category, more.category_probability, more.boundary_mmhg) == (None, 0.0, None)
    assert not any(reason.startswith("category") for reason in more.why)
