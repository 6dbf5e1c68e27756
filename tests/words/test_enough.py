"""Whether the readings are enough, in words."""

from __future__ import annotations

from typing import Any

import pytest

from quietlimb.engine.session.enough import Enough
from quietlimb.words.enough import enough_sentences, width_sentence


def found(**changes: Any) -> Enough:
    told: dict[str, Any] = {
        "half_width_mmhg": 11.6,
        "expected_half_width_mmhg": (9.4, 7.6, 6.5),
        "wanted_mmhg": 8.0,
        "category": "prehypertensive",
        "category_probability": 0.8,
        "boundary_mmhg": 160.0,
        "by_numbers": False,
        "protocol_kept": 5,
        "protocol_needed": 5,
        "more": 2,
        "why": ("interval-too-wide",),
    }
    return Enough(**{**told, **changes})


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({}, ["2 readings more should bring the interval to 8 mmHg either way."]),
        ({"more": 1}, ["1 reading more should bring the interval to 8 mmHg either way."]),
        (
            {"why": ("category-open",), "more": 2},
            ["2 readings more may settle on which side of 160 mmHg it lies."],
        ),
        (
            {"why": ("still-falling", "interval-too-wide")},
            ["Still falling: let the animal sit, then go on."],
        ),
        (
            {"why": ("still-rising", "interval-too-wide")},
            ["Still rising: let the animal settle, then go on."],
        ),
        (
            {"why": ("interval-too-wide", "more-will-not-do"), "more": None},
            ["Three readings more are not expected to do: rest, another cuff or site, or take the interval as it is."],
        ),
        (
            {"why": ("category-cannot-be-told",), "by_numbers": True, "more": 0},
            [
                "Stop here: interval and protocol have what they ask for, and more readings of today would hardly "
                "tell on which side of 160 mmHg it lies; another session may.",
            ],
        ),
        (
            {
                "why": ("category-cannot-be-told", "fewer-than-the-protocol"),
                "by_numbers": True,
                "protocol_kept": 3,
            },
            [
                "Three readings more would hardly tell on which side of 160 mmHg it lies; another session may.",
                "Enough by the numbers; the protocol still asks for 2 readings (it has 3 of 5).",
            ],
        ),
        (
            {"why": ("fewer-than-the-protocol",), "by_numbers": True, "protocol_kept": 3},
            ["Enough by the numbers; the protocol still asks for 2 readings (it has 3 of 5)."],
        ),
        (
            {"why": ("interval-too-wide", "fewer-than-the-protocol"), "protocol_kept": 4},
            [
                "2 readings more should bring the interval to 8 mmHg either way.",
                "The protocol still asks for 1 reading (it has 4 of 5).",
            ],
        ),
        (
            {
                "why": ("interval-too-wide", "fewer-than-the-protocol"),
                "protocol_kept": 4,
                "expected_half_width_mmhg": (11.0, 10.5, 10.1),
            },
            [
                "The interval is wider than wanted, and three readings more are not expected to bring it to 8 mmHg "
                "either way.",
                "The protocol still asks for 1 reading (it has 4 of 5).",
            ],
        ),
        (
            {"why": ("not-consistent",), "by_numbers": True, "more": 0},
            ["The readings disagree by the protocol's rule: rest, then start again with another cuff or site."],
        ),
        ({"why": (), "by_numbers": True, "more": 0}, ["Enough, by the numbers and by the protocol."]),
        (
            {
                "why": ("category-told-though-wide",),
                "by_numbers": True,
                "more": 0,
                "boundary_mmhg": None,
                "category_probability": 0.98,
            },
            [
                "Enough, by the numbers and by the protocol.",
                "The interval is wider than wanted, but the category is settled with a probability of 98 %: that "
                "excuses it.",
            ],
        ),
        (
            {"why": ("interval-too-wide", "more-will-not-do"), "more": None, "shared_half_width_mmhg": 8.3},
            [
                "Three readings more are not expected to bring the interval to 8 mmHg either way: most of it is what "
                "all readings of this animal by this cuff and method share, and no number of them narrows that."
            ],
        ),
    ],
)
def test_each_state_has_its_sentence(changes: dict[str, Any], words: list[str]) -> None:
    """The most pressing comes first, and the protocol's count is never left out. Oracle: by construction."""
    assert enough_sentences(found(**changes)) == words


def test_the_widths_are_told() -> None:
    """Now, after one, two and three more, and the wanted one. Oracle: by construction."""
    told = width_sentence(found())
    assert "reaches 12 mmHg either way" in told
    assert "9, 8, 6 mmHg (wanted: 8)." in told
    assert told.endswith("(wanted: 8).")
    assert told.count(".") == 1


def test_a_width_just_missed_is_not_shown_as_reached() -> None:
    """8.48 mmHg is not 8 mmHg where 8 are wanted. Oracle: by construction."""
    told = width_sentence(found(half_width_mmhg=8.48))
    assert "reaches 8.5 mmHg" in told
    assert "9.4, 7.6, 6.5 mmHg (wanted: 8)" in told


def test_what_no_number_of_readings_narrows_is_told() -> None:
    """The part that all readings share, where it is known. Oracle: by construction."""
    told = width_sentence(found(shared_half_width_mmhg=7.6))
    assert told.endswith("What all readings share makes 8 mmHg by itself: no number of them brings it lower.")
