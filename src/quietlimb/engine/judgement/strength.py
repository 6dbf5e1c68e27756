"""Pulses too few, too weak, or no larger than the steps of the sensor."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from quietlimb.engine.deflation import Deflation
from quietlimb.engine.findings import Finding, Severity
from quietlimb.engine.oscillogram import Oscillogram
from quietlimb.engine.pulses import PulseTrain
from quietlimb.engine.quantiles import median

FEWEST_PULSES = 7
WEAK_PEAK_TO_SCATTER, WEAK_PEAK_TO_NOISE, LOST_SHARE_OF_WEAK = 5.0, 4.0, 0.7
NOTHING_MMHG = 0.005  # told with two decimals, a lower peak is none
LARGEST_PULSE_MMHG = 8.0  # twice what a cuff on a large limb shows
MOVING_NOISE_MMHG = 0.3  # more than any sensor's noise: when pulses drown in this, it is the limb
COARSE_SHARE, TOO_COARSE_SHARE = 0.33, 0.6  # of the peak
FINE_ENOUGH_MMHG = 0.1  # invented: steps that no pulse worth reading is lost in; weaker ones are the cuff's affair


def few_pulses(found: int) -> Finding:
    """Too few pulses to draw an envelope."""
    return Finding(code="few-pulses", severity="spoils", numbers={"pulses": found, "needed": FEWEST_PULSES})


def strength_findings(oscillogram: Oscillogram, train: PulseTrain, deflation: Deflation) -> tuple[Finding, ...]:
    """Findings on pulses that do not stand out: against scatter of heights, noise under them, steps of the sensor.

    Noise alone, lined up on its own rises, looks like pulses about as high as itself. Where the sensor's steps are
    coarse for these pulses and at least as large as what drowns them, they are its cause, and no weak pulse or moving
    limb is told beside them.
    """
    scatter = max(oscillogram.scatter_mmhg, median(oscillogram.height_sd_mmhg))
    peak, step = oscillogram.peak_mmhg, deflation.sensor_step_mmhg
    strength = min(peak / scatter / WEAK_PEAK_TO_SCATTER, peak / max(train.noise_mmhg, 1e-9) / WEAK_PEAK_TO_NOISE)
    if peak > LARGEST_PULSE_MMHG:
        strength = 0.0
    coarse = sensor_findings(deflation, peak_mmhg=peak)
    if strength >= 1.0:
        return coarse
    severity: Severity = "spoils" if strength < LOST_SHARE_OF_WEAK else "doubt"
    noise = max(scatter, train.noise_mmhg)
    if coarse and step > FINE_ENOUGH_MMHG and noise <= step:
        return coarse if severity == "doubt" else (replace(coarse[0], severity=severity),)
    if severity == "spoils" and (noise > MOVING_NOISE_MMHG or peak > LARGEST_PULSE_MMHG):
        seconds = float(deflation.time_s[-1] - deflation.time_s[0])
        moving = {"seconds": seconds, "share": 1.0}
        start, top = float(deflation.time_s[0]), float(deflation.pressure[0])
        return (Finding(code="limb-kept-moving", severity=severity, at_s=start, at_mmhg=top, numbers=moving),)
    if severity == "spoils" and peak < NOTHING_MMHG:
        return (Finding(code="no-pulse", severity=severity, numbers={"pulses": int(train.pulses.kept.sum())}),)
    weak = Finding(code="weak-pulse", severity=severity, numbers={"peak_mmhg": peak, "noise_mmhg": noise})
    return (weak,) if severity == "spoils" else (weak, *coarse)


def sensor_findings(deflation: Deflation, *, peak_mmhg: float) -> tuple[Finding, ...]:
    """Findings on a sensor whose steps compare with the pulses."""
    step = deflation.sensor_step_mmhg
    if step <= COARSE_SHARE * peak_mmhg:
        return ()
    severity: Severity = "spoils" if step > TOO_COARSE_SHARE * peak_mmhg else "doubt"
    return (Finding(code="coarse-steps", severity=severity, numbers={"step_mmhg": step, "peak_mmhg": peak_mmhg}),)


def few_pulses_findings(train: PulseTrain, deflation: Deflation) -> tuple[Finding, ...]:
    """Too few pulses to draw an envelope, and whether the sensor's steps are as large as what was found."""
    highest = float(np.max(np.abs(train.pulses.height_mmhg)))
    coarse = sensor_findings(deflation, peak_mmhg=highest) if deflation.sensor_step_mmhg > FINE_ENOUGH_MMHG else ()
    return (few_pulses(int(train.pulses.kept.sum())), *coarse)
