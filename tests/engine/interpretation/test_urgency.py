"""Which pressure is acted on first."""

from __future__ import annotations

import pytest

from quietlimb.engine.interpretation.urgency import Urgency, need, urgency_of


@pytest.mark.parametrize(
    ("systolic", "mean", "expected"),
    [
        (89.9, None, "low"),
        (90.0, None, None),
        (120.0, 64.9, "low"),
        (120.0, 65.0, None),
        (179.9, None, None),
        (180.0, None, "severe"),
    ],
)
def test_low_and_severe_at_their_edges(systolic: float, mean: float | None, expected: Urgency | None) -> None:
    """Low by systolic or mean pressure, severe from 180 mmHg on.

    Oracle: common practice, 90 and 65 mmHg; from memory, ACVIM 2018, 180 mmHg.
    """
    assert urgency_of(systolic, mean) == expected


def test_the_order_of_need() -> None:
    """Rising, then the low ones falling.

    Oracle: invented.
    """
    assert sorted([70.0, 188.0, 120.0, 85.0, 165.0], key=need) == [120.0, 165.0, 188.0, 85.0, 70.0]
