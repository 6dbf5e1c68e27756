"""Checks of instruments as sentences."""

from __future__ import annotations

import math
from datetime import date, timedelta
from typing import get_args

import pytest

from quietlimb.engine.values import Cited
from quietlimb.instruments.checks import (
    CHECK_FINDING_CODES,
    CheckFinding,
    CheckResult,
    CheckVerdict,
    Figure,
    Kind,
    either_side,
)
from quietlimb.instruments.drift import BASELINE, DriftPoint, Reach, Rule, drift
from quietlimb.instruments.limits import BLEED_LIMITS, STATIC_LIMITS
from quietlimb.instruments.schedule import SCHEDULE, DueState, Scheduled, due
from quietlimb.words import checks as words

LIMIT = STATIC_LIMITS["non-automated"].most


def test_nothing_that_a_check_says_lacks_its_words():
    """Kinds, verdicts, findings, states, rules, reaches.

    Oracle: by construction, the vocabularies.
    """
    assert set(words.KINDS) == set(get_args(Kind))
    assert set(words.VERDICTS) == set(words.SHORT_VERDICTS) == set(get_args(CheckVerdict))
    assert set(words.FINDINGS) == set(CHECK_FINDING_CODES)
    assert set(words.STATES) == set(get_args(DueState))
    assert set(words.SCHEDULED) == set(get_args(Scheduled))
    assert set(words.RULES) == set(get_args(Rule))
    assert set(words.REACHES) == set(get_args(Reach))


@pytest.mark.parametrize("code", CHECK_FINDING_CODES)
def test_every_finding_can_be_told_with_its_numbers(code: str):
    """A whole sentence each, and a remedy; no brace is left.

    Oracle: by construction.
    """
    finding = CheckFinding(code=code, numbers=dict.fromkeys(CHECK_FINDING_CODES[code], 12.0))
    for sentence in (words.says(finding), words.remedy(finding)):
        assert sentence is not None
        assert sentence.endswith(".")
        assert "{" not in sentence


def figure(value: float, half: float, unit: str = "mmHg") -> Figure:
    """An error with a limit of 3 mmHg."""
    least, most = either_side(LIMIT)
    return Figure(value=value, low=value - half, high=value + half, unit=unit, least=least, most=most, at_mmhg=200.0)


def test_a_figure_is_never_rounded_across_its_limit():
    """3.04 over a limit of 3 is not told as 3.0; an end of 2.96 is not told as 3.0 either.

    Oracle: by construction.
    """
    assert words.figure_value(figure(3.04, 1.0)) == "+3.04 (+2.04 to +4.04) mmHg"
    assert words.figure_value(figure(2.0, 0.96)) == "+2.00 (+1.04 to +2.96) mmHg"
    assert words.figure_value(figure(3.0, 1.0)) == "+3.0 (+2.0 to +4.0) mmHg"


def test_the_sentence_has_figure_limit_source_and_verdict():
    """Oracle: by construction."""
    result = CheckResult(
        kind="static", verdict="fails", figures={"worst_error": figure(-5.0, 1.0)}, limit="non-automated"
    )
    assert words.check_sentence(result) == (
        "static accuracy: worst error -5.0 (-6.0 to -4.0) mmHg at 200 mmHg, within 3 mmHg either way (ISO "
        "81060-1:2007, from memory: not checked against the print): fails."
    )
    nothing = CheckResult(kind="leak", verdict="not-judged", figures={}, limit="automated")
    assert words.check_sentence(nothing) == "leak: cannot be judged."


def test_open_times_ranges_and_holds_are_told():
    """Oracle: by construction."""
    ten = Cited(10.0, "s", "practice", "-", "common practice")
    open_ = Figure(value=12.0, low=12.0, high=math.inf, unit="s", most=ten)
    assert words.figure_value(open_) == "over 12.0 s"
    assert words.limit_words(open_) == "at most 10 s (common practice, without a printed source)"
    bleed = BLEED_LIMITS["non-automated"]
    rate = Figure(value=2.5, low=2.4, high=2.6, unit="mmHg/s", least=bleed.least, most=bleed.most)
    assert words.limit_words(rate).startswith("2 to 3 mmHg/s (ISO 81060-1:2007")
    assert words.figure_name("hold_2") == "hold 2"
    assert words.figure_name("worst_error") == "worst error"
    assert words.figure_name("largest_error") == "largest error"


def test_due_is_told_with_its_day_and_its_source():
    """Oracle: by construction."""
    found = due(date(2031, 1, 5), "static-aneroid", date(2031, 6, 30))
    assert words.due_sentence(found) == "due soon: by 5 July 2031"
    assert words.due_sentence(due(None, "cuff", date(2031, 6, 30))) == "overdue: never done"
    assert words.every_words(SCHEDULE["static-aneroid"]).startswith("every 6 months (ACVIM 2018, from memory")
    assert words.every_words(SCHEDULE["look"]).startswith("every day (common practice")


def told(*errors: float) -> str:
    """Of half-yearly checks."""
    points = [DriftPoint(on=date(2028, 1, 10) + timedelta(days=182 * k), error_mmhg=e) for k, e in enumerate(errors)]
    return " ".join(words.drift_sentences(drift(points, LIMIT)))


def test_drift_is_told_with_its_reach():
    """Too few, passed, out of reach, within reach with and without a late end.

    Oracle: by construction.
    """
    assert "Four checks" in told(0.1, 0.2)
    assert "Four checks" in told(0.1, 0.2, 0.1)
    assert "quiet" not in told(0.1, 0.2, 0.1)
    assert "Do not use the instrument" in told(0.1, 0.2, 3.4)
    steady = told(0.1, -0.1, 0.2, 0.0, -0.2, 0.1)
    assert "does not pass 3 mmHg before" in steady
    assert "of later they say nothing" in steady
    assert "The control chart is quiet." in steady
    assert "Have it serviced before" in told(0.1, 0.5, 0.9, 1.3, 1.8, 2.2)
    assert "perhaps from" in told(0.0, 0.9, 0.2, 1.4, 0.5, 1.5)


def test_a_slow_drift_is_told_against_the_mean_that_it_is_held_against() -> None:
    """The chart's middle is that of the first five checks and not the first check alone, and the sentence says so.

    Oracle: by construction: `drift.BASELINE` is five.
    """
    assert BASELINE == 5
    assert "the mean of the first five checks" in words.RULES["slow-drift"]
