"""Texts on follow-up that disagree, and figures of what treatment does."""

from __future__ import annotations

import pytest

from quietlimb.engine.standards import follow_up_in_print as printed


@pytest.mark.parametrize(
    ("texts", "expected"),
    [
        (
            printed.AFTER_A_CHANGE,
            {
                "ACVIM2018": (7, 10, "from memory"),
                "ISFM2017": (7, 10, "from memory"),
                "WSAVA2018": (7, 14, "published"),
                "FelineReview2021": (14, 14, "published"),
                "AAFP": (3, 5, "published"),
            },
        ),
        (
            printed.AT_GOAL_AND_STABLE,
            {
                "ACVIM2007": (30, 120, "from memory"),
                "ACVIM2018": (120, 180, "from memory"),
                "IRIS2019": (90, 90, "from memory"),
                "ISFM2017": (90, 180, "from memory"),
                "Elliott2001": (42, 56, "published"),
            },
        ),
    ],
)
def test_windows_in_print(texts, expected):
    """After a change 7 to 10, 7 to 14, 14 and 3 to 5 days; at the goal 1 to 4, 4 to 6, 3 and 3 to 6 months, 6 to 8
    weeks.

    Oracle: published and from memory, as each row says. Months of 30 days. Exact.
    """
    assert {text.source: (*text.window.days, text.window.latest.standing) for text in texts} == expected


def test_figures_of_treatment():
    """Goal under 150 to 160; first fall 20 to 30; 10 of 11 dogs stayed high; in hospital daily; creatinine in one to
    two weeks.

    Oracle: published, AAFP, a feline review of about 2021, Jacob 2003; from memory, ACVIM 2018 for the hospital;
    common practice for creatinine. Exact.
    """
    assert (printed.AAFP_GOALS.ideal_below.value, printed.AAFP_GOALS.minimum_below.value) == (150, 160)
    assert (printed.USUAL_FIRST_FALL_FROM.value, printed.USUAL_FIRST_FALL_TO.value) == (20, 30)
    assert (printed.DOGS_STAYED_HIGH.value, printed.DOGS_TREATED.value) == (10, 11)
    assert (printed.IN_HOSPITAL_AT_LEAST_EVERY.value, printed.IN_HOSPITAL_AT_LEAST_EVERY.unit) == (1, "day")
    assert printed.CREATININE_AFTER_A_CHANGE.days == (7, 14)
    assert printed.IN_HOSPITAL_AT_LEAST_EVERY.standing == "from memory"
