"""The comparison gathered: every figure is there, or told why it is not.

Oracle of every test here: by construction.
"""

from __future__ import annotations

from dataclasses import fields

import numpy as np
import pytest

from agreement.test_statistics import invented
from quietlimb.agreement.differences import bias_of
from quietlimb.agreement.limits import limits_of_agreement
from quietlimb.agreement.pairs import Pairs, Truth
from quietlimb.agreement.schemes import SCHEMES
from quietlimb.agreement.summary import Comparison, compare
from quietlimb.engine.errors import ParameterError

# what each kind of pairs does not give
ABSENT: dict[Truth, set[str]] = {
    "single": {"repeatability_tested", "repeatability_reference", "trending"},
    "constant": {"intraclass", "trending"},
    "changing": {"repeatability_tested", "repeatability_reference", "intraclass"},
}
CONDITIONAL = {"bias_by_bounds", "categories", "high", "low"}


@pytest.mark.parametrize("truth", ["single", "constant", "changing"])
def test_each_figure_is_given_or_missing_with_a_reason(truth: Truth) -> None:
    """By what is known of the truth."""
    pairs = invented(41, animals=15, each=1 if truth == "single" else 3, truth=truth)
    found = compare(pairs, schemes=tuple(SCHEMES.values()), reference_is="intra-arterial", bounds=(120.0, 160.0))
    assert {each.name for each in found.missing} == ABSENT[truth]
    empty = {each.name for each in fields(Comparison) if getattr(found, each.name) is None}
    assert empty == ABSENT[truth]
    assert all(each.code and each.says and each.remedy for each in found.missing)
    assert found.bias == bias_of(pairs)
    assert found.limits == limits_of_agreement(pairs)
    assert [each.scheme.key for each in found.judgements] == list(SCHEMES)
    assert found.judgement("bhs-grades").grade is not None
    assert found.quantity == "systolic"


def test_mean_and_diastolic_pressures_have_no_category() -> None:
    """A low mean is looked for, a low diastolic is not."""
    mean, diastolic = (compare(invented(42, quantity=each)) for each in ("mean", "diastolic"))
    assert mean.high is None
    assert mean.low is not None
    assert mean.low.limit == 65.0
    assert diastolic.low is None
    assert {each.name for each in mean.missing} >= {"categories"}


@pytest.mark.parametrize("animals", [1, 2, 3])
def test_hardly_any_animals_still_give_a_comparison(animals: int) -> None:
    """What can be told is told, without a warning from below."""
    for each in (1, 4):
        pairs = invented(43, animals=animals, each=each, truth="changing")
        found = compare(pairs, schemes=tuple(SCHEMES.values()), reference_is="indirect")
        assert found.shares
        assert (found.bias is None) == (animals == 1)
        assert found.judgement("veterinary-consensus").verdict in ("not-enough-animals", "fails", "fails-crossing")


def test_methods_that_agree_to_the_last_digit_give_a_comparison() -> None:
    """Nothing is divided by the scatter that is not there."""
    pairs = invented(44)
    found = compare(invented(44, tested=pairs.reference), schemes=tuple(SCHEMES.values()), reference_is="indirect")
    assert found.bias is not None
    assert found.bias.bias.estimate == 0.0
    assert found.deviation is None
    assert found.shares[0].share.plain.estimate == 1.0


def test_failures_are_told() -> None:
    """A method that failed in 3 of 15 attempts."""
    pairs = invented(45)
    counted = Pairs(
        quantity="systolic",
        animal=pairs.animal,
        tested=pairs.tested,
        reference=pairs.reference,
        truth="single",
        failed_tested=3,
        attempts=15,
    )
    (success,) = compare(counted).success
    assert (success.method, success.failed, success.share.estimate) == ("tested", 3, 0.8)
    assert compare(pairs).success == ()


def test_a_wrong_option_is_an_error() -> None:
    """What the pairs cannot give is told; what the caller got wrong is raised."""
    with pytest.raises(ParameterError):
        compare(invented(46), error_ratio=-1.0)


def test_the_same_pairs_give_the_same_comparison() -> None:
    """To the last digit."""
    first, again = (compare(invented(47, each=3)) for _ in range(2))
    assert first.missing == again.missing
    for each in fields(Comparison):
        if each.name not in ("pairs", "categories"):
            assert repr(getattr(first, each.name)) == repr(getattr(again, each.name))  # nan is not nan
    assert first.categories is not None
    assert again.categories is not None
    assert np.array_equal(first.categories.counts, again.categories.counts)
