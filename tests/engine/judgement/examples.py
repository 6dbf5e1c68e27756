"""Deflations, pulses, oscillograms and fits made by plain formulas, each with one thing to be judged."""

from __future__ import annotations

import numpy as np

from engine.recordings import Array, bell, deflation_of, line
from quietlimb.engine.methods.fixed_ratios import BellFit
from quietlimb.engine.oscillogram import Oscillogram, find_oscillogram
from quietlimb.engine.pulses import Pulses, PulseTrain

FALLING = deflation_of(line(180.0, 60.0, 5.0, 200.0), 200.0)
CUFF = np.linspace(180.0, 60.0, 61)


def train_of(
    cuff: Array = CUFF,
    *,
    set_aside: dict[int, str] | None = None,
    intervals: Array | None = None,
    period_s: float = 0.4,
    noise_mmhg: float = 0.01,
) -> PulseTrain:
    """Pulses at these cuff pressures with the heights of the bell."""
    interval = np.full(cuff.size, period_s) if intervals is None else intervals
    pulses = Pulses(
        time_s=np.concatenate(([0.0], np.cumsum(interval[:-1]))),
        period_s=interval,
        cuff_pressure_mmhg=cuff,
        height_mmhg=bell(cuff),
        height_sd_mmhg=np.full(cuff.size, noise_mmhg),
        set_aside=tuple((set_aside or {}).get(k, "") for k in range(cuff.size)),
    )
    return PulseTrain(
        pulses=pulses,
        period_s=period_s,
        noise_mmhg=noise_mmhg,
        misfit_mmhg=np.full(cuff.size, noise_mmhg),
        shape=np.zeros((cuff.size, 20)),
        shape_step_s=0.02,
        around_mmhg=np.zeros((cuff.size, 20)),
        seen=np.zeros((cuff.size, 20)),
        over_valve=np.zeros(cuff.size, dtype=np.bool_),
        oversampled=1.0,
    )


def oscillogram_at(cuff: Array = CUFF) -> Oscillogram:
    """The bell's oscillogram at these cuff pressures."""
    found = find_oscillogram(train_of(cuff))
    assert found is not None
    return found[0]


def bell_fit(systolic: float = 136.0, diastolic: float = 99.0, own: float = 1.0, shared: float = 25.0) -> BellFit:
    """A fit whose envelope is the bell, with values and variances chosen."""
    return BellFit(
        values=np.array([systolic, 110.0, diastolic]),
        own_cov=own * np.eye(3),
        shared_cov=shared * np.eye(3),
        parameters=np.array([110.0, np.log(18.0), np.log(24.0), np.log(1.2)]),
        misfit=1.0,
    )
