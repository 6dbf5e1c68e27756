"""The state of an organ, in words."""

from __future__ import annotations

import pytest

from quietlimb.engine.interpretation.interpretation import OrganCheck
from quietlimb.engine.standards.organ_damage import LESIONS
from quietlimb.words import organs


def test_each_eye_is_told_where_they_were_told_apart():
    """Left and right.

    Oracle: by construction.
    """
    eyes = (("left eye", "present"), ("right eye", "not examined"))
    check = OrganCheck(organ="eyes", state="present", eyes=eyes)
    assert organs.check_state(check) == "left damage present, right not examined"
    assert organs.check_state(OrganCheck(organ="kidneys", state="known disease")) == (
        "disease known before, not progressing"
    )


@pytest.mark.parametrize(
    ("organ", "species", "expected"),
    [
        ("eyes", "dog", ["Of 42 dogs with high pressure 26 had lesions.", "found 62 % of the dogs", "cleared 61 %"]),
        ("eyes", "cat", ["73 cats of 8 years and more 12", "the 12 with lesions 2", "69 cats", "about 168 mmHg"]),
        ("brain", "dog", ["14 dogs with kidney disease at 180 mmHg and over 3"]),
        ("brain", "cat", ["69 cats with lesions in the eyes 20"]),
        ("heart", "cat", ["69 cats with lesions in the eyes 37", "About 85 %", "from memory"]),
        ("kidneys", "dog", ["under 0.2 none, over 0.5"]),
        ("kidneys", "cat", ["under 0.2 none, over 0.4"]),
    ],
)
def test_figures_are_told_with_their_source(organ, species, expected):
    """Counts, shares and limits as printed.

    Oracle: published, LeBlanc 2011, Carter 2014, Maggio 2000, Jacob 2003, AAFP, IRIS; from memory, Chetboul 2003.
    """
    told = organs.figures(organ, species)
    text = " ".join(told)
    assert [each for each in expected if each not in text] == []
    assert all(each.endswith(")") for each in told)


def test_nothing_is_told_of_what_is_not_at_hand():
    """Of the heart of dogs no figure was found; every figure has a sentence.

    Oracle: by construction.
    """
    assert organs.figures("heart", "dog") == []
    assert set(organs.SHARES) == {each.code for told in LESIONS.values() for each in told}
