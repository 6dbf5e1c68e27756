"""What is said of a series as a whole."""

from __future__ import annotations

import numpy as np
import pytest

from engine.session.examples import series_of
from quietlimb.engine.session.charted import Course
from quietlimb.engine.session.charting import chart
from quietlimb.engine.session.guideline import guideline_average
from quietlimb.engine.session.series_findings import series_findings


def said_of(
    systolic: list[float], course: Course = "level", falling: float = 0.0, minute: list[float] | None = None
) -> set[str]:
    found = series_findings(
        np.array(systolic),
        1.2 * np.arange(len(systolic)) if minute is None else np.array(minute),
        course=course,
        falling_mmhg_per_min=falling,
        guideline=guideline_average(series_of(systolic)),
    )
    return {finding.code for finding in found}


def test_quiet_series_has_nothing_said_of_it() -> None:
    """Six readings within 4 mmHg leave nothing to say. Oracle: by construction."""
    assert said_of([152.0, 150.0, 151.0, 149.0, 150.0, 153.0]) == set()


@pytest.mark.parametrize(
    ("systolic", "said"),
    [([150.0] * 5, True), ([151.0] + [150.0] * 5, True), ([150.0] * 4 + [151.0], False), ([150.0, 151.0] * 4, False)],
)
def test_five_times_the_same_in_a_row_is_noted(systolic: list[float], said: bool) -> None:
    """Five equal readings in a row are noted; four, or equal ones with others between, are not.

    Oracle: common practice (a display that repeats itself is worth a look); the five is ours.
    """
    assert ("same-value-repeated" in said_of(systolic)) is said


@pytest.mark.parametrize(
    ("course", "speed", "said"),
    [("falling", 1.0, True), ("falling", 0.9, False), ("unclear", 3.0, False), ("level", 3.0, False)],
)
def test_still_falling_needs_a_fall_and_a_speed(course: Course, speed: float, said: bool) -> None:
    """Only a series called falling that still loses 1 mmHg a minute is still falling. Oracle: invented, frozen here."""
    assert ("still-falling" in said_of([170.0, 160.0, 155.0, 150.0], course, speed)) is said


@pytest.mark.parametrize(("minute", "said"), [([0.0, 1.0, 122.0], True), ([0.0, 120.0, 240.0], False)])
def test_a_pause_of_hours_is_told(minute: list[float], said: bool) -> None:
    """Readings more than two hours apart are hardly one session. Oracle: invented, frozen here."""
    assert ("long-pause" in said_of([150.0, 151.0, 152.0], minute=minute)) is said


def test_a_new_beginning_is_asked_for_unless_spoiled_readings_alone_broke_the_rule() -> None:
    """Scatter asks to start again; one reading far off asks for one in its place, elsewhere.

    Oracle: from memory, ACVIM 2018, the rule on variability; invented, that a spoiled reading is passed over.
    """
    scattered, spoiled = [130.0, 168.0, 150.0, 185.0, 142.0, 171.0], [152.0, 148.0, 205.0, 149.0, 150.0, 151.0]
    for systolic, said in ((scattered, True), (spoiled, False)):
        assert ("not-consistent" in {finding.code for finding in chart(series_of(systolic)).findings}) is said


def test_one_reading_is_said_to_be_one() -> None:
    """One usable reading is named, and nothing is said of a spread it cannot have. Oracle: by construction."""
    assert said_of([150.0]) == {"one-reading-only"}
