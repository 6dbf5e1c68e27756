"""Who is measured although the pressure is normal, and how often."""

from __future__ import annotations

import math

import pytest

from quietlimb.engine.standards.rule_sets import RULE_SETS
from quietlimb.engine.standards.screening import AT_RISK, is_at_risk, screening

JUST_UNDER_11 = math.nextafter(11.0, 0.0)


@pytest.mark.parametrize(
    ("source", "years", "expected"),
    [
        ("ACVIM2018", None, None),
        ("ACVIM2018", 7.99, None),
        ("ACVIM2018", 8.01, ("older-cat", 9, (335, 365))),
        ("ACVIM2018", math.nextafter(9.0, 0.0), ("older-cat", 9, (335, 365))),
        ("ACVIM2018", 9.0, ("older-cat", 9, (335, 365))),
        ("ACVIM2018", 16.0, ("older-cat", 9, (335, 365))),
        ("IRIS2019", 9.0, ("older-cat", 9, (335, 365))),
        ("ACVIM2007", 9.0, ("older-cat", 9, (335, 365))),
        ("ISFM2017", 1.99, None),
        ("ISFM2017", 2.01, ("adult-cat", 3, (335, 365))),
        ("ISFM2017", 3.0, ("adult-cat", 3, (335, 365))),
        ("ISFM2017", 7.0, ("adult-cat", 3, (335, 365))),
        ("ISFM2017", JUST_UNDER_11, ("adult-cat", 3, (335, 365))),
        ("ISFM2017", 11.0, ("older-cat", 11, (180, 365))),
    ],
)
def test_healthy_cats_by_age(source: str, years: float | None, expected: tuple | None) -> None:
    """Yearly from 9 by ACVIM 2018; by ISFM 2017 yearly from 3, every 6 to 12 months from 11; where a set prints no ages
    those of ACVIM 2018 stand in. A cat that comes of the least age within the window is on the list.

    Oracle: from memory, ACVIM 2018 and ISFM 2017; invented, the month before the year is over. Exact.
    """
    found = screening("cat", source, years=years)
    if expected is None:
        assert found is None
        return
    assert found is not None
    assert found.from_years is not None
    assert found.window is not None
    assert (found.code, found.from_years.value, found.window.days) == expected
    assert found.cited.standing == "from memory"


@pytest.mark.parametrize(("species", "source"), [("cat", "ISFM2017"), ("dog", "ACVIM2018")])
@pytest.mark.parametrize("rules", RULE_SETS.values(), ids=lambda rules: rules.key)
def test_animals_at_risk_whatever_their_age(species, source, rules) -> None:
    """Every 3 to 6 months, by whom that is recalled, under any rule set.

    Oracle: from memory, ISFM 2017 for cats, ACVIM 2018 for dogs. Months of 30 days. Exact.
    """
    found = screening(species, rules.source, years=1.0, at_risk=True, young=True)
    assert found is not None
    assert found.window is not None
    assert (found.code, found.window.days, found.cited.source) == ("at-risk", (90.0, 180.0), source)
    assert found.cited.standing == "from memory"


def test_dogs_without_a_risk_have_no_routine() -> None:
    """A healthy young dog is told so; of any other healthy dog nothing is known.

    Oracle: from memory, ACVIM 2018.
    """
    young = screening("dog", "ACVIM2018", years=2.0, young=True)
    assert young is not None
    assert (young.code, young.window, young.cited.source) == ("young-dog", None, "ACVIM2018")
    assert screening("dog", "ACVIM2018", years=14.0) is None
    assert screening("cat", "ACVIM2018", young=True) is None


@pytest.mark.parametrize(
    ("condition", "cat", "dog"),
    [
        ("kidney-disease", True, True),
        ("hyperthyroidism", True, False),
        ("hyperadrenocorticism", True, True),
        ("hyperaldosteronism", True, True),
        ("phaeochromocytoma", True, True),
        ("protein-loss", False, True),
        ("diabetes", False, True),
        ("acute-kidney-injury", False, False),
        ("hypothyroidism", False, False),
        ("obesity", False, False),
    ],
)
def test_illnesses_of_the_list(condition, cat: bool, dog: bool) -> None:
    """Printed for cats by one text, for dogs by the other.

    Oracle: from memory, ISFM 2017 for cats, ACVIM 2018 for dogs; an adrenal mass taken for either of the two tumours.
    """
    assert (is_at_risk("cat", [condition], []), is_at_risk("dog", [condition], [])) == (cat, dog)
    assert (condition in AT_RISK["cat"], condition in AT_RISK["dog"]) == (cat, dog)


def test_any_drug_of_the_record_puts_an_animal_on_the_list() -> None:
    """Drugs that can raise the pressure count by themselves; nothing in the record does not.

    Oracle: from memory, ISFM 2017 and ACVIM 2018.
    """
    assert is_at_risk("cat", [], ["glucocorticoid"])
    assert not is_at_risk("cat", [], [])
