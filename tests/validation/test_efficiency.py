"""The bounds of the efficiency study, where they can be reckoned another way."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from drawn_quantities import of_beats
from efficiency import OwnArtery, by_heights, of_fit, with_noise
from local_information import left_unknown, whole
from recording_parts import taken

from quietlimb.engine.arteries.exponential_linear import HALF_WIDTH
from quietlimb.engine.methods.waveform_fit import COLLAPSED_LN, GAIN_LN, RATIO_LN
from quietlimb.simulator.cuff import limb_with_peak_height
from quietlimb.simulator.pulse_shape import pulse_shape
from quietlimb.simulator.subjects import Settings, draw_subject


@pytest.mark.parametrize(
    ("prior_sd", "systolic", "diastolic"), [(1e-4, 0.78, 0.80), (0.2, 2.28, 2.13), (100.0, 2.50, 2.29)]
)
def test_heights_of_a_whole_recording(prior_sd: float, systolic: float, diastolic: float) -> None:
    """Heights picked from a simulated trace tell as much as the closed form of 76 heights says they do.

    A cat of 130 / 85 mmHg, 190 pulses a minute, 4 mmHg/s, peak to noise 20; widths 11 and 13.4 mmHg, known so well.
    Oracle: by construction, as in test_local_information. Tolerance: 6 %, for a lag, a cuff that yields, pulses that
    fall where they will and breathing, none of which the closed form has.
    """
    shape = (0.36, 0.2, 0.1)
    settings = Settings(
        systolic=130.0,
        diastolic=85.0,
        pulse_rate=190.0,
        shape=pulse_shape(form_factor=shape[0], upstroke=shape[1], dicrotic=shape[2]),
        deflation="linear",
        deflation_mmhg_per_s=4.0,
        start_mmhg=155.0,
        stop_mmhg=58.0,
        peak_height_mmhg=0.3,
        sampling_hz=200.0,
        drift_mmhg=0.0,
    )
    drawn = draw_subject(3, species="cat", family="exponential-linear", settings=settings)
    limb = limb_with_peak_height(
        drawn.animal,
        OwnArtery(collapsed=11.0 * HALF_WIDTH, distended=13.4 * HALF_WIDTH, residue=0.0),
        peak_height_mmhg=0.3,
        transmission=1.0,
        peak_offset=0.0,
        lag_s=0.005,
    )
    subject = with_noise(replace(drawn, limb=limb), 20.0)
    parts = taken(np.random.default_rng(3), subject, scenario="undisturbed", shape=shape, settings=settings)
    beats, own = parts.beats(), of_fit(parts)
    free = 1e-9
    pressures = whole(
        [
            (lambda d: parts.made(beats=replace(beats, foot_mmhg=beats.foot_mmhg + d)), 1.0),
            (lambda d: parts.made(beats=replace(beats, pulse_pressure=beats.pulse_pressure + d)), 1.0),
        ],
        free * np.eye(2),
    )
    of_artery = [COLLAPSED_LN, RATIO_LN, GAIN_LN]
    precision = np.diag([2.0 / prior_sd**2, prior_sd**-2.0, free])
    precision[0, 1] = precision[1, 0] = prior_sd**-2.0  # each width known by itself
    artery = replace(own, by=own.by[:, of_artery], truth=own.truth[:, of_artery], precision=precision)
    heights = by_heights(parts, [pressures, artery])
    sd = np.sqrt(np.diag(left_unknown(heights, subject.height_sd_mmhg**2)))
    assert sd[0] == pytest.approx(systolic, rel=0.06)
    assert sd[2] == pytest.approx(diastolic, rel=0.06)


def test_whole_pulses_tell_more_than_heights() -> None:
    """The bound by whole pulses is the lower one.

    Oracle: by construction; heights are picked from the same samples.
    """
    settings, shape = Settings(transmission=1.0), (0.36, 0.2, 0.1)
    drawn = draw_subject(8, species="dog", family="exponential-linear", settings=settings)
    artery = OwnArtery(collapsed=14.0, distended=20.0, residue=0.2)
    subject = with_noise(replace(drawn, limb=replace(drawn.limb, artery=artery)), 20.0)
    parts = taken(np.random.default_rng(8), subject, scenario="undisturbed", shape=shape, settings=settings)
    own, (shared, times, feet, sizes) = of_fit(parts), of_beats(parts)
    by_whole = left_unknown([own, shared, times, feet, sizes], parts.variance)
    by_height = left_unknown(by_heights(parts, [own, shared, feet, sizes]), subject.height_sd_mmhg**2)
    assert (np.diag(by_whole) < np.diag(by_height)).all()
