"""The guideline average against the protocol and the worked example of its three definitions of variability."""

from __future__ import annotations

import numpy as np
import pytest

from engine.session.examples import MOVED, SHAKY, series_of
from quietlimb.engine.errors import ParameterError
from quietlimb.engine.session.charting import chart
from quietlimb.engine.session.guideline import Variability, guideline_average, spread_of
from quietlimb.engine.standards.acvim_2007 import PROTOCOL as ACVIM_2007_PROTOCOL


@pytest.mark.parametrize(
    ("variability", "share"), [("range", 0.125), ("largest-distance", 0.0625), ("coefficient-of-variation", 0.0494)]
)
def test_three_definitions_of_variability(variability: Variability, share: float) -> None:
    """150, 160, 170, 165, 155 spread by 12.5, 6.3 and 4.9 % of their mean.

    Oracle: by construction, 20/160, 10/160 and sqrt(62.5)/160, worked by hand. Tolerance: the last digit written here.
    """
    found = spread_of(np.array([150.0, 160.0, 170.0, 165.0, 155.0]), variability)
    assert found == pytest.approx(share, abs=5e-5)


def test_first_reading_is_dropped_and_the_rest_averaged() -> None:
    """Six readings leave the mean of the last five, which is enough.

    Oracle: from memory, ACVIM 2018: drop the first, average five to seven. Mean by hand: 800 / 5. Tolerance: exact.
    """
    found = guideline_average(series_of([190, 150, 160, 170, 165, 155]))
    assert found.systolic == 160.0
    assert found.kept == (2, 3, 4, 5, 6)
    assert found.enough
    assert found.consistent
    assert "(max - min) / mean" in found.rule


def test_each_protocol_has_its_own_count() -> None:
    """Four readings leave three: too few for the five of 2018, enough for the three of 2007.

    Oracle: from memory, ACVIM 2018 and 2007.
    """
    series = series_of([160, 150, 152, 154])
    newer, older = guideline_average(series), guideline_average(series, protocol=ACVIM_2007_PROTOCOL)
    assert (newer.kept, newer.enough) == ((2, 3, 4), False)
    assert (older.kept, older.enough) == ((2, 3, 4), True)
    assert older.rule.startswith("ACVIM 2007: ")


def test_rule_set_without_a_protocol_takes_that_of_2018() -> None:
    """IRIS and ISFM print none that we hold; the chart names the one that was taken. Oracle: by construction."""
    for key, name in (("iris-2019", "ACVIM 2018"), ("isfm-2017", "ACVIM 2018"), ("acvim-2007", "ACVIM 2007")):
        found = chart(series_of([160, 150, 152, 154]), rules=key)
        assert found.guideline is not None
        assert found.guideline.protocol.name == name
        assert found.parameters["protocol"] == name


def test_high_reading_stays_and_moved_one_goes() -> None:
    """A reading is left out for a stated cause only: 200 stays for all its height, the moved 151 goes.

    Oracle: from memory, the guideline's rule on exclusions. Mean by hand: (150 + 200 + 148 + 152) / 4.
    """
    found = guideline_average(series_of([160, 150, 200, 151, 148, 152], findings={3: MOVED, 4: SHAKY}))
    assert found.kept == (2, 3, 5, 6)
    assert found.systolic == 162.5
    assert not found.enough
    assert not found.consistent


def test_first_reading_is_not_dropped_twice() -> None:
    """Where the first was discarded for a cause, the second reading is kept.

    Oracle: by construction, of our own reading of the rule: what is dropped is the first inflation of the session.
    """
    assert guideline_average(series_of([160, 150, 152], findings={0: MOVED})).kept == (2, 3)


@pytest.mark.parametrize(("systolic", "expected"), [([150.0], None), ([150.0, 140.0], 140.0), ([], None)])
def test_too_few_readings_are_not_enough(systolic: list[float], expected: float | None) -> None:
    """A single reading leaves no average, two leave one reading; neither is enough, nor can it be called consistent.

    Oracle: by construction.
    """
    found = guideline_average(series_of(systolic))
    assert found.systolic == expected
    assert found.spread is None
    assert not found.enough
    assert not found.consistent


@pytest.mark.parametrize(("highest", "consistent"), [(110.0, False), (109.9, True)])
def test_consistency_means_below_the_limit(highest: float, consistent: bool) -> None:
    """A range of exactly 20 % of the mean is not under 20 %.

    Oracle: from memory, "less than 20 %" of ACVIM 2018. 90, 110 and three times 100: range 20, mean 100.
    """
    found = guideline_average(series_of([100, 90, 100, 100, 100, highest]))
    assert found.consistent is consistent


def test_mean_and_diastolic_follow_the_kept_readings() -> None:
    """They are averaged over the same readings, as far as they are known.

    Oracle: by construction: (110 + 114) / 2 of the two known means; no diastolic was typed.
    """
    found = guideline_average(series_of([160, 150, 152, 154], mean=[120, 110, None, 114]))
    assert found.mean == 112.0
    assert found.diastolic is None


def test_unknown_definition_is_refused() -> None:
    """A misspelt definition names the choices. Oracle: by construction."""
    with pytest.raises(ParameterError, match="coefficient-of-variation"):
        guideline_average(series_of([150, 150]), "spread")  # type: ignore[arg-type]


def test_consistent_without_what_lies_far_from_the_series() -> None:
    """One reading far off breaks the rule, and the others meet it by themselves as long as three are left. Scatter and
    a steep rise break it for good.

    Oracle: by construction: of 150 to 152 and one of 210, three scattered pairs, and a rise by 10 each time.
    """
    series = series_of([150, 152, 149, 151, 148, 210])
    assert not guideline_average(series, spoiled=np.zeros(6, dtype=bool)).consistent_but_for_spoiled
    without = guideline_average(series, spoiled=np.arange(6) == 5)
    assert (without.consistent, without.consistent_but_for_spoiled, without.broke_its_rule) == (False, True, False)
    two_left = guideline_average(series, spoiled=np.arange(6) >= 3)
    assert two_left.broke_its_rule
    scattered = series_of([150, 130, 170, 150, 130, 175])
    assert guideline_average(scattered, spoiled=np.zeros(6, dtype=bool)).broke_its_rule
    uneven = series_of([130, 168, 150, 185, 142, 171])
    rising = series_of([140, 150, 160, 171, 180, 192])
    half = series_of([120, 165, 140, 185, 110, 158])  # three of the five kept would agree
    for each, broken in ((series, False), (scattered, True), (half, True), (uneven, True), (rising, True)):
        average = chart(each).guideline
        assert average is not None
        assert average.broke_its_rule is broken
