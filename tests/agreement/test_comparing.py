"""From rows and an analysis to what is compared."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from agreement.invented_rows import invented_rows
from quietlimb.agreement.comparing import as_run, compare_rows
from quietlimb.agreement.concordance import deviation
from quietlimb.agreement.limits import limits_of_agreement
from quietlimb.agreement.pair_rows import Pressures
from quietlimb.agreement.plan import Analysis
from quietlimb.agreement.repeatability import repeatability


@pytest.mark.parametrize("bias", [-9.0, 0.0, 6.0])
def test_a_bias_that_was_put_in_comes_back(bias: float) -> None:
    """Of many animals, within its interval.

    Oracle: by construction. Tolerance: three standard errors, SD 5 between 60 animals.
    """
    rows = invented_rows(11, animals=60, bias=bias)
    (found,) = compare_rows(*as_run(rows, Analysis(quantities=("systolic",))))
    assert found.comparison.limits is not None
    assert found.comparison.limits.bias.estimate == pytest.approx(bias, abs=3.0 * 5.2 / np.sqrt(60.0))
    assert found.comparison.limits.sd == pytest.approx(np.hypot(5.0, 6.0), rel=0.25)


def test_unequal_replicates_of_a_constant_truth_count_whole() -> None:
    """A value by one method alone is in the limits, though it is in no pair.

    Oracle: by construction, the limits of all values called directly.
    """
    rows = replace(invented_rows(12), truth="constant")
    some = tuple(replace(row, reference=Pressures()) if k % 4 == 3 else row for k, row in enumerate(rows.rows))
    rows = replace(rows, rows=some)
    (found,) = compare_rows(*as_run(rows, Analysis(quantities=("systolic",))))
    expected = limits_of_agreement(rows.replicates("systolic"))
    assert found.comparison.pairs.n == 27
    assert found.comparison.limits is not None
    assert found.comparison.limits.upper == expected.upper
    assert found.comparison.limits.bias != limits_of_agreement(rows.pairs("systolic")).bias


def test_one_method_with_replicates_and_the_other_without_still_compares() -> None:
    """What cannot be told is among the missing, with the reason; the rest goes on, all values of it counted.

    Oracle: by construction, the figures of all values called directly.
    """
    rows = replace(invented_rows(12), truth="constant")
    first = set[str]()
    some = []
    for row in rows.rows:
        some.append(replace(row, reference=Pressures()) if row.animal in first else row)
        first.add(row.animal)
    rows = replace(rows, rows=tuple(some))
    (found,) = compare_rows(*as_run(rows, Analysis(quantities=("systolic",))))
    values = rows.replicates("systolic")
    assert found.comparison.repeatability_reference is None
    assert found.comparison.repeatability_tested == repeatability(values, "tested")
    assert [each.code for each in found.comparison.missing if each.name == "repeatability_reference"] == [
        "no-replicates"
    ]
    judged = {each.criterion.key: each.value for each in found.comparison.judgements[0].judged}
    assert found.comparison.bias is not None
    assert (judged["bias"], judged["sd"]) == (found.comparison.bias.bias, found.comparison.bias.sd)
    assert found.comparison.deviation == deviation(values) != deviation(rows.pairs("systolic"))
    told = {each.name for each in found.comparison.missing}
    assert not [name for name in told if getattr(found.comparison, name) is not None]


def test_one_animal_with_a_value_by_one_method_alone_says_what_is_missing() -> None:
    """As one animal without such a value.

    Oracle: by construction.
    """
    rows = replace(invented_rows(12), truth="constant")
    own = [row for row in rows.rows if row.animal == rows.rows[0].animal]
    rows = replace(rows, rows=(*own, replace(own[0], reference=Pressures())))
    (found,) = compare_rows(*as_run(rows, Analysis(quantities=("systolic",))))
    assert found.comparison.limits is None
    assert "too-few-animals" in {each.code for each in found.comparison.missing if each.name == "limits"}


def test_each_scheme_tells_what_it_lacks() -> None:
    """As many tables of recruitment as there are schemes, on the bounds of the analysis.

    Oracle: by construction.
    """
    analysis = Analysis(
        quantities=("systolic",), schemes=("veterinary-consensus", "iso-81060-2"), bounds={"systolic": (100.0, 150.0)}
    )
    (found,) = compare_rows(*as_run(invented_rows(13), analysis))
    assert [each.scheme.key for each in found.lacks] == list(analysis.schemes)
    assert found.lacks[0].ranges[0].high == 100.0
    assert found.comparison.bias_by_bounds is not None
