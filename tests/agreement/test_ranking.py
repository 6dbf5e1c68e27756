"""Methods of reading ranked on recordings whose pressures are known."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from quietlimb.agreement.pair_rows import Pressures
from quietlimb.agreement.ranking import Case, rank


def cases(errors: dict[str, list[float | None]], animals: list[str]) -> list[Case]:
    """Recordings of a systolic pressure of 150 that each method reads with these errors."""
    return [
        Case(
            name=f"r{k}",
            animal=animal,
            known=Pressures(systolic=150.0),
            read={
                method: Pressures(systolic=None if error[k] is None else 150.0 + error[k])
                for method, error in errors.items()
            },
        )
        for k, animal in enumerate(animals)
    ]


ERRORS: dict[str, list[float | None]] = {
    "ours": [1.0, -1.0, 2.0, -2.0, 1.0, 3.0],
    "near": [0.5, 0.5, -0.5, None, 0.5, -0.5],
    "far": [10.0, 12.0, 9.0, 11.0, 20.0, 12.0],
    "nothing": [None] * 6,
}
ANIMALS = ["a", "a", "b", "b", "c", "c"]


def test_the_nearest_comes_first_and_what_read_nothing_last() -> None:
    """By root mean square error, with failures counted.

    Oracle: by construction.
    """
    found = rank(cases(ERRORS, ANIMALS), list(ERRORS), "systolic")
    assert [each.method for each in found] == ["near", "ours", "far", "nothing"]
    near, ours, far, nothing = found
    assert (near.failed, nothing.failed, near.recordings) == (1, 6, 6)
    assert ours.bias == pytest.approx(4.0 / 6.0)
    assert ours.rms == pytest.approx(math.sqrt(20.0 / 6.0))
    assert far.within == pytest.approx(2.0 / 6.0)
    assert math.isinf(nothing.rms)


def test_who_seldom_answers_has_no_place() -> None:
    """Three of 24 read without error: no place, behind a method that read all of them 12 mmHg off; 20 of 24 have one.

    Oracle: by construction; the share of 80 % is invented.
    """
    errors: dict[str, list[float | None]] = {
        "ours": [12.0] * 24,
        "silent": [0.0] * 3 + [None] * 21,
        "fair": [5.0] * 20 + [None] * 4,
    }
    found = rank(cases(errors, [f"a{k}" for k in range(24)]), list(errors), "systolic")
    assert [(each.method, each.place) for each in found] == [("fair", 1), ("ours", 2), ("silent", None)]
    assert [each.place for each in rank(cases(ERRORS, ANIMALS), ["nothing"], "systolic")] == [None]


def test_the_difference_counts_each_animal_once_on_what_both_read() -> None:
    """Its interval is that of a t test on the means of the animals.

    Oracle: reference library, scipy 1.x, `stats.ttest_1samp`.
    """
    found = {each.method: each for each in rank(cases(ERRORS, ANIMALS), list(ERRORS), "systolic")}
    means = [np.mean([-0.5, -0.5]), -1.5, np.mean([-0.5, -2.5])]
    expected = stats.ttest_1samp(means, 0.0).confidence_interval(0.95)
    against = found["near"].against_first
    assert against is not None
    assert against.estimate == pytest.approx(np.mean(means))
    assert (against.low, against.high) == pytest.approx((expected.low, expected.high))
    assert found["ours"].against_first is None
    assert found["nothing"].against_first is None


def test_recordings_without_a_known_pressure_do_not_count() -> None:
    """Of a pressure that nobody knows, nothing is ranked.

    Oracle: by construction.
    """
    found = rank(cases(ERRORS, ANIMALS), list(ERRORS), "mean")
    assert {each.recordings for each in found} == {0}
