"""Heights that make no envelope, one with two peaks, or one that no artery explains."""

from __future__ import annotations

import numpy as np

from quietlimb.engine.findings import Finding, Quantity, Severity
from quietlimb.engine.methods.artery_fit import ArteryFit
from quietlimb.engine.methods.fixed_ratios import BellFit
from quietlimb.engine.oscillogram import Oscillogram
from quietlimb.engine.quantiles import median
from quietlimb.engine.values import TWO_SIDED_95

PARAMETERS = 5  # of an envelope: two pressures, two widths, a height
EVIDENCE_NEEDED, NO_EVIDENCE = 60.0, 25.0  # simulated: most empty cuffs stay under the first
POOR_MISFIT, POOR_SHARE, NO_FIT_SHARE = 1.6, 0.08, 0.16  # shares of the peak by which the median height is missed
WIDE_OWN_MMHG, WIDE_WHOLE_MMHG = 14.0, 30.0  # half widths: by noise alone, and with what all readings share
DIP_SHARE, DEEP_DIP_SHARE, DIP_SCATTERS = 0.15, 0.3, 2.5  # of the peak; of the scatter. Simulated: undisturbed 0.05
DIP_GRID_MMHG = 2.0
FAMILIES_APART_MMHG = 8.0


def envelope_findings(fit: ArteryFit | BellFit, oscillogram: Oscillogram) -> tuple[Finding, ...]:
    """Findings on heights that do not rise and fall with the cuff pressure.

    Whatever repeats itself can look like pulses: a valve, air that warms after each step, a rhythmic movement. Only an
    artery makes an envelope of them. The evidence is the drop of the weighted sum of squares from one height for all to
    the fitted envelope, over its mean after the fit (the F ratio, short of the number of parameters).
    """
    height, sd = oscillogram.height_mmhg, oscillogram.height_sd_mmhg
    weight = np.maximum(sd, median(sd)) ** -2.0
    level = float(np.average(height, weights=weight))
    one_height = float(np.sum(weight * (height - level) ** 2))
    enveloped = float(np.sum(weight * (height - fit.envelope(oscillogram.cuff_pressure_mmhg)) ** 2))
    freedom = max(len(oscillogram) - PARAMETERS, 1)
    evidence = (one_height - enveloped) / max(enveloped / freedom, 1e-300)
    if evidence >= EVIDENCE_NEEDED:
        return ()
    severity: Severity = "doubt" if evidence >= NO_EVIDENCE else "spoils"  # nan spoils
    explained = max(1.0 - enveloped / max(one_height, 1e-300), 0.0)
    numbers = {"explained": explained, "pulses": len(oscillogram)}
    return (Finding(code="no-envelope", severity=severity, numbers=numbers),)


def peak_findings(oscillogram: Oscillogram) -> tuple[Finding, ...]:
    """Findings on an envelope with two peaks: an artery makes one, so the heights fell for another reason.

    The dip is how far the smoothed heights fall below the lower of the two peaks around them.
    """
    pressure = oscillogram.cuff_pressure_mmhg
    grid = np.arange(float(pressure.min()), float(pressure.max()), DIP_GRID_MMHG)
    height = oscillogram.smoothed(grid)
    grid, height = grid[np.isfinite(height)], height[np.isfinite(height)]
    below, above = np.maximum.accumulate(height), np.maximum.accumulate(height[::-1])[::-1]
    fallen = np.minimum(below, above) - height
    k = int(np.argmax(fallen))
    dip = float(fallen[k] / height.max())
    if dip < DIP_SHARE or fallen[k] < DIP_SCATTERS * oscillogram.scatter_mmhg:
        return ()
    peaks = {
        "lower_mmhg": float(grid[np.argmax(height[: k + 1])]),
        "upper_mmhg": float(grid[k + np.argmax(height[k:])]),
    }
    severity: Severity = "doubt" if dip > DEEP_DIP_SHARE else "note"
    return (Finding(code="two-peaked", severity=severity, at_mmhg=float(grid[k]), numbers={"dip": dip, **peaks}),)


def fit_findings(fit: ArteryFit | BellFit, oscillogram: Oscillogram) -> tuple[Finding, ...]:
    """Findings on an envelope that does not fit, or leaves too much open."""
    found: list[Finding] = []
    pressure = oscillogram.cuff_pressure_mmhg
    missed = median(np.abs(oscillogram.height_mmhg - fit.envelope(pressure))) / oscillogram.peak_mmhg
    if fit.misfit > POOR_MISFIT and missed > POOR_SHARE:
        severity: Severity = "spoils" if missed > NO_FIT_SHARE else "doubt"
        found.append(Finding(code="poor-fit", severity=severity, numbers={"misfit": fit.misfit}))
    own = TWO_SIDED_95 * np.sqrt(np.diag(fit.own_cov))
    whole = TWO_SIDED_95 * np.sqrt(np.diag(fit.own_cov) + np.diag(fit.shared_cov))
    names: tuple[tuple[int, Quantity], ...] = ((0, "systolic"), (2, "diastolic"))
    for k, name in names:
        if own[k] > WIDE_OWN_MMHG or whole[k] > WIDE_WHOLE_MMHG:
            numbers = {"half_width_mmhg": float(whole[k])}
            found.append(Finding(code="wide-interval", severity="doubt", touches=(name,), numbers=numbers))
    return tuple(found)


def family_findings(fit: ArteryFit | BellFit) -> tuple[Finding, ...]:
    """A note where the artery families that the heights leave possible put the systolic pressure far apart."""
    if not isinstance(fit, ArteryFit) or fit.family_spread_mmhg <= FAMILIES_APART_MMHG:
        return ()
    numbers = {"spread_mmhg": fit.family_spread_mmhg}
    return (Finding(code="families-disagree", severity="note", touches=("systolic",), numbers=numbers),)
