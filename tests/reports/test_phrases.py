"""Numbers and parts of a session as they are printed."""

from __future__ import annotations

from dataclasses import replace

import pytest

from figures.examples import FEW, MOVED, charted, estimate, interpretation
from quietlimb.engine.interpretation.interpretation import Advice, Caution
from quietlimb.reports.phrases import (
    advice_line,
    caution_lines,
    course_line,
    digits_of,
    ended,
    guideline_line,
    ordinals,
    percent,
    why,
    with_interval,
)
from quietlimb.words import findings as finding_words


@pytest.mark.parametrize(
    ("probability", "told"),
    [
        (0.0, "0 %"),
        (0.0049, "< 1 %"),
        (0.005, "< 1 %"),
        (0.0051, "1 %"),
        (0.58, "58 %"),
        (0.9951, "> 99 %"),
        (1.0, "100 %"),
    ],
)
def test_only_certainty_is_told_as_certain(probability: float, told: str) -> None:
    """Nearly nothing and nearly everything are told as such, whole percent otherwise.

    Oracle: by construction.
    """
    assert percent(probability) == told


def test_runs_of_readings_are_joined() -> None:
    """2, 4, 5, 6, 9, 10 is told as `2, 4 to 6, 9, 10`.

    Oracle: by construction.
    """
    assert ordinals((2, 4, 5, 6, 9, 10)) == "2, 4 to 6, 9, 10"
    assert ordinals(()) == ""


def test_an_interval_is_told_with_its_value() -> None:
    """148.4 with half-width 6.3 is `148 (142 to 155)`, and with a decimal throughout near a boundary.

    Oracle: by construction.
    """
    assert with_interval(estimate(148.4, 6.3)) == "148 (142 to 155)"
    assert with_interval(estimate(148.4, 6.3), 1) == "148.4 (142.1 to 154.7)"
    assert digits_of(replace(interpretation(), near_boundary=True)) == 1
    assert digits_of(None) == 0


def test_a_sentence_ends_once() -> None:
    """A full stop is added where there is none, and never a second one.

    Oracle: by construction.
    """
    assert ended("remarks slept") == "remarks slept."
    assert ended("remarks slept.") == "remarks slept."
    assert ended("remarks slept!") == "remarks slept!"


def test_guideline_line_tells_readings_and_its_rule() -> None:
    """Values, readings and whether the rule was met are told; so is that there is no average.

    Oracle: by construction.
    """
    average = charted(6).guideline
    assert average is not None
    assert guideline_line(average) == "151/114/93 from readings 2, 4 to 6, consistent"
    assert guideline_line(average, 1) == "151.2 systolic, 114 mean, 93 diastolic from readings 2, 4 to 6, consistent"
    loose = replace(average, consistent=False, enough=False)
    assert guideline_line(loose).endswith("not consistent, fewer readings than it asks for")
    assert guideline_line(None) == "no guideline average"


def test_course_has_its_own_probability() -> None:
    """A falling course is told with the probability of falling, not with that of level.

    Oracle: by construction: level 0.71, falling 0.22.
    """
    assert course_line(charted(6)).endswith("(71 %)")
    assert course_line(charted(3)).endswith("(22 %)")
    assert "%" not in course_line(replace(charted(3), course="unclear"))


def test_why_is_the_worst_finding() -> None:
    """Of a doubt and a spoiling finding the spoiling one is told, with the number of others; notes are not reasons.

    Oracle: by construction.
    """
    spoils = replace(FEW, severity="spoils")
    judged = replace(charted(6).readings[0], findings=(MOVED, spoils))
    assert why(judged) == finding_words.says(spoils) + " (and 1 more)"
    assert why(replace(judged, findings=(replace(MOVED, severity="note"),))) == ""


def test_the_window_of_an_advice_is_never_lost() -> None:
    """A window that the sentence does not name is put in front of it.

    Oracle: by construction.
    """
    step = Advice(
        code="no-treatment-on-this-alone",
        within_days=(28, 56),
        source="ACVIM2018",
        place="decision flow",
        standing="from memory",
    )
    assert advice_line(step).startswith("in 4 to 8 weeks: ")
    named = replace(step, code="recheck")
    assert advice_line(named).count("in 4 to 8 weeks") == 1


def test_the_cautions_at_the_foot_are_not_repeated() -> None:
    """Two cautions are printed on every page by themselves and left out of the list.

    Oracle: by construction.
    """
    told = interpretation(cautions=tuple(Caution(code=code) for code in ("near-boundary", "veterinarian-decides")))
    assert len(caution_lines(told)) == 1
    assert caution_lines(None) == []
