"""Days and weeks in words."""

from __future__ import annotations

import pytest

from quietlimb.words.numerals import days, percent


@pytest.mark.parametrize(
    ("window", "words"),
    [
        ((0.0, 0.0), "today"),
        ((1.0, 3.0), "in 1 to 3 days"),
        ((7.0, 14.0), "in 1 to 2 weeks"),
        ((28.0, 56.0), "in 4 to 8 weeks"),
        ((7.0, 7.0), "in 1 week"),
        ((14.0, 14.0), "in 2 weeks"),
        ((0.0, 1.0), "within 1 day"),
        ((0.0, 14.0), "within 14 days"),
        ((3.0, 3.0), "in 3 days"),
        ((7.0, 10.0), "in 7 to 10 days"),
        ((30.0, 60.0), "in 30 to 60 days"),
        ((90.0, 90.0), "in 3 months"),
        ((90.0, 180.0), "in 3 to 6 months"),
        ((120.0, 180.0), "in 4 to 6 months"),
        ((180.0, 365.0), "in 180 to 365 days"),
    ],
)
def test_windows_read_as_people_say_them(window, words):
    """Whole weeks become weeks, whole months from three on months, 0 becomes today.

    Oracle: by construction.
    """
    assert days(window) == words


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
