"""How much a visit raises the pressure, by value."""

from __future__ import annotations

import pytest

from quietlimb.engine.standards import situational_rise as rise


def test_cats_by_value():
    """15 to 20 on average; single cats from 27.2 below to 75.3 above in a simulated visit; 60 minutes are asked for.

    Oracle: published, Caney 2021, Belew 1999 and Sastravaha about 2020. Exact.
    """
    assert (rise.USUAL_RISE_FROM.value, rise.USUAL_RISE_TO.value) == (15, 20)
    assert (rise.LARGEST_FALL.value, rise.LARGEST_RISE.value) == (27.2, 75.3)
    assert rise.SETTLED_AFTER.value == 60


@pytest.mark.parametrize(
    ("found", "there", "share"), [(rise.ON_ARRIVAL, 167.61, 0.3483), (rise.AFTER_AN_HOUR, 136.52, 0.0982)]
)
def test_cats_after_arrival_follow_from_the_printed_means(found, there, share):
    """On arrival and after 60 minutes, against 124.31 at home.

    Oracle: published, Sastravaha about 2020: means, and percentages that agree with them. Tolerance: half of the last
    digit of our difference, and of the printed percentage (0.5 % for its own rounding).
    """
    assert found.value == pytest.approx(there - 124.31, abs=0.05 + 1e-9)
    assert there / 124.31 - 1.0 == pytest.approx(share, abs=0.005)
    assert found.standing == "derived"


def test_dogs_stood_higher_in_hospital_than_at_home():
    """154.7 against 136.3 mmHg in 45 dogs.

    Oracle: published, Ciencia Rural 2012; the difference 18.4. Tolerance: binary fractions.
    """
    assert (rise.DOGS_IN_HOSPITAL.value, rise.DOGS_AT_HOME.value) == (154.7, 136.3)
    assert rise.RISE_IN_DOGS.value == pytest.approx(18.4, abs=1e-9)
