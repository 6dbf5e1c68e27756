"""The population of simulated animals."""

from __future__ import annotations

import numpy as np
import pytest

from quietlimb.engine.circumstances import Species
from quietlimb.engine.errors import ParameterError
from quietlimb.simulator.animals import draw_animal


@pytest.mark.parametrize(
    ("species", "centre", "slowest", "fastest"), [("cat", 150.0, 110, 260), ("dog", 145.0, 50, 200)]
)
def test_population_keeps_to_its_ranges(species: Species, centre: float, slowest: float, fastest: float):
    """Systolic 80..240 about its centre, pulse pressure 20..95, pulse rate of the species, a cuff that fits.

    Oracle: invented ranges, frozen: they are what the accuracy figures are stated for; cuff 0.30 to 0.40 of the
    circumference is common practice. Tolerance: four standard errors of the mean (30 / sqrt(500)).
    """
    rng = np.random.default_rng(1)
    animals = [draw_animal(rng, species) for _ in range(500)]
    systolic = np.array([animal.systolic for animal in animals])
    assert systolic.mean() == pytest.approx(centre, abs=4 * 30 / np.sqrt(500))
    assert systolic.min() >= 80.0
    assert systolic.max() <= 240.0
    for animal in animals:
        assert 20.0 <= animal.pulse_pressure <= 95.0
        assert slowest <= animal.pulse_rate <= fastest
        assert 0.30 <= animal.cuff_width_cm / animal.limb_circumference_cm <= 0.40 + 1e-9


def test_what_is_given_leaves_the_rest_as_drawn():
    """Asking for another systolic pressure does not change pulse rate, shape or limb.

    Oracle: by construction: paired studies rest on it.
    """
    drawn = draw_animal(np.random.default_rng(3), "cat")
    asked = draw_animal(np.random.default_rng(3), "cat", systolic=200.0)
    assert asked.systolic == 200.0
    assert asked.pulse_rate == drawn.pulse_rate
    assert asked.limb_circumference_cm == drawn.limb_circumference_cm
    assert asked.shape.height.tobytes() == drawn.shape.height.tobytes()


def test_circumstances_say_that_it_is_simulated():
    """Animal, instrument and remarks each say so.

    Oracle: by construction: a simulated value must never be taken for a patient's.
    """
    circumstances = draw_animal(np.random.default_rng(3), "dog").circumstances
    assert circumstances.animal == "simulated dog"
    assert circumstances.instrument == "simulator"
    assert circumstances.remarks is not None
    assert "Not a patient's" in circumstances.remarks


def test_impossible_animals_are_refused():
    """Diastolic above systolic, or a pulse of 20 a minute, raises with a remedy.

    Oracle: by construction.
    """
    with pytest.raises(ParameterError, match="at least 5 below"):
        draw_animal(np.random.default_rng(3), "cat", systolic=120.0, diastolic=130.0)
    with pytest.raises(ParameterError, match="40 to 300"):
        draw_animal(np.random.default_rng(3), "cat", pulse_rate=20.0)
