"""Risk categories and their probabilities."""

from __future__ import annotations

import math

import numpy as np
import pytest
import scipy.stats
from hypothesis import given
from hypothesis import strategies as st

from quietlimb.engine.interpretation.categories import (
    category_of,
    category_probabilities,
    exact,
    is_near_boundary,
)
from quietlimb.engine.standards.rule_sets import RULE_SETS
from quietlimb.engine.values import Estimate


def _estimate(value: float, sd: float, half: float | None = None) -> Estimate:
    half = 1.959964 * sd if half is None else half
    return Estimate(value=value, low=value - half, high=value + half, own_sd=0.6 * sd, shared_sd=0.8 * sd)


@pytest.mark.parametrize(
    ("systolic", "category"),
    [
        (1.0, "normotensive"),
        (139.5, "normotensive"),
        (139.6, "normotensive"),
        (139.999, "normotensive"),
        (140.0, "prehypertensive"),
        (159.5, "prehypertensive"),
        (159.999, "prehypertensive"),
        (160.0, "hypertensive"),
        (179.5, "hypertensive"),
        (179.999, "hypertensive"),
        (180.0, "severely hypertensive"),
        (300.0, "severely hypertensive"),
    ],
)
def test_category_at_and_around_every_boundary(systolic, category):
    """Half open on the unrounded value: the boundary itself belongs to the higher category.

    Oracle: published lines 140, 160 and 180 (Domingues et al. 2022); that 180 is severe is from memory (ACVIM 2018).
    """
    assert category_of(systolic) == category


@pytest.mark.parametrize(("value", "sd", "day_to_day"), [(138.2, 4.0, 0.0), (161.0, 7.5, 10.0), (185.0, 3.0, 15.0)])
def test_probabilities_are_those_of_the_normal_law(value, sd, day_to_day):
    """Each category holds the share of a normal law whose SD has the day-to-day part in quadrature.

    Oracle: reference library, scipy.stats.norm (SciPy 1.14 or newer). Tolerance 1e-6: the interval given here carries
    1.959964, six decimals.
    """
    law = scipy.stats.norm(value, math.sqrt(sd**2 + day_to_day**2))
    found = category_probabilities(_estimate(value, sd), day_to_day_sd=day_to_day)
    expected = [
        law.cdf(140),
        law.cdf(160) - law.cdf(140),
        law.cdf(180) - law.cdf(160),
        law.sf(180),
    ]
    assert [category.probability for category in found] == pytest.approx(expected, abs=1e-6)


def test_a_wide_interval_counts_for_more_than_its_standard_deviation():
    """With few readings the interval is wider than 1.96 SD: a boundary at its end leaves 2.5 % beyond it.

    Oracle: by construction, a 95 % interval has 2.5 % on either side. Tolerance 1e-9: arithmetic only.
    """
    upper_end_at_boundary = Estimate(value=125.0, low=120.0, high=140.0, own_sd=2.0, shared_sd=0.0)
    assert category_probabilities(upper_end_at_boundary)[0].probability == pytest.approx(0.975, abs=1e-9)
    lower_end_at_boundary = Estimate(value=195.0, low=180.0, high=200.0, own_sd=2.0, shared_sd=0.0)
    assert category_probabilities(lower_end_at_boundary)[3].probability == pytest.approx(0.975, abs=1e-9)


def test_a_plain_number_is_certain_of_its_category_today_and_not_of_the_animal():
    """Without uncertainty the probability is 1; the day-to-day part then spreads it.

    Oracle: reference library, scipy.stats.norm. Tolerance 1e-12: arithmetic only.
    """
    today = category_probabilities(exact(140.0))
    assert [category.probability for category in today] == [0.0, 1.0, 0.0, 0.0]
    animal = category_probabilities(exact(140.0), day_to_day_sd=10.0)
    assert animal[0].probability == pytest.approx(0.5, abs=1e-12)
    assert animal[3].probability == pytest.approx(scipy.stats.norm.sf(180, 140, 10), abs=1e-12)


def test_categories_tile_the_pressures():
    """From 0 upward without gap or overlap, the last unbounded.

    Oracle: published lines 140, 160 and 180 (Domingues et al. 2022). Exact.
    """
    found = category_probabilities(exact(150.0))
    assert [(category.from_mmhg, category.to_mmhg) for category in found] == [
        (0.0, 140.0),
        (140.0, 160.0),
        (160.0, 180.0),
        (180.0, None),
    ]


