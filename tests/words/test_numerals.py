"""Days and weeks in words."""

from __future__ import annotations

import pytest

from quietlimb.words.numerals import days, decimals_beside, percent


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
        ((180.0, 365.0), "in 6 to 12 months"),
        ((335.0, 365.0), "in about a year"),
        ((1.0, 60.0), "within two months"),
        ((2.0, 60.0), "in 2 to 60 days"),
    ],
)
def test_windows_read_as_people_say_them(window, words):
    """Whole weeks become weeks, whole months from three on months, 0 becomes today. Where a text names no first day,
    ours is not told as the text's.

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


@pytest.mark.parametrize(
    ("value", "least", "shown"),
    [
        (152.4, 0, "152"),
        (159.4, 0, "159"),
        (159.6, 0, "159.6"),
        (159.6, 1, "159.6"),
        (159.94, 1, "159.9"),
        (159.96, 1, "159.96"),
        (159.9996, 0, "159.9996"),
        (160.0, 1, "160.0"),
        (160.04, 1, "160.0"),
        (139.5, 0, "139.5"),
    ],
)
def test_a_pressure_is_never_shown_across_a_boundary(value, least, shown):
    """As many decimals as keep it on its own side of 140, 160 and 180.

    Oracle: by construction, Python's rounding of the same number.
    """
    assert f"{value:.{decimals_beside(value, (140.0, 160.0, 180.0), least)}f}" == shown
