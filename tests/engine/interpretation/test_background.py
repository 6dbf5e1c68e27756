"""What is known of the animal beyond the session."""

from __future__ import annotations

import math

import pytest

from quietlimb.engine.errors import ParameterError
from quietlimb.engine.interpretation.background import Background, EarlierSession


@pytest.mark.parametrize(
    ("told", "code"),
    [
        ({"days_ago": -1.0, "systolic_mmhg": 150.0}, "impossible-day"),
        ({"days_ago": math.inf, "systolic_mmhg": 150.0}, "impossible-day"),
        ({"days_ago": 1.0, "systolic_mmhg": 0.0}, "impossible-pressure"),
        ({"days_ago": 1.0, "systolic_mmhg": math.nan}, "impossible-pressure"),
        ({"days_ago": 1.0, "systolic_mmhg": 351.0}, "impossible-pressure"),
        ({"days_ago": 1.0, "systolic_mmhg": 150.0, "organs": {"liver": "absent"}}, "unknown-organ"),
    ],
)
def test_an_impossible_session_is_refused(told, code):
    """A day in the future, a pressure that is none, an organ that does not exist.

    Oracle: by construction.
    """
    with pytest.raises(ParameterError) as caught:
        EarlierSession(**told)
    assert caught.value.code == code


@pytest.mark.parametrize(
    ("told", "code"), [({"conditions": ("old age",)}, "unknown-condition"), ({"drugs": ("tea",)}, "unknown-drug-class")]
)
def test_unknown_illnesses_and_drugs_are_refused_with_those_that_are_known(told, code):
    """The remedy lists the words.

    Oracle: by construction.
    """
    with pytest.raises(ParameterError, match="use one of") as caught:
        Background(**told)
    assert caught.value.code == code


@pytest.mark.parametrize("years", [-0.1, 40.1, math.nan, math.inf])
def test_an_impossible_age_is_refused(years):
    """Before birth, or older than cats and dogs get.

    Oracle: invented, 40 years as an age that none has reached.
    """
    with pytest.raises(ParameterError) as caught:
        Background(age_years=years)
    assert caught.value.code == "impossible-age"


@pytest.mark.parametrize(
    ("more", "counts"),
    [({}, True), ({"sedation": "awake"}, True), ({"sedation": "sedated"}, False), ({"systolic_mmhg": None}, False)],
)
def test_only_a_pressure_of_an_animal_awake_counts(more, counts):
    """Not told is taken for awake.

    Oracle: from memory, ACVIM 2018: sedated sessions are not compared.
    """
    assert EarlierSession(**{"days_ago": 3.0, "systolic_mmhg": 150.0, **more}).counts is counts