@given(
    value=st.floats(1.0, 350.0),
    own=st.floats(0.0, 60.0),
    shared=st.floats(0.0, 60.0),
    below=st.floats(0.0, 150.0),
    above=st.floats(0.0, 150.0),
    day_to_day=st.floats(0.0, 40.0),
)
def test_probabilities_are_probabilities_and_sum_to_one(value, own, shared, below, above, day_to_day):
    """Whatever the estimate, none is negative and together they make 1.

    Oracle: by construction. Tolerance 1e-12: four additions of numbers up to 1.
    """
    found = category_probabilities(
        Estimate(value=value, low=value - below, high=value + above, own_sd=own, shared_sd=shared),
        day_to_day_sd=day_to_day,
    )
    assert all(category.probability >= 0.0 for category in found)
    assert math.fsum(category.probability for category in found) == pytest.approx(1.0, abs=1e-12)


@pytest.mark.parametrize(
    ("value", "near"),
    [(130.1, False), (130.3, True), (149.7, True), (150.0, False), (153.0, True), (170.0, False), (170.3, True)],
)
def test_near_a_boundary_means_that_the_interval_reaches_over_it(value, near):
    """With an SD of 5 mmHg the interval reaches 9.8 mmHg: 153 (143 to 163) is near 160, and 150 is near nothing.

    Oracle: by construction, from the definition.
    """
    assert is_near_boundary(_estimate(value, 5.0)) is near


@pytest.mark.parametrize(("sd", "day", "method"), [(5.0, 10.0, 8.0), (0.0, 0.0, 12.0), (3.0, 0.0, 0.0)])
def test_the_error_of_the_method_widens_the_animal(sd, day, method):
    """Session, day and method in quadrature; the method's error, where known, in place of the shared part.

    Oracle: reference library, scipy.stats.norm. Tolerance 1e-6, from the six decimals of 1.959964 in the interval.
    """
    estimate = _estimate(150.0, sd)
    found = category_probabilities(estimate, day_to_day_sd=day, method_sd=method)
    shared = method if method else estimate.shared_sd
    spread = math.sqrt(estimate.own_sd**2 + day**2 + shared**2)
    assert found[0].probability == pytest.approx(scipy.stats.norm.cdf(140, 150, spread), abs=1e-6)


def test_a_method_as_good_as_was_assumed_changes_nothing():
    """The error of the method is counted once: as large as the shared part, it leaves the probabilities alone, also
    where the interval is wider than a normal law.

    Oracle: by construction. Tolerance 1e-9: arithmetic only.
    """
    for half in (None, 25.0):
        estimate = _estimate(150.0, 5.0, half)
        plain = category_probabilities(estimate, day_to_day_sd=10.0)
        again = category_probabilities(estimate, day_to_day_sd=10.0, method_sd=estimate.shared_sd)
        assert [each.probability for each in again] == pytest.approx([each.probability for each in plain], abs=1e-9)


@pytest.mark.parametrize("rules", RULE_SETS.values(), ids=lambda rules: rules.key)
def test_every_rule_set_shares_out_its_own_categories(rules):
    """Names and limits are the rule set's, probabilities those of the normal law.

    Oracle: reference library, scipy.stats.norm. Tolerance 1e-6 as above.
    """
    found = category_probabilities(_estimate(158.0, 9.0), rules=rules)
    limits = [edge.value for edge in rules.systolic_from]
    cdf = [0.0, *scipy.stats.norm.cdf(limits, 158.0, 9.0), 1.0]
    assert [each.name for each in found] == list(rules.categories)
    assert [each.probability for each in found] == pytest.approx(np.diff(cdf).tolist(), abs=1e-6)


def test_near_a_boundary_of_another_rule_set():
    """149 is near 150 by the scheme of 2007, and not near 140 or 160 by that of 2018.

    Oracle: by construction.
    """
    assert is_near_boundary(_estimate(149.0, 3.0), RULE_SETS["acvim-2007"])
    assert is_near_boundary(exact(149.0), RULE_SETS["acvim-2007"])
    assert not is_near_boundary(_estimate(149.0, 3.0))


def test_share_below_a_limit():
    """Half of it lies below the value itself; an exact value lies below or not.

    Oracle: by construction, symmetry; reference library, scipy.stats.norm. Tolerance 1e-6 as above.
    """
    assert _estimate(90.0, 5.0).share_below(90.0) == pytest.approx(0.5, abs=1e-12)
    assert _estimate(95.0, 5.0).share_below(90.0) == pytest.approx(scipy.stats.norm.cdf(-1.0), abs=1e-6)
    assert (exact(90.0).share_below(90.0), exact(89.9).share_below(90.0)) == (0.0, 1.0)
