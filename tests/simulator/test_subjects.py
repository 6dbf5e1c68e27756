"""Who is measured with what."""

from __future__ import annotations

import numpy as np
import pytest

from quietlimb.engine.errors import ParameterError
from quietlimb.simulator.arteries import FAMILIES
from quietlimb.simulator.subjects import PEAK_OFFSET_SD_MMHG, draw_subject


def test_population_of_limbs():
    """Peak offsets have mean 0 and SD 2; every family and both species come up; heights lie in 0.2..4 mmHg.

    Oracle: invented laws, frozen. Tolerance: four standard errors of a mean and of an SD of 400 numbers.
    """
    subjects = [draw_subject(seed) for seed in range(400)]
    offset = np.array([subject.limb.peak_offset for subject in subjects])
    assert offset.mean() == pytest.approx(0.0, abs=4 * PEAK_OFFSET_SD_MMHG / np.sqrt(400))
    assert offset.std() == pytest.approx(PEAK_OFFSET_SD_MMHG, abs=4 * PEAK_OFFSET_SD_MMHG / np.sqrt(800))
    assert {subject.limb.artery.family for subject in subjects} == set(FAMILIES)
    assert {subject.animal.species for subject in subjects} == {"cat", "dog"}
    for subject in subjects:
        assert 0.2 * 0.999 <= subject.peak_height_mmhg <= 4.0 * 1.001
        assert 0.98 <= subject.limb.transmission <= 1.0
        assert 0.005 <= subject.limb.lag_s <= 0.040


@pytest.mark.parametrize("ratio", [5.0, 10.0, 50.0])
def test_peak_to_noise_is_the_one_asked_for(ratio: float):
    """The sensor is made as noisy as the ratio asks, rounding included, and all else stays.

    Oracle: by construction. Tolerance: 0.2 % for the height, which is found by iteration.
    """
    plain = draw_subject(3, species="cat", family="logistic")
    asked = draw_subject(3, species="cat", family="logistic", settings={"peak_to_noise": ratio})
    assert asked.peak_height_mmhg / asked.height_sd_mmhg == pytest.approx(ratio, rel=0.002)
    assert asked.limb == plain.limb
    assert asked.sensor.sampling_hz == plain.sensor.sampling_hz


def test_impossible_settings_are_refused():
    """A pulse of no height, or a wall slower than the heart, raises with a remedy.

    Oracle: by construction.
    """
    with pytest.raises(ParameterError, match="peak_height_mmhg is 0"):
        draw_subject(1, settings={"peak_height_mmhg": 0.0})
    with pytest.raises(ParameterError, match="lag_s is 2"):
        draw_subject(1, settings={"lag_s": 2.0})


def test_unknown_families_and_species_are_refused():
    """A family of the engine, or a rabbit, raises and names what there is.

    Oracle: by construction.
    """
    with pytest.raises(ParameterError, match="double exponential"):
        draw_subject(1, family="exponential-linear")
    with pytest.raises(ParameterError, match="cat or dog"):
        draw_subject(1, species="rabbit")  # type: ignore[arg-type]
