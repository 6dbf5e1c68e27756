"""The course of a session in readable words."""

from __future__ import annotations

from collections.abc import Mapping

from quietlimb.words.language import _, mark

COURSES: Mapping[str, str] = {
    "level": mark("level"),
    "falling": mark("still falling"),
    "rising": mark("rising"),
    "unclear": mark("cannot tell"),
}


def course_name(course: str) -> str:
    """Readable name of a course: level, still falling, rising, cannot tell."""
    return _(COURSES[course])


def no_course() -> str:
    """What is told in place of a course where there is one reading only."""
    return _("one reading tells no course")
