"""Simulated comparisons and the lines of their catheters."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import signal

from quietlimb.engine.errors import ParameterError
from quietlimb.simulator.catheter_line import BAG_MMHG, CatheterLine
from quietlimb.simulator.comparisons import simulate_comparison, simulate_flush


def test_a_line_is_a_second_order_system() -> None:
    """A step comes out as of a mass on a spring.

    Oracle: reference library, scipy 1.x, `signal.step` of the continuous system. Tolerance: 2 % of the step, for the
    samples in between.
    """
    line = CatheterLine(natural_hz=20.0, damping=0.3)
    w = 2.0 * np.pi * 20.0
    step = np.concatenate((np.zeros(1000), np.full(1000, 100.0)))
    # between two samples the step is a ramp, so half a sample has gone by at the first
    _, expected = signal.step(([w**2], [1.0, 0.6 * w, w**2]), T=np.arange(1001) / 1000.0)
    expected = 0.5 * (expected[1:] + expected[:-1])
    np.testing.assert_allclose(line.tells(step, 1000.0)[1000:], 100.0 * expected, atol=2.0)


def test_zero_and_level_are_added() -> None:
    """A transducer 10 cm below the heart tells 7.4 mmHg more.

    Oracle: derived, a column of saline of 1005 kg/m3.
    """
    line = CatheterLine(natural_hz=20.0, damping=0.3, zero_mmhg=2.0, below_heart_cm=10.0)
    np.testing.assert_allclose(line.tells(np.full(500, 90.0), 1000.0), 99.4)


def test_a_comparison_comes_again_from_its_seed() -> None:
    """Same seed, same numbers; another, others; animals differ and the truth moves within them.

    Oracle: by construction.
    """
    first, again, other = (list(simulate_comparison(seed, animals=2, readings=2)) for seed in (5, 5, 6))
    assert [(each.animal, each.occasion) for each in first] == [(1, 1), (1, 2), (2, 1), (2, 2)]
    for one, two, three in zip(first, again, other, strict=True):
        np.testing.assert_array_equal(one.told_mmhg, two.told_mmhg)
        assert one.told_mmhg.shape == one.made.recording.time_s.shape
        assert one.made.truth.systolic != three.made.truth.systolic
    assert len({each.made.truth.systolic for each in first}) == 4


def test_a_flush_reaches_the_bag() -> None:
    """Twice, for a second.

    Oracle: by construction.
    """
    time, told = simulate_flush(3)
    high = told > 0.95 * BAG_MMHG
    assert np.count_nonzero(np.diff(high.astype(int)) == 1) == 2
    assert np.count_nonzero(high) * (time[1] - time[0]) == pytest.approx(2.0, abs=0.2)


@pytest.mark.parametrize("wanted", [{"animals": 0}, {"readings": 0}, {"scenario": "empty-cuff"}])
def test_impossible_comparisons_are_refused(wanted: dict) -> None:
    """With a remedy.

    Oracle: by construction.
    """
    with pytest.raises(ParameterError):
        list(simulate_comparison(1, **wanted))
    with pytest.raises(ParameterError):
        CatheterLine(natural_hz=0.0, damping=0.3)


def test_all_animals_are_of_one_species_and_of_the_site_asked_for() -> None:
    """Drawn once for all where no species is told, now a cat and now a dog.

    Oracle: by construction.
    """
    drawn = set()
    for seed in range(6):
        made = list(simulate_comparison(seed, animals=3, readings=1, site="tail"))
        around = [each.made.recording.circumstances for each in made]
        assert {each.site for each in around} == {"tail"}
        (species,) = {each.species for each in around}
        drawn.add(species)
    assert drawn == {"cat", "dog"}
