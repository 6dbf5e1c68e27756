"""The course of a session in readable words."""

from __future__ import annotations

from collections.abc import Mapping

from quietlimb.engine.session.at_the_end import STILL_MOVES_MMHG_PER_MIN, fall_at_end, still_falling, still_rising
from quietlimb.engine.session.charted import ChartedPressure
from quietlimb.words.language import _, mark

COURSES: Mapping[str, str] = {
    "level": mark("level"),
    "falling": mark("still falling"),
    "rising": mark("still rising"),
    "unclear": mark("cannot tell"),
}


_AT_END: Mapping[str, str] = {
    "falling": mark("falling, under {speed:g} mmHg a minute at the end"),
    "rising": mark("rising, under {speed:g} mmHg a minute at the end"),
}


def course_name(course: str) -> str:
    """Readable name of a course: level, still falling, still rising, cannot tell."""
    return _(COURSES[course])


def charted_course(charted: ChartedPressure) -> str:
    """The course of a session; of a fall or a rise also whether it still went on: `still falling`, `falling, under 1
    mmHg a minute at the end`."""
    at_end = fall_at_end(charted)
    moves = still_falling(charted.course, at_end) or still_rising(charted.course, at_end, fall_mmhg=charted.fall_mmhg)
    if moves or charted.course not in _AT_END:
        return course_name(charted.course)
    return _(_AT_END[charted.course]).format(speed=STILL_MOVES_MMHG_PER_MIN)


def no_course() -> str:
    """What is told in place of a course where there is one reading only."""
    return _("one reading tells no course")
