"""How much each choice does, and that it says where the figure is from."""

from __future__ import annotations

import math

import pytest

from quietlimb.engine.standards.cuff_width import judge_width
from quietlimb.simulator.training import effects


def test_the_column_of_blood_follows_from_its_density() -> None:
    """One centimetre of blood is 0.776 mmHg.

    Oracle: by construction, 1.055 g/mL over 13.5951 g/mL. Tolerance: half of the last digit.
    """
    assert pytest.approx(10.0 * 1.055 / 13.5951, abs=0.0005) == effects.BLOOD.value


@pytest.mark.parametrize("ratio", [0.15, 0.24, 0.29, 0.30, 0.35, 0.40, 0.41, 0.50, 0.70])
def test_a_cuff_errs_the_way_that_its_fit_says(ratio: float) -> None:
    """Narrow shows more, wide less, fitting the same; a narrow one errs more than a wide one as far off.

    Oracle: from memory, ACVIM 2018 for the limits; common practice for the direction.
    """
    factor = effects.cuff_factor(ratio)
    direction = judge_width(10.0 * ratio, 10.0, "dog").direction
    assert {"none": factor == 1.0, "reads high": factor > 1.0, "reads low": factor < 1.0}[direction]
    assert effects.cuff_factor(0.20) - 1.0 > 1.0 - effects.cuff_factor(0.50)


def test_the_rise_at_coming_in_settles() -> None:
    """A third is left after the time that it takes, and at home there is none.

    Oracle: by construction, exp(-1).
    """
    assert effects.settling_mmhg(30.0, 5.0, 5.0, "carrier") == pytest.approx(30.0 / math.e)
    assert effects.settling_mmhg(30.0, 5.0, 0.0, "consulting-room") == 30.0
    assert effects.settling_mmhg(30.0, 5.0, 0.0, "home") == 0.0


def test_an_animal_moves_more_while_it_stands_and_when_it_lasts() -> None:
    """Standing doubles, a minute beyond 45 s adds 0.6, and there is a most.

    Oracle: invented, the figures of the module.
    """
    assert effects.moves_share(0.1, "chest-down", 30.0) == 0.1
    assert effects.moves_share(0.1, "standing", 30.0) == 0.2
    assert effects.moves_share(0.1, "side-lying", 105.0) == pytest.approx(0.7)
    assert effects.moves_share(0.9, "standing", 300.0) == 0.95
