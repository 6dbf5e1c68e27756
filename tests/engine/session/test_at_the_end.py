"""Whether a pressure still moves at the end of its series."""

from __future__ import annotations

import pytest

from engine.session.examples import series_of
from quietlimb.engine.interpretation.interpret import interpret
from quietlimb.engine.session.at_the_end import fall_at_end, still_falling, still_rising
from quietlimb.engine.session.charting import chart
from quietlimb.engine.session.enough import enough

LEVELLED = [190.0, 175.0, 165.0, 160.0, 157.0, 156.0, 155.0, 155.0, 155.0, 156.0, 154.0, 155.0, 155.0]
FALLING = [195.0, 182.0, 173.0, 166.0, 161.0, 158.0, 156.0]
RISING = [138.0, 143.0, 150.0, 154.0, 160.0, 163.0, 168.0]
RISEN = [140.0, 146.0, 151.0, 154.0, 157.0, 159.0, 160.5, 162.0, 163.0, 163.5]
WAITS = {"wait-until-level", "settle-while-rising"}


@pytest.mark.parametrize(
    ("course", "speed", "falls"),
    [
        ("falling", 1.0, True),
        ("falling", 0.99, False),
        ("falling", None, True),
        ("level", 3.0, False),
        (None, 3, False),
    ],
)
def test_a_fall_goes_on_from_a_speed_on(course, speed, falls):
    """Only a falling course, from 1 mmHg a minute on; one whose end is not known is taken to go on.

    Oracle: invented, frozen here.
    """
    assert still_falling(course, speed) is falls


@pytest.mark.parametrize(
    ("course", "speed", "fall_mmhg", "rises"),
    [
        ("rising", -1.0, -5.0, True),
        ("rising", -0.99, -20.0, False),
        ("rising", None, None, True),
        ("unclear", -1.0, -10.0, True),
        ("unclear", -1.0, -9.9, False),
        ("unclear", -0.5, -10.0, False),
        ("level", -3.0, -10.0, False),
    ],
)
def test_a_rise_goes_on_from_a_speed_on(course, speed, fall_mmhg, rises):
    """A rising course, or one that may rise and went up by 10 mmHg.

    Oracle: invented, frozen here; common practice for the 10 mmHg of a fall that speaks for the visit.
    """
    assert still_rising(course, speed, fall_mmhg=fall_mmhg) is rises


@pytest.mark.parametrize(
    ("systolic", "course", "moves"),
    [(LEVELLED, "falling", False), (FALLING, "falling", True), (RISING, "rising", True), (RISEN, "rising", False)],
)
def test_what_to_do_next_is_the_same_by_the_readings_and_by_the_rule_set(systolic, course, moves):
    """A fall that came to its end eight minutes ago is not waited for, and while it moves nothing says enough.

    Oracle: by construction: either both ask to go on until the pressure is level, or neither does.
    """
    charted = chart(series_of(systolic))
    assert charted.course == course
    told = enough(charted)
    assert told is not None
    codes = {advice.code for advice in interpret(charted).next}
    assert bool(WAITS & codes) is moves
    assert bool({"still-falling", "still-rising"} & set(told.why)) is moves
    assert told.by_numbers is not moves
    assert f"still-{course}" in {caution.code for caution in interpret(charted).cautions}


def test_a_rise_is_a_negative_fall():
    """The speed has the sign of a fall.

    Oracle: by construction.
    """
    assert (fall_at_end(chart(series_of(RISING))) or 0.0) < -1.0
    assert (fall_at_end(chart(series_of(FALLING))) or 0.0) > 1.0
    assert fall_at_end(chart(series_of([None, None]))) is None
