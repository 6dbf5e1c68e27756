"""How a result is headed."""

from __future__ import annotations

import pytest

from engine.interpretation.examples import guideline
from quietlimb.engine.interpretation.background import Background
from quietlimb.engine.interpretation.interpret import interpret_systolic
from quietlimb.engine.interpretation.interpretation import Interpretation
from quietlimb.engine.values import Estimate
from quietlimb.words.categories import brief_heading, decimals, heading, is_low, is_open
from quietlimb.words.sources import rules_and_standing


def found(value: float | None, half_width: float = 0.0, **more: object) -> Interpretation:
    estimate = None
    if value is not None:
        low, high = value - half_width, value + half_width
        estimate = Estimate(value=value, low=low, high=high, own_sd=half_width / 1.96, shared_sd=0.0)
    return interpret_systolic(estimate, species="cat", **more)


def test_a_clear_category_is_told_with_its_risk() -> None:
    """Far from every boundary.

    Oracle: from memory, ACVIM 2018: 160 to under 180 mmHg is hypertensive, moderate risk.
    """
    clear = found(170.0, 5.0)
    assert not is_open(clear)
    assert heading(clear) == "Hypertensive: moderate risk of organ damage"
    assert brief_heading(clear) == "hypertensive"


def test_a_value_less_probable_than_another_category_leaves_it_open() -> None:
    """One reading of 172 mmHg with 97 to 247 is hypertensive by the value at 21 %, and 42 % lie over 180 mmHg.

    Oracle: by construction from the normal distribution, SD 74.7 / 1.96 = 38.1: P(over 180) = 1 - Phi(0.21) = 0.417,
    P(160 to 180) = Phi(0.21) - Phi(-0.315) = 0.207.
    """
    wide = found(172.0, 74.7)
    assert (
        heading(wide) == "Category open: hypertensive by the value (21 %), severely hypertensive more probable (42 %)"
    )
    assert brief_heading(wide) == "category open (hypertensive by the value)"


@pytest.mark.parametrize(("sd", "is_it"), [(14.0, False), (15.5, True)])
def test_a_category_under_one_half_is_open_though_the_likeliest(sd: float, is_it: bool) -> None:
    """In the middle of a category 20 mmHg wide one half is reached at SD 10 / 0.674 = 14.8 mmHg.

    Oracle: by construction, the quartile of the normal distribution, 0.674.
    """
    middle = found(150.0, 1.96 * sd)
    assert is_open(middle) is is_it
    assert ("no other is more probable" in heading(middle)) is is_it


def test_low_pressure_comes_before_its_category() -> None:
    """A systolic pressure of 60 mmHg is not headed as a normal one.

    Oracle: common practice, under 90 mmHg is low in an awake animal.
    """
    low = found(60.0)
    assert is_low(low)
    assert heading(low).startswith("Low pressure: confirm it at once")
    assert "minimal risk" not in heading(low)
    assert brief_heading(low) == "low pressure, confirm it at once"
    assert not is_low(found(90.0))


@pytest.mark.parametrize(
    ("systolic", "weak", "rules", "low"),
    [
        (119.0, True, "acvim-2018", True),
        (119.0, False, "acvim-2018", False),
        (120.0, True, "acvim-2018", False),
        (109.0, None, "isfm-2017", True),
    ],
)
def test_a_pressure_too_low_under_treatment_is_not_headed_by_a_minimal_risk(systolic, weak, rules, low) -> None:
    """The guard stands first, and the category after it as one of high pressures.

    Oracle: from memory, the guards of ACVIM 2018 for weak animals and of ISFM 2017.
    """
    told = found(systolic, rules=rules, background=Background(treated=True, weak=weak))
    assert heading(told).startswith("Too low under treatment (among") is low
    assert ("minimal risk" in heading(told)) is not low
    assert (brief_heading(told) == "too low under treatment") is low


def test_a_low_mean_beside_a_high_systolic_tells_both() -> None:
    """The mean of 60 mmHg first, then the category.

    Oracle: common practice, a mean under 65 mmHg is low; ACVIM 2018 from memory for the category.
    """
    assert heading(found(165.0, 3.0, mean_mmhg=60.0)) == (
        "Low pressure: confirm it at once. Hypertensive: moderate risk of organ damage"
    )


@pytest.mark.parametrize(("value", "more"), [(None, {}), (150.0, {"sedation": "sedated"})])
def test_without_category_there_is_nothing_to_be_open(value: float | None, more: dict[str, object]) -> None:
    """No pressure, or a sedated animal.

    Oracle: by construction.
    """
    nothing = found(value, **more)
    assert not is_open(nothing)
    assert heading(nothing) == "No category"
    assert brief_heading(nothing) == "no category"


def test_a_low_pressure_of_a_sedated_animal_is_low_without_category() -> None:
    """Low pressure is told even where no category is.

    Oracle: by construction.
    """
    assert heading(found(60.0, sedation="sedated")) == "Low pressure: confirm it at once"


@pytest.mark.parametrize(
    ("rules", "head", "brief"),
    [
        ("acvim-2007", "Category III: moderate risk of organ damage", "category III"),
        ("iris-2015", "Stage AP2: high pressure", "stage AP2"),
        ("isfm-2017", "Hypertensive: moderate risk of organ damage", "hypertensive"),
    ],
)
def test_the_categories_of_other_rule_sets_keep_their_letters(rules: str, head: str, brief: str) -> None:
    """A name like AP2 stays as printed within a sentence.

    Oracle: published, the names of ACVIM 2007 and IRIS 2015.
    """
    told = found(170.0, 5.0, rules=rules)
    assert heading(told) == head
    assert brief_heading(told) == brief


def test_low_pressure_by_an_older_scheme_names_its_lowest_category() -> None:
    """The category of high pressures is told after the low pressure.

    Oracle: by construction.
    """
    assert heading(found(60.0, rules="acvim-2007")).endswith("(among the categories of high pressure: category I)")


def test_readings_that_were_not_consistent_are_headed_by_why_there_is_no_category() -> None:
    """Other than where there is no pressure at all.

    Oracle: by construction.
    """
    withheld = found(170.0, 5.0, guideline=guideline(170.0, consistent=False, spread=0.3))
    assert not is_open(withheld)
    assert heading(withheld) == "No category: the readings were not consistent"
    assert brief_heading(withheld) == "no category, the readings were not consistent"
    assert (heading(found(None)), brief_heading(found(None))) == ("No category", "no category")


@pytest.mark.parametrize(
    ("rules", "told"),
    [
        ("acvim-2018", "ACVIM 2018, from memory"),
        ("isfm-2017", "ISFM 2017, from memory"),
        ("acvim-2007", "ACVIM 2007, as quoted by another text"),
        ("iris-2015", "IRIS 2015, checked against a copy"),
    ],
)
def test_a_rule_set_is_named_with_how_far_it_was_verified(rules: str, told: str) -> None:
    """The standing is that of its boundaries.

    Oracle: by construction, the standings beside the boundaries.
    """
    assert rules_and_standing(found(170.0, rules=rules)) == told


def test_a_pressure_is_shown_on_its_side_of_a_boundary_of_a_scheme_told_beside_it() -> None:
    """149.88 mmHg is told as under 150 by the old schemes, and so is not shown as 150.

    Oracle: published, IRIS 2015: AP0 under 150 mmHg.
    """
    assert decimals(found(149.88, 5.0), 149.88) == 1
    assert decimals(found(149.2, 5.0), 149.2) == 0
