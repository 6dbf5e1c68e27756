"""Which of three values is wrong where they cannot all be right."""

from __future__ import annotations

import pytest

from engine.session.examples import series_of
from quietlimb.engine.session.charting import chart
from quietlimb.engine.session.displays import judged_displays

SYSTOLIC = [150.0, 152.0, 149.0, 151.0, 148.0]
MEAN = [110.0, 111.0, 109.0, 110.0, 108.0]
DIASTOLIC = [86.0, 88.0, 85.0, 87.0, 84.0]


def suspects(systolic: list[float], mean: list[float], diastolic: list[float], k: int) -> tuple[str, ...]:
    found = judged_displays(series_of(systolic, mean=mean, diastolic=diastolic))[k]
    assert {finding.code for finding in found} <= {"mean-outside-pulse"}
    return found[0].touches if found else ()


@pytest.mark.parametrize(
    ("part", "values"),
    [("systolic", (210.0, 109.0, 85.0)), ("mean", (149.0, 131.0, 85.0)), ("diastolic", (149.0, 109.0, 40.0))],
)
def test_part_that_stands_apart_is_the_suspect(part: str, values: tuple[float, float, float]) -> None:
    """With the others as they are, the one value that is far from its neighbours is suspected, and no other.

    Oracle: by construction: one value of the third display is moved so that the mean leaves 0.25 to 0.60.
    """
    systolic, mean, diastolic = SYSTOLIC[:], MEAN[:], DIASTOLIC[:]
    systolic[2], mean[2], diastolic[2] = values
    assert suspects(systolic, mean, diastolic, 2) == (part,)
    assert suspects(systolic, mean, diastolic, 0) == ()


def test_nobody_to_ask_makes_all_three_suspect() -> None:
    """A single display that contradicts itself is suspect in every part. Oracle: by construction."""
    assert suspects([150.0], [140.0], [86.0], 0) == ("systolic", "mean", "diastolic")


@pytest.mark.parametrize(("mean", "inside"), [(101.0, True), (122.0, True), (100.0, False), (123.0, False)])
def test_limits_count_as_inside(mean: float, inside: bool) -> None:
    """On 146 over 86 the mean may run from 101 to 122.

    Oracle: common practice, 0.25 and 0.60 of 60 mmHg.
    """
    (found,) = judged_displays(series_of([146.0], mean=[mean], diastolic=[86.0]))
    assert (not found) is inside
    if not inside:
        assert found[0].numbers["share"] == pytest.approx((mean - 86.0) / 60.0, abs=1e-12)


def test_a_wrong_mean_discards_no_systolic_value() -> None:
    """The mean of one display lies nearly at its systolic value: that reading is doubtful, its systolic value counts,
    and its mean is in no average.

    Oracle: by construction, the mean over the other readings that the protocol keeps.
    """
    mean = MEAN[:]
    mean[2] = 147.0
    charted = chart(series_of(SYSTOLIC, mean=mean, diastolic=DIASTOLIC))
    third = charted.readings[2]
    assert third.verdict == "doubtful"
    assert third.systolic_weight is not None
    assert third.systolic_weight > 0.5
    assert third.mean_weight == pytest.approx(0.0, abs=0.05)
    guideline = charted.guideline
    assert guideline is not None
    assert (guideline.kept, dict(guideline.left_out)) == ((2, 3, 4, 5), {"mean": (3,)})
    assert guideline.mean == pytest.approx((111.0 + 110.0 + 108.0) / 3.0)
    assert guideline.systolic == pytest.approx(150.0)


def test_only_the_wrong_part_loses_weight() -> None:
    """A mean alone out of line costs that mean its weight; its systolic value keeps nearly what it had.

    Oracle: by construction: the same series with the mean in line.
    """
    mean = MEAN[:]
    mean[2] = 131.0
    fine, wrong = (chart(series_of(SYSTOLIC, mean=m, diastolic=DIASTOLIC)).readings[2] for m in (MEAN, mean))
    assert fine.mean_weight is not None
    assert wrong.mean_weight is not None
    assert fine.systolic_weight is not None
    assert wrong.systolic_weight is not None
    assert wrong.mean_weight < 0.3 * fine.mean_weight
    assert wrong.systolic_weight > 0.6 * fine.systolic_weight
