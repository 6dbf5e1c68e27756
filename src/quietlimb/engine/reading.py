"""The reading: what one recording, one typed display or one Doppler determination says."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal, overload

import numpy as np
from numpy.typing import NDArray

from quietlimb.engine.deflation import LEAST_FALL_MMHG, Deflation, find_deflation, greatest_fall
from quietlimb.engine.errors import ParameterError
from quietlimb.engine.findings import Finding, Verdict, verdict_of
from quietlimb.engine.judgement import course, cuff, cut, envelope, flanks, movement, rhythm, strength, vibration
from quietlimb.engine.methods.artery_fit import ArteryFit, fit_artery
from quietlimb.engine.methods.fixed_ratios import BellFit, fit_ratios
from quietlimb.engine.methods.steepest_flanks import fit_flanks
from quietlimb.engine.oscillogram import Oscillogram, find_oscillogram
from quietlimb.engine.pulse_timing import unseen, unsure
from quietlimb.engine.pulses import Pulses, PulseTrain
from quietlimb.engine.quantiles import median, running_median
from quietlimb.engine.recording import Recording
from quietlimb.engine.values import TWO_SIDED_95, Estimate
from quietlimb.engine.vibration import find_calm_pulses

Array = NDArray[np.float64]
Method = Literal["artery fit", "fixed ratios", "steepest flanks"]
METHODS: tuple[Method, ...] = ("artery fit", "fixed ratios", "steepest flanks")
TOGETHER = 50  # recordings fitted in one go: more would only take memory
ROUNDS_OF_COUNTING = 5
CUT_CODES = frozenset(cut.CODES.values())
SIDE_CODES = CUT_CODES | {"systolic-side-missing", "diastolic-side-missing"}  # what they touch cannot be given
# Of the rate; variance of pulses counted wrongly; share of the spread between beats that stays though all of them were
# counted. Set on simulated recordings of two artery families.
RATE_SD_SHARE, MISCOUNTS, SPREAD_STAYS = 0.002, 0.2, 0.3
# The rate is counted where pulses are so many times as high as their own standard error, or so near the highest: beyond
# that noise passes for pulses. Fewer intervals than the last are not counted alone. Set on the same.
CLEAR_OF_NOISE, CLEAR_SHARE, CLEAR_INTERVALS = 8.0, 0.6, 6


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Evidence:
    """What a reading rests on: enough to draw why.

    deflation_s             : (start, end) of the deflation [s]; None where none was found
    pulses                  : None where none were found
    envelope_pressure_mmhg  : (m,) rising cuff pressures [mmHg]; empty without a fit
    envelope_height_mmhg    : (m,) fitted pulse height there [mmHg]
    """

    recording: Recording
    deflation_s: tuple[float, float] | None
    pulses: Pulses | None
    envelope_pressure_mmhg: NDArray[np.float64]
    envelope_height_mmhg: NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Reading:
    """Systolic, mean, diastolic [mmHg] and pulse rate [/min] with verdict, findings and how they were found.

    A value that cannot be given is None and a finding says why. `method` is one of `METHODS`.
    `evidence` is None for a reading that did not come from a recording.
    """

    systolic: Estimate | None
    mean: Estimate | None
    diastolic: Estimate | None
    pulse_rate: Estimate | None
    method: str
    findings: tuple[Finding, ...]
    verdict: Verdict
    evidence: Evidence | None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Seen:
    """What was found in one recording before the fit; the train knows of its pulses all that was set aside."""

    recording: Recording
    deflation: Deflation | None = None
    train: PulseTrain | None = None
    oscillogram: Oscillogram | None = None


@overload
def read(recordings: Recording, *, method: Method = "artery fit") -> Reading: ...
@overload
def read(recordings: Sequence[Recording], *, method: Method = "artery fit") -> list[Reading]: ...
def read(recordings: Recording | Sequence[Recording], *, method: Method = "artery fit") -> Reading | list[Reading]:
    """The reading of a recording, or of each of many.

    Parameters
    ----------
    recordings : one, or any number, in any mixture of species, sampling rate and kind of deflation
    method     : `artery fit`, `fixed ratios` or `steepest flanks`

    Returns
    -------
    Reading, or list of them in the order given. A recording that cannot be read gives a reading with verdict
    `discard` whose findings say why.

    Raises
    ------
    ParameterError : unknown method, or something that is no recording

    Notes
    -----
    The matrices are small: let numpy have one thread (`OPENBLAS_NUM_THREADS=1` before it is loaded), and give many
    recordings to several processes.
    """
    if method not in METHODS:
        raise ParameterError("unknown-method", f"there is no method {method!r}", f"use one of: {', '.join(METHODS)}")
    if isinstance(recordings, Recording):
        return _read_block([recordings], method)[0]
    strangers = [one for one in recordings if not isinstance(one, Recording)] if _is_many(recordings) else [recordings]
    if strangers:
        raise ParameterError(
            "not-a-recording",
            f"{strangers[0]!r:.60} is no recording",
            "give a recording as `recording` or `load_recording` makes it, or a list of them",
        )
    readings: list[Reading] = []
    for first in range(0, len(recordings), TOGETHER):
        readings += _read_block(recordings[first : first + TOGETHER], method)
    return readings


def _is_many(given: object) -> bool:
    return isinstance(given, Sequence) and not isinstance(given, str | bytes)


def _read_block(recordings: Sequence[Recording], method: Method) -> list[Reading]:
    seen = [_look(recording) for recording in recordings]
    fits: dict[int, ArteryFit | BellFit] = {}
    fittable = [(k, s.oscillogram, s.train) for k, s in enumerate(seen) if s.oscillogram and s.train]
    indices = [k for k, _, _ in fittable]
    oscillograms = [o for _, o, _ in fittable]
    found: Sequence[ArteryFit | BellFit]
    if method == "artery fit":
        found = fit_artery(oscillograms, [train for _, _, train in fittable])
    elif method == "fixed ratios":
        found = fit_ratios(oscillograms)
    else:
        found = fit_flanks(oscillograms)
    fits = dict(zip(indices, found, strict=True))
    return [_conclude(s, fits.get(k), method) for k, s in enumerate(seen)]


def _look(recording: Recording) -> _Seen:
    seen = _Seen(recording=recording, deflation=find_deflation(recording))
    if seen.deflation is None:
        return seen
    seen = replace(seen, train=find_calm_pulses(seen.deflation))
    if seen.train is None:
        return seen
    found = find_oscillogram(seen.train)
    if found is None:
        return seen
    oscillogram, pulses = found
    seen = replace(seen, train=replace(seen.train, pulses=pulses))
    return replace(seen, oscillogram=oscillogram) if len(oscillogram) >= strength.FEWEST_PULSES else seen


def _conclude(seen: _Seen, fit: ArteryFit | BellFit | None, method: Method) -> Reading:
    deflation, train, oscillogram = seen.deflation, seen.train, seen.oscillogram
    findings = list(cuff.width_findings(seen.recording.circumstances))
    findings += course.gap_findings(seen.recording, deflation, read=fit is not None)
    if deflation is None:
        fall = greatest_fall(seen.recording)
        code = "no-deflation" if fall < LEAST_FALL_MMHG else "fall-not-read"
        missing = Finding(code=code, severity="spoils", numbers={"fall_mmhg": fall})
        findings += cut.cut_findings(seen.recording.cuts, [missing])
        return _reading(seen, None, method, findings)
    findings += course.saturation_findings(deflation)
    findings += vibration.vibration_findings(seen.recording, deflation, train)
    if train is None:
        findings.append(Finding(code="no-pulse", severity="spoils", numbers={"pulses": 0}))
        return _reading(seen, None, method, findings)
    if fit is None or oscillogram is None:
        highest = float(np.max(np.abs(train.pulses.height_mmhg)))
        findings += movement.motion_findings(train, peak_mmhg=highest, band=(0.0, np.inf))
        findings += strength.few_pulses_findings(train, deflation)
        return _reading(seen, None, method, findings)
    for found in _causes(deflation, train, oscillogram, fit):
        if any(finding.code == "limb-kept-moving" for finding in found):
            findings = [finding for finding in findings if finding.code != "limb-moved"]
        findings += found
        if verdict_of(found) == "discard":
            return _reading(seen, fit, method, findings)
    findings += rhythm.rhythm_findings(train)
    findings += rhythm.counting_findings(train)
    findings += course.pace_findings(deflation, train.period_s)
    findings += course.leak_findings(deflation, train.period_s)
    cuts = seen.recording.cuts
    if not cuts:  # the largest pulses may be those that it took
        findings += cuff.snug_findings(oscillogram, seen.recording.circumstances.species)
    first, last = float(deflation.pressure[0]), float(deflation.pressure[-1])
    shown = flanks.flanks(oscillogram, fit, from_mmhg=first, to_mmhg=last)
    findings += cut.cut_findings(cuts, flanks.flank_findings(shown, fit), top_passed=shown.top_passed)
    findings += envelope.peak_findings(oscillogram)
    findings += envelope.fit_findings(fit, oscillogram)
    findings += envelope.family_findings(fit)
    return _reading(seen, fit, method, findings)


def _causes(
    deflation: Deflation, train: PulseTrain, oscillogram: Oscillogram, fit: ArteryFit | BellFit
) -> Iterator[tuple[Finding, ...]]:
    """Causes first: what follows from a limb that moved throughout, or from pulses lost in noise, is not told again."""
    peak = oscillogram.peak_mmhg
    band = (float(fit.values[2]) - 15.0, float(fit.values[0]) + 15.0)
    yield movement.motion_findings(train, peak_mmhg=peak, band=band)
    yield strength.strength_findings(oscillogram, train, deflation)
    yield rhythm.rate_findings(train)
    yield movement.load_findings(deflation, train.period_s, peak_mmhg=peak)
    yield envelope.envelope_findings(fit, oscillogram)


def _reading(seen: _Seen, fit: ArteryFit | BellFit | None, method: Method, findings: list[Finding]) -> Reading:
    if not any(finding.code in CUT_CODES for finding in findings):
        findings = [*cut.cut_findings(seen.recording.cuts), *findings]
    verdict = verdict_of(tuple(findings))
    missing = {each for finding in findings if finding.code in SIDE_CODES for each in finding.touches}
    values: list[Estimate | None] = [None, None, None]
    if fit is not None and verdict != "discard":
        given = ("systolic" not in missing, True, "diastolic" not in missing)
        for k in np.flatnonzero(given):
            values[k] = _estimate(float(fit.values[k]), float(fit.own_cov[k, k]), float(fit.shared_cov[k, k]))
    rate = None
    if verdict != "discard" and seen.train is not None:
        rate = _pulse_rate(seen.train)
    span = np.empty(0)
    if fit is not None and seen.oscillogram is not None:
        pressure = seen.oscillogram.cuff_pressure_mmhg
        span = np.linspace(float(pressure.min()), float(pressure.max()), 120)
    deflation = seen.deflation
    return Reading(
        systolic=values[0],
        mean=values[1],
        diastolic=values[2],
        pulse_rate=rate,
        method=method,
        findings=tuple(findings),
        verdict=verdict,
        evidence=Evidence(
            recording=seen.recording,
            deflation_s=None if deflation is None else (float(deflation.time_s[0]), float(deflation.time_s[-1])),
            pulses=None if seen.train is None else seen.train.pulses,
            envelope_pressure_mmhg=span,
            envelope_height_mmhg=fit.envelope(span) if fit is not None else np.empty(0),
        ),
    )


def _estimate(value: float, own_variance: float, shared_variance: float, unit: str = "mmHg") -> Estimate:
    half = TWO_SIDED_95 * float(np.sqrt(own_variance + shared_variance))
    return Estimate(
        value=value,
        low=max(value - half, 0.0),
        high=value + half,
        own_sd=float(np.sqrt(own_variance)),
        shared_sd=float(np.sqrt(shared_variance)),
        unit=unit,
    )


def _pulse_rate(train: PulseTrain) -> Estimate | None:
    """Pulses over time [/min] from the intervals between quiet, clear neighbours; a skipped pulse is counted."""
    pulses = train.pulses
    quiet = np.array([reason != "limb-moved" for reason in pulses.set_aside])
    clear = quiet & _clear_of_noise(pulses)
    both = clear[:-1] & clear[1:]
    if np.count_nonzero(both) < CLEAR_INTERVALS:
        both = quiet[:-1] & quiet[1:]
    interval = pulses.period_s[:-1][both]
    if interval.size < 4:
        return None
    period, over_valve = train.period_s, train.over_valve[:-1][both]
    for _ in range(ROUNDS_OF_COUNTING):  # without a rhythm the typical interval is not the mean one
        count = unseen(interval, period, over_valve)
        period = float(interval.sum() / count.sum())
    pulses_counted = float(count.sum())
    # the rate is that of the whole reading: what was counted is most of it, and no sample of something larger
    not_counted = max(1.0 - pulses_counted * period / float(pulses.period_s[:-1].sum()), SPREAD_STAYS)
    spread = float(np.std(interval / count)) / period * np.sqrt(not_counted / pulses_counted)
    miscounted = 0.5 * np.sqrt(unsure(interval, period, over_valve) + MISCOUNTS) / pulses_counted
    sd = float(np.sqrt(RATE_SD_SHARE**2 + spread**2 + miscounted**2)) * 60.0 / period
    return _estimate(60.0 / period, sd**2, 0.0, "/min")


def _clear_of_noise(pulses: Pulses) -> NDArray[np.bool_]:
    """(n,) whether the pulses around are high enough that noise would hardly pass for one."""
    height = running_median(pulses.height_mmhg, 5)
    limit = min(CLEAR_OF_NOISE * median(pulses.height_sd_mmhg), CLEAR_SHARE * float(height.max()))
    return np.asarray(height > limit)
