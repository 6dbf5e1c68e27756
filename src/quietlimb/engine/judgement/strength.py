"""Pulses too few, too weak, or no larger than the steps of the sensor."""

from __future__ import annotations

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


def few_pulses(found: int) -> Finding:
    """Too few pulses to draw an envelope."""
    return Finding(code="few-pulses", severity="spoils", numbers={"pulses": found, "needed": FEWEST_PULSES})


def strength_findings(oscillogram: Oscillogram, train: PulseTrain, deflation: Deflation) -> tuple[Finding, ...]:
    """Findings on pulses that do not stand out against the scatter of their heights or the noise under them.

    Noise alone, lined up on its own rises, looks like pulses about as high as itself.
    """
    scatter = max(oscillogram.scatter_mmhg, median(oscillogram.height_sd_mmhg))
    peak = oscillogram.peak_mmhg
    strength = min(peak / scatter / WEAK_PEAK_TO_SCATTER, peak / max(train.noise_mmhg, 1e-9) / WEAK_PEAK_TO_NOISE)
    if peak > LARGEST_PULSE_MMHG:
        strength = 0.0
    if strength >= 1.0:
        return ()
    severity: Severity = "spoils" if strength < LOST_SHARE_OF_WEAK else "doubt"
    noise = max(scatter, train.noise_mmhg)
    if severity == "spoils" and (noise > MOVING_NOISE_MMHG or peak > LARGEST_PULSE_MMHG):
        seconds = float(deflation.time_s[-1] - deflation.time_s[0])
        moving = {"seconds": seconds, "share": 1.0}
        start, top = float(deflation.time_s[0]), float(deflation.pressure[0])
        return (Finding(code="limb-kept-moving", severity=severity, at_s=start, at_mmhg=top, numbers=moving),)
    if severity == "spoils" and peak < NOTHING_MMHG:
        return (Finding(code="no-pulse", severity=severity, numbers={"pulses": int(train.pulses.kept.sum())}),)
    numbers = {"peak_mmhg": peak, "noise_mmhg": noise}
    return (Finding(code="weak-pulse", severity=severity, numbers=numbers),)


def sensor_findings(oscillogram: Oscillogram, deflation: Deflation) -> tuple[Finding, ...]:
    """Findings on a sensor whose steps compare with the pulses."""
    step = deflation.sensor_step_mmhg
    if step <= COARSE_SHARE * oscillogram.peak_mmhg:
        return ()
    severity: Severity = "spoils" if step > TOO_COARSE_SHARE * oscillogram.peak_mmhg else "doubt"
    numbers = {"step_mmhg": step, "peak_mmhg": oscillogram.peak_mmhg}
    return (Finding(code="coarse-steps", severity=severity, numbers=numbers),)
