"""Whether sessions reach a line of treatment."""

from __future__ import annotations

import pytest

from quietlimb.engine.interpretation.treatment_lines import line_met, organs_allow, running
from quietlimb.engine.standards.isfm_2017 import ISFM_2017

EYES, KIDNEYS, NONE = frozenset({"eyes"}), frozenset({"kidneys"}), frozenset()


@pytest.mark.parametrize(
    ("condition", "damaged", "allowed"),
    [
        ("eyes", EYES, True),
        ("eyes", frozenset({"brain"}), False),
        ("eyes or brain", EYES, True),
        ("eyes or brain", frozenset({"brain"}), True),
        ("eyes or brain", KIDNEYS, False),
        ("any organ", KIDNEYS, True),
        ("any organ", NONE, False),
        ("none", NONE, True),
        ("none", EYES, True),
    ],
)
def test_what_a_line_asks_of_the_organs(condition, damaged, allowed):
    """Only damage that was found counts; a line that asks for none is open to all.

    Oracle: from memory, ISFM 2017.
    """
    assert organs_allow(condition, damaged) is allowed


@pytest.mark.parametrize(
    ("values", "damaged", "persistent", "says", "line"),
    [
        ([150], EYES, True, "reached", 150),
        ([149.9], EYES, True, "not reached", 150),
        ([150], KIDNEYS, True, "not reached", 160),
        ([160], KIDNEYS, True, "when confirmed", 160),
        ([160, 160], KIDNEYS, True, "reached", 160),
        ([160, 160], KIDNEYS, False, "when confirmed", 160),
        ([169.9, 169.9], NONE, True, "not reached", 170),
        ([170, 169.9, 170], NONE, True, "when confirmed", 170),
        ([170, 170], NONE, True, "reached", 170),
    ],
)
def test_lines_of_the_cats_rule_set_by_sessions(values, damaged, persistent, says, line):
    """Sessions running up to the last, at each edge.

    Oracle: from memory, ISFM 2017 entry criteria.
    """
    found = line_met(ISFM_2017.treatment, values, damaged, persistent=persistent)
    assert (found.says, found.line.from_mmhg.value) == (says, line)


def test_without_lines_nothing_is_reached():
    """A rule set for old charts.

    Oracle: by construction.
    """
    found = line_met((), [300.0], EYES)
    assert (found.says, found.line, found.count) == ("not reached", None, 0)


def test_only_the_sessions_at_the_end_run():
    """A lower session breaks the run.

    Oracle: by construction.
    """
    line = ISFM_2017.treatment[2]
    assert [running(line, values) for values in ([], [180], [180, 100], [180, 100, 175, 171])] == [0, 1, 0, 2]
