"""Plain text for 80 columns."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from quietlimb.cli.layout import WIDTH, bullets, estimate_table, table, whole, wrapped
from quietlimb.engine.values import Estimate


@given(st.text(max_size=300))
def test_wrapped_text_keeps_to_the_width_and_prints(text: str) -> None:
    """Whatever a file says, no line is longer than 80 columns and no line holds a control character.

    Oracle: by construction.
    """
    for line in wrapped(text) + bullets([text]):
        assert len(line) <= WIDTH
        assert line.isprintable()


def test_columns_stand_under_their_names() -> None:
    """Numbers to the right, words to the left, two blanks between.

    Oracle: by construction.
    """
    assert table(("no", "why"), [("1", "a"), ("10", "bcde")], left=frozenset({"why"})) == [
        "  no  why",
        "   1  a",
        "  10  bcde",
    ]


def test_a_value_that_cannot_be_given_says_so() -> None:
    """A missing estimate is a hyphen and words, never a number.

    Oracle: by construction.
    """
    there = Estimate(value=150.04, low=140.0, high=160.0, own_sd=3.0, shared_sd=4.0)
    typed = replace(there, shared_sd=None)
    lines = estimate_table([("systolic", there), ("mean", None), ("diastolic", typed)], digits=1)
    assert lines[1].split() == ["systolic", "150.0", "140", "to", "160", "3.0", "4.0", "mmHg"]
    assert lines[2].split() == ["mean", "-", "not", "given"]
    assert lines[3].split() == ["diastolic", "150", "140", "to", "160", "3.0", "not", "known", "mmHg"]


@pytest.mark.parametrize(("value", "text"), [(None, "-"), (float("nan"), "-"), (149.6, "150")])
def test_whole_numbers(value: float | None, text: str) -> None:
    """Missing values are hyphens, others are rounded.

    Oracle: by construction.
    """
    assert whole(value) == text
