"""What is wrong with a recording, as findings; the worst of them makes the verdict.

All thresholds are invented here unless they say otherwise; they were set on simulated recordings.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from quietlimb.engine.circumstances import Circumstances
from quietlimb.engine.deflation import Deflation, count_steps
from quietlimb.engine.findings import Finding, Quantity, Severity
from quietlimb.engine.methods.artery_fit import ArteryFit
from quietlimb.engine.methods.fixed_ratios import BellFit
from quietlimb.engine.oscillogram import Oscillogram
from quietlimb.engine.pulse_timing import without_steps
from quietlimb.engine.pulses import PulseTrain
from quietlimb.engine.standards.cuff_width import judge_width

Array = NDArray[np.float64]

FEWEST_PULSES = 7
WEAK_PEAK_TO_SCATTER, WEAK_PEAK_TO_NOISE, LOST_SHARE_OF_WEAK = 5.0, 4.0, 0.7
COARSE_SHARE, TOO_COARSE_SHARE = 0.33, 0.6  # of the peak
SLOWEST_PER_MIN, FASTEST_PER_MIN = 38.0, 310.0  # the range served is 40 to 300
VIBRATION_HZ, VIBRATION_STANDS_OUT, VIBRATION_MMHG = (20.5, 32.0), 30.0, 0.01
SYSTOLIC_SIDE_SHARE = 0.5  # of the peak: above it the falling flank has not been seen
DIASTOLIC_SIDE_SHARE = 0.78
SEEN_BEYOND_MMHG = 2.0
INFLATE_ABOVE_MMHG = 35.0  # common practice: 30 to 40 above the systolic pressure
MOVING_TOO_LONG_S = 2.5  # common practice: 2 to 3 s of continued motion end a reading
WANDER_OVER_S, WANDER_MMHG, WANDER_SPOILS = 4.0, 0.35, 1.5  # breathing and tone make 0.25 at most
WANDER_OF_STEPS_MMHG, WANDER_OF_STEPS_SHARE = 0.25, 0.03  # of a step: air that warms after each wanders too
WITHIN_ONE_SD = 68.0  # per cent: a few moves are the business of other findings
MOVED_MMHG, MOVED_SHARE_OF_PEAK = 0.3, 0.35
LARGEST_PULSE_MMHG = 8.0  # twice what a cuff on a large limb shows
MOVING_NOISE_MMHG = 0.3  # more than any sensor's noise: when pulses drown in this, it is the limb
MOVED_SHARE_DOUBT, MOVED_SHARE_SPOILS = 0.25, 0.5
IRREGULAR_CV, VERY_IRREGULAR_CV = 0.08, 0.20
FAST_MMHG_PER_PULSE = 12.0
PARAMETERS = 5  # of an envelope: two pressures, two widths, a height
EVIDENCE_NEEDED, NO_EVIDENCE = 60.0, 25.0  # simulated: undisturbed 80 and up, empty cuffs at most 55
POOR_MISFIT, POOR_SHARE, NO_FIT_SHARE = 1.6, 0.08, 0.16  # shares of the peak by which the median height is missed
WIDE_OWN_MMHG, WIDE_WHOLE_MMHG = 14.0, 30.0  # half widths: by noise alone, and with what all readings share


def cuff_findings(circumstances: Circumstances) -> tuple[Finding, ...]:
    """Findings on the cuff's width against the limb's circumference, where both are told."""
    width, limb = circumstances.cuff_width_cm, circumstances.limb_circumference_cm
    if width is None or limb is None:
        return ()
    judged = judge_width(width, limb, circumstances.species)
    if judged.fit == "fits":
        return ()
    return (
        Finding(
            code="cuff-narrow" if "narrow" in judged.fit else "cuff-wide",
            severity="doubt" if judged.fit.startswith("far") else "note",
            numbers={"ratio": judged.ratio, "circumference_cm": limb, "width_cm": width},
        ),
    )


def deflation_findings(deflation: Deflation) -> tuple[Finding, ...]:
    """Findings on the course itself."""
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


def vibration_findings(deflation: Deflation) -> tuple[Finding, ...]:
    """A narrow line between 20.5 and 32 Hz, as a purring cat makes (21 to 27 Hz, published), if sampling shows it."""
    if deflation.rate_hz / deflation.oversampled < 2.2 * VIBRATION_HZ[1]:
        return ()
    still = np.where(deflation.valve_open, 0.0, np.gradient(deflation.pressure))  # steps must not ring in the spectrum
    n = still.size
    spectrum = np.abs(np.fft.rfft((still - still.mean()) * np.hanning(n))) ** 2
    frequency = np.fft.rfftfreq(n, 1.0 / deflation.rate_hz)
    band = (frequency > VIBRATION_HZ[0]) & (frequency < VIBRATION_HZ[1])
    if band.sum() < 20:
        return ()
    peak = int(np.flatnonzero(band)[np.argmax(spectrum[band])])
    near = np.abs(frequency - frequency[peak]) < 1.5
    floor = float(np.median(spectrum[band]))
    power = float(np.sum(np.maximum(spectrum[near] - floor, 0.0)))
    slope = 2.0 * np.sqrt(power / n / np.sum(np.hanning(n) ** 2) * 2.0) / np.sqrt(2.0)
    amplitude = slope / np.sin(2.0 * np.pi * float(frequency[peak]) / deflation.rate_hz)  # the gain of a difference
    if spectrum[peak] < VIBRATION_STANDS_OUT * floor or amplitude < VIBRATION_MMHG:
        return ()
    numbers = {"frequency_hz": float(frequency[peak]), "amplitude_mmhg": float(amplitude)}
    return (Finding(code="vibration", severity="note", numbers=numbers),)


def few_pulses(found: int) -> Finding:
    """Too few pulses to draw an envelope."""
    return Finding(code="few-pulses", severity="spoils", numbers={"pulses": found, "needed": FEWEST_PULSES})


def motion_findings(train: PulseTrain, *, peak_mmhg: float, band: tuple[float, float]) -> tuple[Finding, ...]:
    """Findings on the moving limb, within the cuff pressures that matter.

    A pulse counts as moved when it was set aside for that, or when what neither pulse nor deflation explains is both
    more than any sensor's noise and a good part of the largest pulse.
    """
    pulses = train.pulses
    inside = (pulses.cuff_pressure_mmhg > band[0]) & (pulses.cuff_pressure_mmhg < band[1])
    moved = np.array([reason == "limb-moved" for reason in pulses.set_aside])
    at_valve = np.array([reason == "valve" for reason in pulses.set_aside])
    moved |= ~at_valve & (train.misfit_mmhg > max(MOVED_MMHG, MOVED_SHARE_OF_PEAK * peak_mmhg))
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


def load_findings(deflation: Deflation, period_s: float) -> tuple[Finding, ...]:
    """Findings on a cuff pressure that wanders beside its fall, as when weight comes upon the limb and goes.

    Pulses are averaged away over one period, steps held, and what is smooth over 4 s is taken for the fall (a quadratic
    through the points around each, after Savitzky and Golay).
    """
    usual = WANDER_MMHG
    if deflation.kind == "stepwise":
        step = float(deflation.pressure[0] - deflation.pressure[-1]) / max(count_steps(deflation.valve_open), 1)
        usual = WANDER_OF_STEPS_MMHG + WANDER_OF_STEPS_SHARE * step
    whole = max(2, round(period_s * deflation.rate_hz))
    level = np.convolve(without_steps(deflation), np.full(whole, 1.0 / whole), mode="valid")
    m = round(WANDER_OVER_S * deflation.rate_hz / 2.0)
    if level.size < 2 * m + 2:
        return ()
    k = np.arange(-m, m + 1)
    smooth = np.convolve(
        level, 3.0 * (3 * m**2 + 3 * m - 1 - 5 * k**2) / ((2 * m - 1) * (2 * m + 1) * (2 * m + 3)), "valid"
    )
    wander = float(np.percentile(np.abs(level[m:-m] - smooth), WITHIN_ONE_SD))
    if wander < usual:
        return ()
    severity: Severity = "spoils" if wander > WANDER_SPOILS * usual else "doubt"
    return (Finding(code="limb-loaded", severity=severity, numbers={"wander_mmhg": wander}),)


def _longest_run(flags: NDArray[np.bool_], seconds: Array) -> float:
    longest = run = 0.0
    for flag, length in zip(flags, seconds, strict=True):
        run = run + float(length) if flag else 0.0
        longest = max(longest, run)
    return longest


def rhythm_findings(deflation: Deflation, train: PulseTrain) -> tuple[Finding, ...]:
    """Findings on regularity and on how fast the cuff was let down for this pulse."""
    found: list[Finding] = []
    pulses = train.pulses
    quiet = np.array([reason in ("", "odd-interval", "odd-height", "valve") for reason in pulses.set_aside])
    interval = pulses.period_s[:-1][quiet[:-1] & quiet[1:]]
    if interval.size >= 5:
        interval = interval / np.maximum(np.round(interval / train.period_s), 1.0)  # a hidden pulse is no pause
        cv = float(np.std(interval, ddof=1) / np.mean(interval))
        if cv > IRREGULAR_CV:
            severity: Severity = "doubt" if cv > VERY_IRREGULAR_CV else "note"
            found.append(Finding(code="irregular-rhythm", severity=severity, numbers={"interval_cv": cv}))
    per_pulse = deflation.fall_mmhg_per_s * train.period_s
    if per_pulse > FAST_MMHG_PER_PULSE:
        found.append(Finding(code="deflation-too-fast", severity="doubt", numbers={"mmhg_per_pulse": per_pulse}))
    return tuple(found)


def strength_findings(oscillogram: Oscillogram, train: PulseTrain, deflation: Deflation) -> tuple[Finding, ...]:
    """Findings on pulses that do not stand out against the scatter of their heights or the noise under them.

    Noise alone, lined up on its own rises, looks like pulses about as high as itself.
    """
    scatter = max(oscillogram.scatter_mmhg, float(np.median(oscillogram.height_sd_mmhg)))
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
    numbers = {"peak_mmhg": peak, "noise_mmhg": noise}
    return (Finding(code="weak-pulse", severity=severity, numbers=numbers),)


def rate_findings(train: PulseTrain) -> tuple[Finding, ...]:
    """A rhythm that no cat or dog has is not a pulse."""
    if SLOWEST_PER_MIN <= 60.0 / train.period_s <= FASTEST_PER_MIN:
        return ()
    return (Finding(code="no-pulse", severity="spoils", numbers={"pulses": int(train.pulses.kept.sum())}),)


def sensor_findings(oscillogram: Oscillogram, deflation: Deflation) -> tuple[Finding, ...]:
    """Findings on a sensor whose steps compare with the pulses."""
    step = deflation.sensor_step_mmhg
    if step <= COARSE_SHARE * oscillogram.peak_mmhg:
        return ()
    severity: Severity = "spoils" if step > TOO_COARSE_SHARE * oscillogram.peak_mmhg else "doubt"
    numbers = {"step_mmhg": step, "peak_mmhg": oscillogram.peak_mmhg}
    return (Finding(code="coarse-steps", severity=severity, numbers=numbers),)


@dataclass(frozen=True, slots=True, kw_only=True)
class Flanks:
    """Which flanks of the envelope the recording shows, and whether it went through the top of the envelope at all."""

    systolic: bool
    diastolic: bool
    top_passed: bool
    highest_mmhg: float
    lowest_mmhg: float


def flanks(oscillogram: Oscillogram, fit: ArteryFit | BellFit) -> Flanks:
    """Whether both flanks are bracketed: the heights have fallen far enough, and the values lie inside the record."""
    pressure = oscillogram.cuff_pressure_mmhg
    order = np.argsort(pressure)
    highest, lowest = float(pressure[order[-2:]].mean()), float(pressure[order[:2]].mean())
    grid = np.linspace(lowest, highest, 60)
    envelope = fit.envelope(grid)
    peak, peak_at = float(envelope.max()), float(grid[int(np.argmax(envelope))])
    top_seen, bottom_seen = oscillogram.smoothed(np.array([highest, lowest]))
    top_fit, bottom_fit = fit.envelope(np.array([highest, lowest]))
    return Flanks(
        systolic=bool(
            min(top_seen, top_fit) < SYSTOLIC_SIDE_SHARE * peak and fit.values[0] < highest - SEEN_BEYOND_MMHG
        ),
        diastolic=bool(
            min(bottom_seen, bottom_fit) < DIASTOLIC_SIDE_SHARE * peak and fit.values[2] > lowest + SEEN_BEYOND_MMHG
        ),
        top_passed=lowest + SEEN_BEYOND_MMHG < peak_at < highest - SEEN_BEYOND_MMHG
        and lowest < float(fit.values[1]) < highest,
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


def envelope_findings(fit: ArteryFit | BellFit, oscillogram: Oscillogram) -> tuple[Finding, ...]:
    """Findings on heights that do not rise and fall with the cuff pressure.

    Whatever repeats itself can look like pulses: a valve, air that warms after each step, a rhythmic movement. Only an
    artery makes an envelope of them. The evidence is the drop of the weighted sum of squares from one height for all to
    the fitted envelope, over its mean after the fit (the F ratio, short of the number of parameters).
    """
    height, sd = oscillogram.height_mmhg, oscillogram.height_sd_mmhg
    weight = np.maximum(sd, float(np.median(sd))) ** -2.0
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


def fit_findings(fit: ArteryFit | BellFit, oscillogram: Oscillogram) -> tuple[Finding, ...]:
    """Findings on an envelope that does not fit, or leaves too much open."""
    found: list[Finding] = []
    pressure = oscillogram.cuff_pressure_mmhg
    missed = float(np.median(np.abs(oscillogram.height_mmhg - fit.envelope(pressure)))) / oscillogram.peak_mmhg
    if fit.misfit > POOR_MISFIT and missed > POOR_SHARE:
        severity: Severity = "spoils" if missed > NO_FIT_SHARE else "doubt"
        found.append(Finding(code="poor-fit", severity=severity, numbers={"misfit": fit.misfit}))
    own = 1.96 * np.sqrt(np.diag(fit.own_cov))
    whole = 1.96 * np.sqrt(np.diag(fit.own_cov) + np.diag(fit.shared_cov))
    names: tuple[tuple[int, Quantity], ...] = ((0, "systolic"), (2, "diastolic"))
    for k, name in names:
        if own[k] > WIDE_OWN_MMHG or whole[k] > WIDE_WHOLE_MMHG:
            numbers = {"half_width_mmhg": float(whole[k])}
            found.append(Finding(code="wide-interval", severity="doubt", touches=(name,), numbers=numbers))
    return tuple(found)
