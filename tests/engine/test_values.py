"""Values that carry their uncertainty."""

from __future__ import annotations

import pytest

from quietlimb.engine.values import Cited, Estimate, least_verified


def test_parts_add_in_quadrature():
    """The two parts of a standard deviation are independent: 3 and 4 make 5.

    Oracle: by construction, Pythagoras.
    """
    estimate = Estimate(value=120.0, low=110.0, high=130.0, own_sd=3.0, shared_sd=4.0)
    assert estimate.sd == 5.0
    assert estimate.unit == "mmHg"


@pytest.mark.parametrize(
    ("low", "high"), [(121.0, 130.0), (110.0, 119.0), (float("nan"), 130.0), (110.0, float("nan"))]
)
def test_an_interval_holds_its_value(low: float, high: float):
    """An interval beside its value, or of not-a-number, is a mistake in the program and cannot be made.

    Oracle: by construction.
    """
    with pytest.raises(AssertionError, match="does not hold"):
        Estimate(value=120.0, low=low, high=high, own_sd=1.0, shared_sd=1.0)


def test_of_several_numbers_the_least_verified_counts() -> None:
    """Seen in print, seen as quoted, recalled, our own, in this order; of equals the first.

    Oracle: by construction, the order of the standings.
    """
    seen, quoted, recalled = (
        Cited(1.0, "mmHg", "X", "here", standing) for standing in ("published", "as quoted", "from memory")
    )
    ours = Cited(1.0, "mmHg", "X", "here", "invented")
    assert least_verified(seen, quoted) is quoted
    assert least_verified(recalled, seen, quoted) is recalled
    assert least_verified(recalled, ours, seen) is ours
    assert least_verified(seen, Cited(2.0, "mmHg", "X", "here", "published")) is seen
