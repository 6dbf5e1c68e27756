"""Circumstances as lines."""

from __future__ import annotations

from typing import get_args

from figures.examples import CAT
from quietlimb.engine.circumstances import Circumstances, Place, Position
from quietlimb.reports.setting import POSITIONS, cuff_line, height_line, setting_lines
from quietlimb.words.place import PLACES


def test_every_place_and_position_has_words() -> None:
    """No place or position of the vocabulary is without words.

    Oracle: by construction: the vocabulary itself.
    """
    assert set(PLACES) == set(get_args(Place))
    assert set(POSITIONS) == set(get_args(Position))


def test_the_cuff_is_told_with_its_ratio() -> None:
    """2.5 cm on 7.1 cm is 35 % (2.5 / 7.1 = 0.352).

    Oracle: by construction.
    """
    assert cuff_line(CAT) == "cuff 2.5, 2.5 cm wide on a limb of 7.1 cm, 35 %"
    assert cuff_line(Circumstances(species="dog")) is None


def test_the_side_of_the_heart_is_told() -> None:
    """Positive is below the heart, as the vocabulary defines it.

    Oracle: by construction: Circumstances.cuff_below_heart_cm.
    """
    assert height_line(Circumstances(species="cat", cuff_below_heart_cm=12.0)) == "12 cm below the heart"
    assert height_line(Circumstances(species="cat", cuff_below_heart_cm=-3.0)) == "3 cm above the heart"
    assert height_line(Circumstances(species="cat", cuff_below_heart_cm=0.0)) == "at heart level"


def test_what_was_not_told_is_left_out() -> None:
    """Of a dog with nothing told only the method is a line.

    Oracle: by construction.
    """
    assert setting_lines(Circumstances(species="dog")) == [("Method", "oscillometric")]
    assert dict(setting_lines(CAT))["Site"] == "left forelimb"
