"""The figures of technique, from numbers worked out by hand or by scipy."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from quietlimb.clinic.technique.reckoning import (
    Measured,
    Share,
    by_reader,
    last_digits,
    minutes_to_level,
    spread,
    technique_of,
    wilson,
)


@pytest.mark.parametrize(("count", "of"), [(0, 1), (1, 1), (0, 40), (7, 9), (31, 100), (540, 5400)])
def test_the_interval_of_a_share_is_wilson_s(count: int, of: int) -> None:
    """As scipy gives it, also at both ends.

    Oracle: reference library, scipy's `binomtest(...).proportion_ci(method="wilson")` of the lock file.
    Tolerance: rounding of the normal quantile.
    """
    expected = stats.binomtest(count, of).proportion_ci(method="wilson")
    assert wilson(count, of) == pytest.approx((expected.low, expected.high), abs=1e-12)


def test_the_interval_of_ten_in_a_hundred_by_hand() -> None:
    """z = 1.959964: (0.1 + 0.019207) / 1.038415 -/+ 1.959964 * sqrt(0.0009 + 0.000096) / 1.038415.

    Oracle: by construction, the formula by hand.
    Tolerance: half of the last digit worked out.
    """
    assert wilson(10, 100) == pytest.approx((0.0552, 0.1744), abs=5e-5)


def test_a_share_of_nothing_has_no_value() -> None:
    """Neither value nor interval.

    Oracle: by construction.
    """
    nothing = Share(count=0, of=0)
    assert (nothing.value, nothing.interval, nothing.percent) == (None, None, None)


def test_even_digits_of_a_large_sample_are_no_preference() -> None:
    """Ten of each digit: chi-square 0, p = 1, zeros 10 in 100.

    Oracle: by construction.
    """
    found = last_digits([120.0 + k for k in range(100)])
    assert (found.counts, found.step_mmhg, found.test) == ((10,) * 10, 1, "chi-square")
    assert found.p_value == pytest.approx(1.0)
    assert (found.expected_zeros, found.prefers_zero) == (0.1, False)


def test_preferred_zeros_are_found() -> None:
    """Of 60 readings 24 end in zero and 4 in each other digit: chi-square 1/6 * (18^2 + 9 * 2^2) = 60, df 9.

    Oracle: by construction for the statistic; reference library, scipy's chi-square distribution, for p.
    Tolerance: of the distribution's own rounding.
    """
    found = last_digits([140.0] * 24 + [140.0 + d for d in range(1, 10)] * 4)
    assert found.p_value == pytest.approx(stats.chi2.sf(60.0, 9), rel=1e-9)
    assert found.zeros == Share(count=24, of=60)
    assert found.prefers_zero


def test_a_gauge_with_marks_every_two_is_compared_in_steps_of_two() -> None:
    """All digits even: one in five zeros is no preference, and there are four degrees of freedom.

    Oracle: by construction, chi-square of 14, 9, 9, 9, 9 against 10 each is 2.
    """
    digits = [0] * 14 + [2, 4, 6, 8] * 9
    found = last_digits([150.0 + d for d in digits])
    assert (found.step_mmhg, found.expected_zeros, found.zeros.of) == (2, 0.2, 50)
    assert found.p_value == pytest.approx(stats.chi2.sf(2.0, 4), rel=1e-9)
    assert not found.prefers_zero


def test_few_readings_are_tested_exactly() -> None:
    """Three zeros of four: p = 4 * 0.1^3 * 0.9 + 0.1^4 = 0.0037, no value of the other side being less likely.

    Oracle: by construction, the binomial sum by hand.
    """
    found = last_digits([140.0, 150.0, 160.0, 163.0])
    assert (found.test, found.step_mmhg) == ("exact", 1)
    assert found.p_value == pytest.approx(0.0037, abs=1e-12)


def test_values_with_a_decimal_and_no_values_have_no_last_digit() -> None:
    """They are left out; of nothing there is no test.

    Oracle: by construction.
    """
    assert last_digits([150.5, 140.0]).counts[0] == 1
    assert (last_digits([]).p_value, last_digits([]).test) == (None, "")


def test_chance_alone_is_seldom_called_a_preference() -> None:
    """Of 400 samples of 80 readings without preference about 1 in 40 has an interval wholly above 10 %.

    Oracle: by construction, digits drawn evenly (seed 20260).
    Tolerance: 0.025 expected above; more than 0.06 of 400 would be beyond chance (binomial, p < 0.0002).
    """
    drawn = np.random.default_rng(20260).integers(100, 200, size=(400, 80)).astype(float)
    flagged = sum(last_digits(list(sample)).prefers_zero for sample in drawn)
    assert flagged / 400 < 0.06


@pytest.mark.parametrize(
    ("expected", "minutes"),
    [
        ([150.0, 150.0, 150.0], 0.0),
        ([180.0, 160.0, 154.0, 150.0], 6.0),
        ([155.0, 150.0], 0.0),
        ([155.1, 150.0], 2.0),
        ([150.0, 170.0, 150.0], 5.0),
        ([150.0], 0.0),
    ],
)
def test_minutes_to_level_count_from_the_first_reading(expected: list[float], minutes: float) -> None:
    """The first reading from which on all lie within 5 mmHg of the last; 5 mmHg is invented.

    Oracle: by construction.
    """
    assert minutes_to_level([1.0, 3.0, 6.0 if len(expected) == 3 else 7.0, 9.0][: len(expected)], expected) == minutes


def test_quarters_lie_between_neighbours() -> None:
    """Of 1, 2, 3, 4: 1.75, 2.5, 3.25.

    Oracle: by construction, linear interpolation by hand.
    """
    found = spread([4, 1, 3, 2])
    assert found
    assert (found.lower_quarter, found.median, found.upper_quarter) == (1.75, 2.5, 3.25)
    assert spread([]) is None


def session(**columns: object) -> Measured:
    """A closed session of seven readings, two of them spoiled."""
    told: dict[str, object] = {
        "reader": "Wren",
        "closed": True,
        "settled_min": 6.0,
        "longest_counted": 5,
        "readings": 7,
        "spoiled": ("moved", "moved"),
        "typed_systolic": {"doppler": (150.0, 152.0)},
        "levelled": (3.0,),
        **columns,
    }
    return Measured(**told)  # type: ignore[arg-type]


def test_the_figures_of_three_sessions_by_hand() -> None:
    """A session in which nothing was obtained lowers no share of readings; one that ended early is no broken protocol.

    Oracle: by construction.
    """
    sessions = [
        session(),
        session(
            reader="Linnet", settled_min=4.0, longest_counted=6, readings=6, spoiled=(), struck=1, levelled=(None, 9.0)
        ),
        session(
            closed=False, settled_min=None, longest_counted=0, readings=0, spoiled=(), typed_systolic={}, levelled=()
        ),
    ]
    found = technique_of(sessions, asked_for=6)
    assert found.sessions == 3
    assert found.told == Share(count=2, of=2)
    assert found.settled == Share(count=1, of=2)
    assert found.enough == Share(count=1, of=2)
    assert found.discarded == Share(count=2, of=13)
    assert found.reasons == (("moved", 2),)
    assert found.struck == Share(count=1, of=14)
    assert found.levelled == Share(count=2, of=3)
    assert found.to_level
    assert found.to_level.median == 6.0
    assert found.a_session
    assert found.a_session.median == 6.5
    assert found.digits["doppler"].counts[0] == 2
    people = by_reader(sessions, asked_for=6)
    assert {name: each.sessions for name, each in people.items()} == {"Linnet": 1, "Wren": 2}
    assert people["Wren"].enough == Share(count=0, of=1)
