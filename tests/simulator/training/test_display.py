"""What an instrument that shows only numbers displays."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from quietlimb.simulator.training import CASES, Choices, TrainingAnimal, numbers_of

CASE = CASES["weight-on-the-paw"]
GOOD = Choices(cuff_width_cm=3.8, inflate_to_mmhg=195.0)


def test_numbers_scatter_about_what_the_setup_shows() -> None:
    """Twenty displays of a quiet limb, in whole numbers and in order.

    Oracle: by construction, SD 3 mmHg. Tolerance: four standard errors of a mean of 20.
    """
    animal = TrainingAnimal(replace(CASE, temper=replace(CASE.temper, moves=0.0)))
    made = [animal.inflate(GOOD, minute=5.0, number=k) for k in range(1, 21)]
    shown = [numbers_of(each) for each in made]
    assert numbers_of(made[0]) == shown[0]
    off = []
    for one, numbers in zip(made, shown, strict=True):
        assert numbers.failure is None
        assert numbers.diastolic is not None
        assert numbers.mean is not None
        assert numbers.systolic is not None
        assert numbers.diastolic < numbers.mean < numbers.systolic
        off.append(numbers.systolic - one.shown.systolic)
    assert np.mean(off) == pytest.approx(0.0, abs=4.0 * 3.2 / np.sqrt(20))
    assert 1.5 < np.std(off) < 6.0


def test_inflated_too_low_shows_nothing() -> None:
    """Below the systolic pressure there is no number, and the display asks for more.

    Oracle: common practice.
    """
    low = TrainingAnimal(CASE).inflate(replace(GOOD, inflate_to_mmhg=150.0), minute=5.0, number=1)
    shown = numbers_of(low)
    assert (shown.systolic, shown.failure) == (None, "inflate-higher")


def test_a_loaded_limb_gives_no_number_or_a_wrong_one() -> None:
    """Some inflations fail, the numbers of the others lie 15 mmHg or more from what they should be.

    Oracle: invented, the sizes of the module; 12 inflations all alike have a probability of 1 in 2048.
    """
    animal = TrainingAnimal(CASE)
    made = [animal.inflate(replace(GOOD, limb_loaded=True), minute=5.0, number=k) for k in range(1, 13)]
    shown = [(one.shown.systolic, numbers_of(one)) for one in made]
    assert 0 < sum(numbers.failure == "movement" for _, numbers in shown) < 12
    thrown = [abs(numbers.systolic - right) for right, numbers in shown if numbers.systolic is not None]
    assert np.mean(thrown) > 15.0
