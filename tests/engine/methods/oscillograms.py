"""Oscillograms made by formula, and a train to go with them."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from quietlimb.engine.arteries.artery import FAMILIES
from quietlimb.engine.methods.fixed_ratios import BellFit
from quietlimb.engine.oscillogram import Oscillogram, find_oscillogram
from quietlimb.engine.pulses import Pulses, PulseTrain

Array = NDArray[np.float64]


def oscillogram_and_train(
    cuff: Array, height: Array, *, sd_mmhg: float = 0.002, period_s: float = 1000.0
) -> tuple[Oscillogram, PulseTrain]:
    """An oscillogram of these heights. With a beat of 1000 s no lag touches it, and the usual pulse form is taken."""
    pulses = Pulses(
        time_s=period_s * np.arange(cuff.size),
        period_s=np.full(cuff.size, period_s),
        cuff_pressure_mmhg=cuff,
        height_mmhg=height,
        height_sd_mmhg=np.full(cuff.size, sd_mmhg),
        set_aside=("",) * cuff.size,
    )
    train = PulseTrain(
        pulses=pulses,
        period_s=period_s,
        noise_mmhg=1e9,  # so much that no pulse form is seen
        misfit_mmhg=np.full(cuff.size, sd_mmhg),
        shape=np.tile(np.sin(np.linspace(0.0, np.pi, 30)), (cuff.size, 1)),
        shape_step_s=period_s / 30.0,
        around_mmhg=np.zeros((cuff.size, 30)),
        seen=np.zeros((cuff.size, 30)),
        over_valve=np.zeros(cuff.size, dtype=np.bool_),
        oversampled=1.0,
    )
    found = find_oscillogram(train)
    assert found is not None
    return found[0], train


def scatter_and_own_sd(
    fit_of: Callable[[Array, float], BellFit], height: Array, *, seed: int, noise_mmhg: float = 0.05
) -> tuple[Array, Array]:
    """Standard deviation of three pressures under 60 draws of noise and of 5 % from beat to beat, and as stated."""
    rng, values, own = np.random.default_rng(seed), [], []
    for _ in range(60):
        beats = height * (1.0 + 0.05 * rng.normal(size=height.size))
        fit = fit_of(beats + noise_mmhg * rng.normal(size=height.size), noise_mmhg)
        values.append(fit.values)
        own.append(np.diag(fit.own_cov))
    return np.std(values, axis=0, ddof=1), np.sqrt(np.mean(own, axis=0))


def by_formula(
    name: str,
    *,
    systolic: float,
    diastolic: float,
    collapsed: float = 14.0,
    distended: float = 20.0,
    gain: float = 0.03,
    pulses: int = 60,
    noise_mmhg: float = 0.0,
    seed: int = 0,
) -> tuple[Oscillogram, PulseTrain]:
    """The exact oscillogram of one artery from 40 mmHg above systolic to 45 below diastolic, with noise if told."""
    family, widths = FAMILIES[name], (np.array(collapsed), np.array(distended))
    cuff = np.linspace(systolic + 40.0, diastolic - 45.0, pulses)
    height = np.zeros(pulses)
    for _ in range(20):  # foot and top lie half a height below and above the cuff pressure at mid height
        top, foot = systolic - cuff - height / 2.0, diastolic - cuff + height / 2.0
        height = gain * (family.volume(top, *widths) - family.volume(foot, *widths))
    height = height + noise_mmhg * np.random.default_rng(seed).normal(size=pulses)
    return oscillogram_and_train(cuff, height, sd_mmhg=max(noise_mmhg, 0.002))
