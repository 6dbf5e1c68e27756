"""Which flanks of the envelope the recording shows."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from quietlimb.engine.findings import Finding
from quietlimb.engine.methods.artery_fit import ArteryFit
from quietlimb.engine.methods.fixed_ratios import BellFit
from quietlimb.engine.oscillogram import Oscillogram

SYSTOLIC_SIDE_SHARE = 0.5  # of the peak: above it the falling flank has not been seen
DIASTOLIC_SIDE_SHARE = 0.78
SEEN_BEYOND_MMHG = 2.0
RECORDED_BEYOND_MMHG = 15.0  # a cuff that went this far past a value has been there, whatever pulses were set aside
INFLATE_ABOVE_MMHG = 35.0  # common practice: 30 to 40 above the systolic pressure


@dataclass(frozen=True, slots=True, kw_only=True)
class Flanks:
    """Which flanks of the envelope the recording shows, and whether it went through the top of the envelope at all."""

    systolic: bool
    diastolic: bool
    top_passed: bool
    highest_mmhg: float
    lowest_mmhg: float


def flanks(oscillogram: Oscillogram, fit: ArteryFit | BellFit, *, from_mmhg: float, to_mmhg: float) -> Flanks:
    """Whether both flanks are bracketed: the heights have fallen far enough, and the values lie inside the record.

    Where the valve or a disturbance cost the outermost pulses, but the cuff, let down `from_mmhg` `to_mmhg`, was well
    beyond the value, the flank is not missing: how much the pulses left there tell is the interval's business.
    """
    pressure = oscillogram.cuff_pressure_mmhg
    order = np.argsort(pressure)
    highest, lowest = float(pressure[order[-2:]].mean()), float(pressure[order[:2]].mean())
    grid = np.linspace(lowest, highest, 60)
    envelope = fit.envelope(np.append(grid, (highest, lowest)))
    envelope, (top_fit, bottom_fit) = envelope[:-2], envelope[-2:]
    peak, peak_at = float(envelope.max()), float(grid[int(np.argmax(envelope))])
    top_seen, bottom_seen = oscillogram.smoothed(np.array([highest, lowest]))
    top_passed = (
        lowest + SEEN_BEYOND_MMHG < peak_at < highest - SEEN_BEYOND_MMHG and lowest < float(fit.values[1]) < highest
    )
    fallen_above = min(top_seen, top_fit) < SYSTOLIC_SIDE_SHARE * peak and fit.values[0] < highest - SEEN_BEYOND_MMHG
    fallen_below = min(bottom_seen, bottom_fit) < DIASTOLIC_SIDE_SHARE * peak and (
        fit.values[2] > lowest + SEEN_BEYOND_MMHG
    )
    started_above = from_mmhg > fit.values[0] + RECORDED_BEYOND_MMHG
    ended_below = to_mmhg < fit.values[2] - RECORDED_BEYOND_MMHG
    return Flanks(
        systolic=bool(fallen_above or (top_passed and started_above)),
        diastolic=bool(fallen_below or (top_passed and ended_below)),
        top_passed=top_passed,
        highest_mmhg=highest,
        lowest_mmhg=lowest,
    )


def flank_findings(seen: Flanks, fit: ArteryFit | BellFit) -> tuple[Finding, ...]:
    """Findings on flanks that the recording does not show."""
    spoils = not seen.top_passed or (not seen.systolic and not seen.diastolic)
    found: list[Finding] = []
    if not seen.systolic:
        target = 10.0 * np.ceil((max(float(fit.values[0]), seen.highest_mmhg) + INFLATE_ABOVE_MMHG - 5.0) / 10.0)
        found.append(
            Finding(
                code="systolic-side-missing",
                severity="spoils" if spoils else "doubt",
                touches=("systolic",),
                at_mmhg=seen.highest_mmhg,
                numbers={"highest_mmhg": seen.highest_mmhg, "inflate_to_mmhg": float(np.clip(target, 100.0, 300.0))},
            )
        )
    if not seen.diastolic:
        found.append(
            Finding(
                code="diastolic-side-missing",
                severity="spoils" if spoils else "doubt",
                touches=("diastolic",),
                at_mmhg=seen.lowest_mmhg,
                numbers={"lowest_mmhg": seen.lowest_mmhg},
            )
        )
    return tuple(found)
