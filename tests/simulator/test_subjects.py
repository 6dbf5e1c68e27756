"""Who is measured with what."""

from __future__ import annotations

import numpy as np
import pytest

from quietlimb.engine.errors import ParameterError
from quietlimb.simulator.arteries import DRAWN_FAMILIES, FAMILIES, FOREIGN_FAMILIES
from quietlimb.simulator.subjects import PEAK_OFFSET_SD_MMHG, draw_subject


def test_population_of_limbs():
    """Peak offsets have mean 0 and SD 2; every drawn family and both species come up; heights lie in 0.2..4 mmHg.

    Oracle: invented laws, frozen. Tolerance: four standard errors of a mean and of an SD of 400 numbers.
    """
    subjects = [draw_subject(seed) for seed in range(400)]
    offset = np.array([subject.limb.peak_offset for subject in subjects])
    assert offset.mean() == pytest.approx(0.0, abs=4 * PEAK_OFFSET_SD_MMHG / np.sqrt(400))
    assert offset.std() == pytest.approx(PEAK_OFFSET_SD_MMHG, abs=4 * PEAK_OFFSET_SD_MMHG / np.sqrt(800))
    assert {subject.limb.artery.family for subject in subjects} == set(DRAWN_FAMILIES)
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
    """A family that there is not, or a rabbit, raises and names what there is.

    Oracle: by construction.
    """
    with pytest.raises(ParameterError, match="double exponential"):
        draw_subject(1, family="rigid")
    with pytest.raises(ParameterError, match="cat or dog"):
        draw_subject(1, species="rabbit")  # type: ignore[arg-type]


def test_the_family_of_the_fit_is_had_by_name_only():
    """The exponential-linear artery can be asked for, is never drawn and is not among those that accuracy is scored on.

    Oracle: by construction: a reader scored on its own artery is flattered.
    """
    assert draw_subject(1, family="exponential-linear").limb.artery.family == "exponential-linear"
    assert set(FAMILIES) - set(FOREIGN_FAMILIES) == {"exponential-linear"}
    assert set(DRAWN_FAMILIES) < set(FOREIGN_FAMILIES)


def test_a_share_of_the_height_is_left():
    """With a share of 0.4 the peak is 0.4 of what the seed draws, unless a height is given.

    Oracle: by construction. Tolerance: 1 %, the height is found by iteration.
    """
    drawn, left, given = (
        draw_subject(3, settings=settings).peak_height_mmhg
        for settings in ({}, {"peak_height_share": 0.4}, {"peak_height_share": 0.4, "peak_height_mmhg": 1.0})
    )
    assert left == pytest.approx(0.4 * drawn, rel=0.01)
    assert given == pytest.approx(1.0, rel=0.01)


def test_the_cuff_is_as_wide_as_asked_for():
    """A fifth of the circumference, to the millimetre; site as asked; all else as drawn.

    Oracle: by construction. Tolerance: half a millimetre.
    """
    plain, narrow = (draw_subject(3, settings=s).animal for s in ({}, {"cuff_width_share": 0.2, "site": "tail"}))
    assert narrow.cuff_width_cm == pytest.approx(0.2 * narrow.limb_circumference_cm, abs=0.051)
    assert narrow.site == "tail"
    assert narrow.limb_circumference_cm == plain.limb_circumference_cm
    assert narrow.systolic == plain.systolic
