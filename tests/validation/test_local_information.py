"""The floor's derivatives and covariances, against closed forms."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from drawn_quantities import (
    nearest,
    of_beats,
    of_cuff,
    of_families,
    of_pulse,
    of_subject,
    some_arteries,
    unseen,
)
from local_information import left_unknown, whole
from recording_parts import Made, taken_apart

from quietlimb.simulator import simulate_recording
from quietlimb.simulator.arteries import FAMILIES
from quietlimb.simulator.arteries.artery import Artery
from quietlimb.simulator.arteries.exponential_linear import ExponentialLinear
from quietlimb.simulator.pulse_shape import pulse_shape
from quietlimb.simulator.subjects import Settings

SHAPE = (0.36, 0.2, 0.1)


def _settings(**more: object) -> Settings:
    form, rise, wave = SHAPE
    shape = pulse_shape(form_factor=form, upstroke=rise, dicrotic=wave)
    return Settings(shape=shape, **more)  # type: ignore[typeddict-item]


@pytest.mark.parametrize("scenario", ["undisturbed", "ectopic", "repeated-motion", "leak", "fast-deflation"])
def test_a_recording_is_made_again(scenario: str) -> None:
    """Taken apart and put together, a recording without noise is the simulator's own.

    Oracle: the simulator. Tolerance: none, for the same operations in the same order.
    """
    settings = _settings(noise_mmhg=0.0, quantum_mmhg=0.0)
    one = simulate_recording(5, species="cat", family="tube law", scenario=scenario, **settings)
    parts = taken_apart(5, species="cat", family="tube law", scenario=scenario, shape=SHAPE, settings=settings)
    trace, pressures = parts.made()
    np.testing.assert_allclose(one.recording.cuff_pressure_mmhg[parts.seen], trace, rtol=0.0, atol=1e-9)
    truth = [one.truth.systolic, one.truth.mean, one.truth.diastolic]
    np.testing.assert_allclose(pressures.mean(axis=1), truth, rtol=0.0, atol=1e-9)


def test_moving_every_foot_is_the_compliance() -> None:
    """The columns of all feet add up to what a quasi-static artery answers to a shift of its whole pressure.

    Oracle: by construction; with k the gain and g the compliance at Pa - eta Pc - p0, k g / (1 + eta k g), g in closed
    form. Tolerance: a difference over 1 mmHg of a compliance 10 mmHg wide, and a fixed point that ends at 0.0001 mmHg.
    """
    settings = _settings(lag_s=0.0, sampling_hz=1000.0, anti_alias=False, peak_height_mmhg=2.0)
    parts = taken_apart(
        3, species="cat", family="exponential-linear", scenario="undisturbed", shape=SHAPE, settings=settings
    )
    feet = of_beats(parts)[2]
    found = feet.by.sum(axis=1)
    trace, _ = parts.made()
    limb = parts.subject.limb
    artery = limb.artery
    assert isinstance(artery, ExponentialLinear)
    inside = parts.beats().pressure(parts.seen_s) - limb.transmission * trace - limb.peak_offset
    x = np.where(inside < 0.0, -inside / artery.collapsed, inside / artery.distended)
    stiffness = limb.gain * (1.0 + x) * np.exp(-x)
    expected = stiffness / (1.0 + limb.transmission * stiffness)
    assert float(np.abs(found - expected).max()) < 0.03 * float(expected.max())
    assert float(feet.truth[2].sum()) == pytest.approx(1.0, abs=1e-6)  # and the diastolic moves with its feet


@pytest.mark.parametrize(
    ("prior_sd", "systolic", "diastolic"),
    [(0.001, 0.78, 0.80), (0.1, 1.88, 1.83), (0.2, 2.28, 2.13), (100.0, 2.50, 2.29)],
)
def test_heights_of_an_exponential_linear_artery(prior_sd: float, systolic: float, diastolic: float) -> None:
    """What 76 heights, each with an error of 1/20 of the peak, leave unknown of 130 / 85 mmHg.

    Oracle: by construction, computed apart from the closed form of the heights, with the widths known to this share.
    Tolerance: half of its last digit, and derivatives over small differences.
    """
    cuff = 155.0 - 4.0 * 60.0 / 190.0 * np.arange(76)  # 190 pulses a minute, 4 mmHg/s

    def heights(theta: np.ndarray) -> np.ndarray:
        artery = ExponentialLinear(collapsed=float(np.exp(theta[2])), distended=float(np.exp(theta[3])))
        return np.asarray(np.exp(theta[4]) * (artery.volume(theta[0] - cuff) - artery.volume(theta[1] - cuff)))

    theta = np.array([130.0, 85.0, np.log(11.0), np.log(13.4), 0.0])
    theta[4] = -np.log(heights(theta).max())
    moved = [
        (lambda d, k=k: (heights(theta + d * np.eye(5)[k]), (theta[:2] + d * np.eye(5)[k][:2])[[0, 0, 1], None]), 1e-3)
        for k in range(5)
    ]
    free = 1e-10
    columns = whole(moved, np.diag([free, free, prior_sd**-2, prior_sd**-2, free]))
    sd = np.sqrt(np.diag(left_unknown([columns], 0.05**2)))
    assert sd[0] == pytest.approx(systolic, abs=0.012)
    assert sd[2] == pytest.approx(diastolic, abs=0.012)


def test_peak_offset_and_transmission_are_not_seen() -> None:
    """Differentiated like the other quantities, these two leave what the closed form says.

    Oracle: the other way of reckoning. Tolerance: 2 %, for derivatives of a trace that settles to 0.0001 mmHg only.
    """
    settings = _settings(peak_to_noise=20.0)
    parts = taken_apart(6, species="dog", family="arctangent", scenario="undisturbed", shape=SHAPE, settings=settings)
    limb = parts.subject.limb

    def offset(d: float) -> Made:
        return parts.made(subject=replace(parts.subject, limb=replace(limb, peak_offset=limb.peak_offset + d)))

    def transmission(d: float) -> Made:
        return parts.made(subject=replace(parts.subject, limb=replace(limb, transmission=limb.transmission + d)))

    groups = [of_subject(parts), *of_beats(parts), *of_cuff(parts)]
    precision = np.diag([2.0**-2, 12.0 / 0.02**2])
    both = whole([(offset, 2.0), (transmission, 0.02)], precision)
    by_columns = left_unknown([*groups, both], parts.variance)
    apart = left_unknown(groups, parts.variance) + unseen(parts.made()[1].mean(axis=1))
    np.testing.assert_allclose(np.sqrt(np.diag(by_columns)), np.sqrt(np.diag(apart)), rtol=0.02)


def test_the_nearest_artery_is_near() -> None:
    """The logistic artery nearest to an arctangent one differs from it less than the average logistic artery does.

    Oracle: by construction, both arteries written out in `simulator/arteries`.
    """
    wanted = FAMILIES["arctangent"](half_width=12.0)  # type: ignore[call-arg]
    pressures = np.linspace(-60.0, 60.0, 121)

    def alike(artery: Artery) -> float:
        return float(np.corrcoef(artery.volume(pressures), wanted.volume(pressures))[0, 1])

    drawn, _ = some_arteries("logistic")
    assert alike(nearest(wanted, "logistic")) == pytest.approx(max(alike(artery) for artery in drawn), abs=1e-12)


def test_not_knowing_family_and_pulse_leaves_more_unknown() -> None:
    """With the family open and the pulse free, less is known of every pressure, and little less of a clear recording.

    Oracle: by construction; the size (at most twice) is what twelve recordings showed.
    """
    settings = _settings(peak_to_noise=50.0)
    parts = taken_apart(4, species="dog", family="tube law", scenario="undisturbed", shape=SHAPE, settings=settings)
    groups = [of_subject(parts), *of_beats(parts), *of_cuff(parts)]
    strange = [of_families(parts, ("tube law", "arctangent", "double exponential")), of_pulse(parts)]
    known = np.diag(left_unknown(groups, parts.variance))
    unknown = np.diag(left_unknown([*groups, *strange], parts.variance))
    assert (unknown > known).all()
    assert (unknown < 4.0 * known).all()
