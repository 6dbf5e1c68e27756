"""A limb that moves, or that something presses on."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from quietlimb.engine.deflation import Deflation, count_steps
from quietlimb.engine.findings import Finding, Severity
from quietlimb.engine.pulse_timing import without_steps
from quietlimb.engine.pulses import PulseTrain
from quietlimb.engine.quantiles import median

Array = NDArray[np.float64]

MOVED_MMHG, MOVED_SHARE_OF_PEAK = 0.3, 0.35
MOVED_SHARE_DOUBT, MOVED_SHARE_SPOILS = 0.25, 0.5
MOVING_TOO_LONG_S = 2.5  # common practice: 2 to 3 s of continued motion end a reading
WANDER_OVER_S, WANDER_MMHG, WANDER_SPOILS = 4.0, 0.25, 1.5  # simulated: undisturbed 0.22 at most, loaded 0.28 and up
# With steps: air that warms after each wanders too, and a step hides a part of the pulse.
WANDER_OF_STEPS_MMHG, WANDER_PER_STEP, WANDER_PER_PEAK = 0.1, 0.005, 0.035


def motion_findings(train: PulseTrain, *, peak_mmhg: float, band: tuple[float, float]) -> tuple[Finding, ...]:
    """Findings on the moving limb, within the cuff pressures that matter.

    A pulse counts as moved when it was set aside for that, or when what neither pulse nor deflation explains is both
    more than any sensor's noise and a good part of the largest pulse.
    """
    pulses = train.pulses
    inside = (pulses.cuff_pressure_mmhg > band[0]) & (pulses.cuff_pressure_mmhg < band[1])
    moved = np.array([reason == "limb-moved" for reason in pulses.set_aside])
    unseen = np.array([reason in ("valve", "samples-missing") for reason in pulses.set_aside])
    moved |= ~unseen & (train.misfit_mmhg > max(MOVED_MMHG, MOVED_SHARE_OF_PEAK * peak_mmhg))
    if not (moved & inside).any():
        return ()
    seconds = np.minimum(pulses.period_s, 2.0 * train.period_s)
    total = float(seconds[moved & inside].sum())
    share = total / max(float(seconds[inside].sum()), 1e-9)
    longest = _longest_run(moved, seconds)
    first = int(np.flatnonzero(moved & inside)[0])
    too_long = longest > MOVING_TOO_LONG_S or share > MOVED_SHARE_SPOILS
    severity: Severity = "spoils" if too_long else "doubt" if share > MOVED_SHARE_DOUBT else "note"
    return (
        Finding(
            code="limb-kept-moving" if too_long else "limb-moved",
            severity=severity,
            at_s=float(pulses.time_s[first]),
            at_mmhg=float(pulses.cuff_pressure_mmhg[first]),
            numbers={"seconds": total, "share": share},
        ),
    )


def _longest_run(flags: NDArray[np.bool_], seconds: Array) -> float:
    longest = run = 0.0
    for flag, length in zip(flags, seconds, strict=True):
        run = run + float(length) if flag else 0.0
        longest = max(longest, run)
    return longest


def load_findings(deflation: Deflation, period_s: float, *, peak_mmhg: float) -> tuple[Finding, ...]:
    """Findings on a cuff pressure that wanders beside its fall, as when weight comes upon the limb and goes.

    Pulses are averaged away over one period, steps bridged, and what is smooth over 4 s is taken for the fall (a
    quadratic through the points around each, after Savitzky and Golay).
    """
    usual = WANDER_MMHG
    if deflation.kind == "stepwise":
        step = float(deflation.pressure[0] - deflation.pressure[-1]) / max(count_steps(deflation.valve_open), 1)
        usual = WANDER_OF_STEPS_MMHG + WANDER_PER_STEP * step + WANDER_PER_PEAK * peak_mmhg
    whole = max(2, round(period_s * deflation.rate_hz))
    level = _sums(_bridged(deflation, whole), whole) / whole
    m = round(WANDER_OVER_S * deflation.rate_hz / 2.0)
    if level.size < 2 * m + 2:
        return ()
    wander = median(np.abs(level[m:-m] - _quadratics(level, m)))  # a few moves are the business of other findings
    if wander < usual:
        return ()
    severity: Severity = "spoils" if wander > WANDER_SPOILS * usual else "doubt"
    return (Finding(code="limb-loaded", severity=severity, numbers={"wander_mmhg": wander}),)


def _bridged(deflation: Deflation, whole: int) -> Array:
    """The deflation without the valve's steps; what the pulse did meanwhile is taken from one period before and after.

    Taken for nothing instead, it would add up from step to step like a wander. (n,) -> (n,), mmHg
    """
    held, opened = without_steps(deflation), deflation.valve_open
    if not opened.any():
        return held
    change = np.diff(held, prepend=held[0])
    known = np.where(opened, 0.0, 1.0)
    around, count = np.zeros_like(change), np.zeros_like(change)
    around[whole:], count[whole:] = change[:-whole], known[:-whole]
    around[:-whole] += change[whole:]
    count[:-whole] += known[whole:]
    change[opened] = around[opened] / np.maximum(count[opened], 1.0)
    return np.asarray(held[0] + np.cumsum(change))


def _sums(values: Array, width: int) -> Array:
    """Sum of every `width` neighbours. (n,) -> (n - width + 1,)"""
    total = np.concatenate(([0.0], np.cumsum(values)))
    return np.asarray(total[width:] - total[:-width])


def _quadratics(values: Array, m: int) -> Array:
    """At each value, the quadratic through the m values on either side and itself. (n,) -> (n - 2 m,)

    Weights (3 m^2 + 3 m - 1 - 5 k^2) / ... at distance k; their sums are differences of three running totals, which
    takes a time that does not grow with m.
    """
    place = np.arange(values.size) - (values.size - 1) / 2.0
    middle, width = place[m:-m], 2 * m + 1
    flat = values - values.mean()
    plain, linear, square = (_sums(power * flat, width) for power in (1.0, place, place**2))
    by_square = square - 2.0 * middle * linear + middle**2 * plain
    scale = 3.0 / ((2 * m - 1) * (2 * m + 1) * (2 * m + 3))
    return np.asarray(values.mean() + scale * ((3 * m**2 + 3 * m - 1) * plain - 5.0 * by_square))
