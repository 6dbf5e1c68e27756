"""Numbers and parts of a session as they are printed."""

from __future__ import annotations

from dataclasses import replace
from typing import get_args

import numpy as np
import pytest

from figures.examples import FEW, MOVED, charted, estimate, interpretation
from quietlimb.engine.circumstances import Circumstances
from quietlimb.engine.interpretation.interpretation import Advice, Caution
from quietlimb.engine.session.charting import chart
from quietlimb.engine.session.series import series_from_values
from quietlimb.engine.session.two_values import Cause, Part, TwoValues
from quietlimb.reports.phrases import (
    CAUSES,
    advice_line,
    caution_lines,
    course_line,
    digits_of,
    ended,
    guideline_line,
    ordinals,
    two_values_line,
    why,
    with_interval,
)
from quietlimb.words import findings as finding_words


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
    told = interpretation()
    near = replace(told, today=(told.today[0], replace(told.today[1], from_mmhg=150.0), *told.today[2:]))
    assert digits_of(charted(), near) == 1
    assert digits_of(charted(), replace(told, near_boundary=True)) == 0
    assert digits_of(charted(), None) == 0


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
    assert guideline_line(None) == "none, no reading could be used"


@pytest.mark.parametrize(
    ("systolic", "told"),
    [
        ([170.0], "none, no reading was kept after the first was dropped"),
        (
            [170.0, 168.0],
            "168 from reading 2, whether it is consistent cannot be judged, fewer readings than it asks for",
        ),
    ],
)
def test_one_reading_is_not_called_inconsistent(systolic: list[float], told: str) -> None:
    """With one reading, none is left; with two, the one left has nothing to be consistent with.

    Oracle: by construction; the protocol of ACVIM 2018, from memory, drops the first reading.
    """
    series = series_from_values(
        circumstances=Circumstances(species="cat", method="doppler"),
        minute=np.arange(float(len(systolic))),
        systolic=np.array(systolic),
    )
    assert guideline_line(chart(series).guideline) == told


def test_one_reading_tells_no_course() -> None:
    """No share of level, falling or rising is told of one reading: it would be that of any series.

    Oracle: by construction.
    """
    one = replace(charted(3), fall_mmhg=None)
    assert course_line(one) == "one reading tells no course"


def test_the_parts_of_a_difference_are_told_but_not_those_that_round_to_nothing() -> None:
    """Oracle: by construction, parts written here."""
    two = TwoValues(
        charted_mmhg=157.0,
        guideline_mmhg=161.5,
        difference_mmhg=4.5,
        charted_category="prehypertensive",
        guideline_category="hypertensive",
        parts=(
            Part(cause="fall-averaged-in", mmhg=4.48, readings=(2, 3, 4, 6)),
            Part(cause="scatter", mmhg=0.02, readings=(2, 3, 4, 6)),
        ),
        consistency="invented for this check",
        consistent=True,
        enough=False,
    )
    assert two_values_line(two) == (
        "guideline average minus charted pressure +4.5 mmHg: +4.5 a fall averaged in (readings 2 to 4, 6)"
    )
    assert set(CAUSES) == set(get_args(Cause))


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
    told = interpretation(cautions=tuple(Caution(code=code) for code in ("sedated", "veterinarian-decides")))
    assert len(caution_lines(told)) == 1
    assert caution_lines(None) == []
