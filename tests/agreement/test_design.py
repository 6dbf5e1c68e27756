"""Sample size and power of a comparison."""

from __future__ import annotations

import pytest

from quietlimb.agreement.design import (
    Expected,
    animals_for_bias,
    animals_for_power,
    animals_for_width,
    bias_half_width,
    limit_half_width,
    limit_se,
    power,
    simulated_half_width,
    simulated_power,
)
from quietlimb.engine.errors import ParameterError

EIGHT = Expected(between_sd=8.0, within_sd=0.0)
CUFF = Expected(bias=-2.0, between_sd=6.0, within_sd=8.0)


def test_a_limit_within_3_mmhg_takes_about_80_animals() -> None:
    """With a standard deviation of 8.

    Oracle: derived, n = 11.2 (s / w)^2 = 80 (Bland and Altman's standard error by the normal law). Tolerance: 3, for
    the t law that is used here.
    """
    found = animals_for_width(EIGHT, 3.0)
    assert found == pytest.approx(80, abs=3)
    assert limit_half_width(EIGHT, found) <= 3.0 < limit_half_width(EIGHT, found - 1)


def test_eight_animals_cannot_tell_ten_from_none() -> None:
    """With a standard deviation of 12 the bias of 8 animals is known to 10 mmHg, of 25 to 5.0.

    Oracle: derived, t(0.975, 7) 12 / sqrt 8. Tolerance: the printed digits.
    """
    twelve = Expected(between_sd=12.0, within_sd=0.0)
    assert bias_half_width(twelve, 8) == pytest.approx(10.0, abs=0.05)
    assert bias_half_width(twelve, 25) == pytest.approx(5.0, abs=0.05)
    assert animals_for_bias(twelve, 5.0) == 25


def test_the_standard_error_is_the_usual_one_without_replicates() -> None:
    """s sqrt(1/n + 1.96^2 / (2 (n - 1))).

    Oracle: published, Bland and Altman 1999 by way of their 85 subjects: 3.6495 for a standard deviation of 19.6110.
    """
    assert limit_se(Expected(between_sd=19.6110, within_sd=0.0), 85) == pytest.approx(3.6495, abs=5e-4)


@pytest.mark.parametrize(
    ("expected", "tolerable", "animals", "readings"),
    [(EIGHT, 22.0, 60, 1), (EIGHT, 20.0, 100, 1), (CUFF, 28.0, 30, 3), (CUFF, 26.0, 45, 5), (CUFF, 30.0, 25, 2)],
)
def test_the_formula_of_power_agrees_with_simulation(
    expected: Expected, tolerable: float, animals: int, readings: int
) -> None:
    """Comparisons drawn and analysed succeed as often as the formula says.

    Oracle: a slower twin, simulation with 4000 runs. Tolerance: 0.06, that of the formula, which takes the degrees of
    freedom of animals for all of the scatter.
    """
    drawn = simulated_power(expected, tolerable, animals, readings, seed=20311)
    assert 0.3 < drawn < 0.99
    assert power(expected, tolerable, animals, readings) == pytest.approx(drawn, abs=0.06)


@pytest.mark.parametrize("readings", [1, 4])
def test_the_formula_of_width_agrees_with_simulation(readings: int) -> None:
    """The interval of a limit is as wide as in drawn comparisons.

    Oracle: a slower twin. Tolerance: 3 %, for the mean of a root.
    """
    drawn = simulated_half_width(CUFF, 40, readings, seed=7)
    assert limit_half_width(CUFF, 40, readings) == pytest.approx(drawn, rel=0.03)


def test_the_same_seed_gives_the_same_answer() -> None:
    """And another another.

    Oracle: by construction.
    """
    first, again, other = (simulated_power(CUFF, 28.0, 30, 3, seed=seed, runs=500) for seed in (1, 1, 2))
    assert first == again != other


def test_the_wanted_power_is_reached_and_not_by_one_animal_less() -> None:
    """The number asked for is the smallest.

    Oracle: by construction.
    """
    found = animals_for_power(CUFF, 28.0, 0.8, 3)
    assert power(CUFF, 28.0, found, 3) >= 0.8 > power(CUFF, 28.0, found - 1, 3)


def test_readings_help_less_than_animals() -> None:
    """What differs between animals is not averaged away by more readings.

    Oracle: by construction.
    """
    assert bias_half_width(CUFF, 10, 20) > bias_half_width(CUFF, 20, 10)
    assert bias_half_width(CUFF, 10, 20) < bias_half_width(CUFF, 10, 1)


def test_what_no_number_can_do_is_told() -> None:
    """Limits that reach beyond what is tolerable are not mended by more animals.

    Oracle: by construction.
    """
    assert animals_for_power(EIGHT, 15.0, 0.8) is None
    assert animals_for_width(EIGHT, 0.01) is None


@pytest.mark.parametrize(
    "call",
    [
        lambda: Expected(between_sd=0.0, within_sd=0.0),
        lambda: Expected(between_sd=-1.0, within_sd=1.0),
        lambda: limit_se(EIGHT, 1),
        lambda: limit_se(EIGHT, 8, 0),
        lambda: animals_for_power(EIGHT, 30.0, 1.0),
    ],
)
def test_impossible_designs_are_refused(call) -> None:
    """With a remedy.

    Oracle: by construction.
    """
    with pytest.raises(ParameterError):
        call()
