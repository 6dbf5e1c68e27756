"""The fall of the cuff pressure: samples that are missing, a sensor at its limit, a leak, too fast a fall."""

from __future__ import annotations

import numpy as np

from quietlimb.engine.deflation import MISSING_S, Deflation
from quietlimb.engine.findings import Finding, Severity
from quietlimb.engine.quantiles import median
from quietlimb.engine.recording import Recording

FAST_MMHG_PER_PULSE = 12.0
LEAK_MMHG_PER_S = 0.4  # simulated: level stretches without a leak lose 0.3 at most
SETTLED_S = 0.2  # after the valve: the slowest tube has taken its step by then
FEWEST_STRETCHES = 5


def gap_findings(recording: Recording, deflation: Deflation | None, *, read: bool) -> tuple[Finding, ...]:
    """Samples that are missing in the deflation, or anywhere where none was found.

    A note where there is something to read all the same; where there is not, they may be why, so that they spoil it and
    whoever measures is not told of the valve alone.
    """
    time, pressure = recording.time_s, recording.cuff_pressure_mmhg
    gap = np.diff(time)
    missing = gap > MISSING_S
    if deflation is not None:
        missing &= (time[1:] > deflation.time_s[0]) & (time[:-1] < deflation.time_s[-1])
    if not missing.any():
        return ()
    longest = int(np.argmax(np.where(missing, gap, 0.0)))
    severity: Severity = "note" if read else "spoils"
    numbers = {"seconds": float(gap[missing].sum()), "gaps": int(np.count_nonzero(missing))}
    at_s, at_mmhg = float(time[longest]), float(pressure[longest])
    return (Finding(code="samples-missing", severity=severity, at_s=at_s, at_mmhg=at_mmhg, numbers=numbers),)


def saturation_findings(deflation: Deflation) -> tuple[Finding, ...]:
    """A note on a sensor that stood at its limit."""
    if deflation.saturated_s <= 0:
        return ()
    top = float(deflation.pressure.max())
    return (
        Finding(
            code="saturated",
            severity="note",
            at_mmhg=top,
            numbers={"seconds": deflation.saturated_s, "at_mmhg": top},
        ),
    )


def leak_findings(deflation: Deflation, period_s: float) -> tuple[Finding, ...]:
    """A note on a cuff that loses pressure on the level stretches between steps.

    The loss is taken between points one pulse apart, so that the pulses cancel: the median of each stretch, and of
    these the median. Air that warms after a step hides up to 0.6 mmHg/s. In a fall without steps a leak is like a valve
    opened wider, so nothing is said.
    """
    if deflation.kind != "stepwise":
        return ()
    opened, whole = deflation.valve_open, max(2, round(period_s * deflation.rate_hz))
    at = np.arange(opened.size)
    since = at - np.maximum.accumulate(np.where(opened, at, -1))
    openings = np.concatenate(([0], np.cumsum(opened)))
    begins = at[: opened.size - whole]
    level = openings[begins + whole + 1] == openings[begins]
    begins = begins[level & (since[begins] > SETTLED_S * deflation.rate_hz) & (openings[begins] > 0)]
    loss = (deflation.pressure[begins] - deflation.pressure[begins + whole]) / whole * deflation.rate_hz
    stretches = np.split(loss, np.flatnonzero(np.diff(openings[begins]) > 0) + 1)
    if begins.size == 0 or len(stretches) < FEWEST_STRETCHES:
        return ()
    leak = median(np.array([median(stretch) for stretch in stretches]))
    if leak < LEAK_MMHG_PER_S:
        return ()
    return (Finding(code="leak", severity="note", numbers={"mmhg_per_s": leak}),)


def pace_findings(deflation: Deflation, period_s: float) -> tuple[Finding, ...]:
    """A doubt where the cuff was let down too fast for this pulse."""
    per_pulse = deflation.fall_mmhg_per_s * period_s
    if per_pulse <= FAST_MMHG_PER_PULSE:
        return ()
    return (Finding(code="deflation-too-fast", severity="doubt", numbers={"mmhg_per_pulse": per_pulse}),)
