"""A comparison in sentences."""

from __future__ import annotations

from dataclasses import replace
from typing import get_args

from scipy import stats
from statsmodels.stats.proportion import proportion_confint

from agreement.invented_rows import invented_rows
from quietlimb.agreement.comparing import as_run, compare_rows
from quietlimb.agreement.criteria import Verdict
from quietlimb.agreement.interval import Interval
from quietlimb.agreement.plan import Analysis
from quietlimb.agreement.schemes import SCHEMES
from quietlimb.agreement.synchrony import Reason
from quietlimb.agreement.window_rule import WINDOWS, Rule
from quietlimb.words import comparison as words

ALL = Analysis(quantities=("systolic",), schemes=tuple(SCHEMES))


def test_every_criterion_of_every_scheme_can_be_told() -> None:
    """Name, value, limit, verdict and source of each, without a placeholder left.

    Oracle: by construction.
    """
    for rows in (invented_rows(1), invented_rows(2, readings=1), invented_rows(3, animals=2)):
        (found,) = compare_rows(*as_run(rows, ALL))
        for judgement in found.comparison.judgements:
            assert judgement.scheme.name in words.verdict_sentence(judgement)
            for each in judgement.judged:
                told = (words.criterion_name(each), words.criterion_value(each), words.criterion_limit(each))
                assert all(told)
                assert not any("{" in text or "nan" in text for text in told)
                assert words.verdict_name(each.verdict)
        for lacks in found.lacks:
            assert all(words.recruitment_sentences(lacks))


def test_every_verdict_has_words() -> None:
    """Those of the room, and no others.

    Oracle: by construction.
    """
    assert set(words.VERDICTS) == set(get_args(Verdict))


def test_every_reason_and_window_has_a_sentence() -> None:
    """With the numbers that it carries.

    Oracle: by construction.
    """
    assert "whole beats in the window: 3, and 5 are wanted" in words.reason_sentence(
        Reason(code="few-beats", numbers={"beats": 3.0, "wanted": 5.0})
    )
    pulses = Reason(code="pulses-differ", numbers={"cuff_per_min": 90.0, "artery_per_min": 180.0})
    assert "180 a minute" in words.reason_sentence(pulses)
    for code in ("tested-failed", "no-window"):
        assert words.reason_sentence(Reason(code=code))
    for window in WINDOWS:
        assert "at least 5" in words.rule_sentence(Rule(window=window))


def test_the_methods_paragraph_holds_the_numbers_of_this_comparison() -> None:
    """Animals, determinations, failures, bias and limits as they came out; that the data are invented.

    Oracle: by construction.
    """
    rows, analysis = as_run(invented_rows(4, failed=2), replace(ALL, rule=Rule()))
    compared = [each.comparison for each in compare_rows(rows, analysis)]
    text = words.methods_paragraph(rows, compared, analysis)
    limits = compared[0].limits
    assert limits is not None
    for part in (
        "INVENTED",
        "in 9 animals, 36 determinations in all, 4 of an animal",
        "9 cats",
        "without knowledge of the other",
        "2 of 36 attempts",
        f"bias {limits.bias.estimate:+.1f}",
        f"{limits.upper.estimate:+.1f}",
        "from the top of the inflation",
        "There was no analysis plan.",
    ):
        assert part in text, part


def test_names_and_limits_of_criteria_say_what_they_are_of() -> None:
    """A grade's rows name it, a bias may be off to either side, a count has no interval.

    Oracle: by construction.
    """
    rows, analysis = as_run(invented_rows(5), ALL)
    (found,) = compare_rows(rows, analysis)
    told = {
        judgement.scheme.key: [
            (words.criterion_name(each), words.criterion_value(each), words.criterion_limit(each))
            for each in judgement.judged
        ]
        for judgement in found.comparison.judgements
    }
    assert [name.partition(":")[0] for name, _, _ in told["bhs-grades"]] == ["grade A"] * 3 + ["grade B"] * 3 + [
        "grade C"
    ] * 3
    assert told["veterinary-consensus"][0][2] == "within ±10"
    (effective,) = (value for name, value, _ in told["iso-81060-3"] if name == "effective pairs")
    assert " to " not in effective


def test_the_interval_of_a_whole_share_is_explained_by_its_animals() -> None:
    """Where animals have several pairs the sentence gives the end of the interval of a share of 100 %.

    Oracle: reference library statsmodels 0.14, Wilson's interval of 9 of 9; widened for nine animals by the squared
    ratio of the t quantiles, as the module's docstring has it.
    """
    rows, analysis = as_run(invented_rows(5), Analysis(quantities=("systolic",)))
    (found,) = compare_rows(rows, analysis)
    worth = 9.0 * float(stats.t.ppf(0.975, 35) / stats.t.ppf(0.975, 8)) ** 2
    low = float(proportion_confint(worth, worth, method="wilson")[0])
    (sentence,) = (each for each in words.comparison_sentences(found.comparison) if "are alike" in each)
    assert f"no better than {100.0 * low:.0f} % to 100 %" in sentence
    (single,) = compare_rows(*as_run(invented_rows(5, readings=1), Analysis(quantities=("systolic",))))
    assert not any("are alike" in each for each in words.comparison_sentences(single.comparison))


def test_one_is_no_plural_and_nothing_has_no_minus() -> None:
    """One pair of one animal; an end that rounds to nothing has no minus.

    Oracle: by construction.
    """
    assert words.pairs_words(1, 1) == "1 pair of 1 animal"
    assert words.pairs_words(34, 9) == "34 pairs of 9 animals"
    assert (words.animals_words(1), words.determinations_words(1)) == ("1 animal", "1 determination")
    interval = Interval(estimate=-0.04, low=-2.0, high=0.04, confidence=0.95)
    assert words.interval_words(interval, signed=True) == "+0.0 (-2.0 to +0.0)"
    assert words.interval_words(interval) == "0.0 (-2.0 to 0.0)"
