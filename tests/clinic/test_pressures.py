"""Pressures in lists and sentences."""

from __future__ import annotations

import pytest

from quietlimb.clinic.pressures import as_chosen, mmhg


@pytest.mark.parametrize(
    ("systolic", "shown"),
    [(168.2, "168"), (159.4, "159"), (159.6, "159.6"), (159.96, "159.96"), (160.0, "160"), (179.5, "179.5")],
)
def test_rounding_does_not_cross_a_boundary(systolic: float, shown: str) -> None:
    """Whole, but 159.6 is not shown as 160, which would be another category.

    Oracle: by construction; the boundaries 160 and 180 mmHg are from memory (ACVIM 2018).
    """
    assert mmhg(systolic, rules="acvim-2018", species="cat") == shown


def test_the_line_of_what_is_urgent_is_kept_by_every_rule_set() -> None:
    """The categories of 2007 begin at 150, 160 and 180 too; those of stage AP as well.

    Oracle: by construction.
    """
    for rules in ("acvim-2018", "acvim-2007", "iris-2015"):
        assert mmhg(179.7, rules=rules, species="dog") == "179.7"


@pytest.mark.parametrize(("systolic", "shown"), [(164.0, "164"), (164.5, "164.5"), (159.96, "159.96")])
def test_what_was_typed_keeps_its_decimal(systolic: float, shown: str) -> None:
    """A half is not rounded away from what somebody chose.

    Oracle: by construction.
    """
    assert as_chosen(systolic, rules="acvim-2018", species="cat") == shown
