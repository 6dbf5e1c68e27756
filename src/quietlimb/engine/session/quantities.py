"""Each pressure of a series: the systolic one by itself, the mean and the diastolic one beside it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from quietlimb.engine.findings import Finding
from quietlimb.engine.session.charted import Outlook
from quietlimb.engine.session.companions import (
    DIASTOLIC_SLOPE,
    MEAN_SLOPE,
    Companion,
    companion_of,
    suspicion_by_shape,
)
from quietlimb.engine.session.course import Courses
from quietlimb.engine.session.noise import Noise, noise_for
from quietlimb.engine.session.posterior import LevelPosterior, level_posterior
from quietlimb.engine.session.series import Series
from quietlimb.engine.values import TWO_SIDED_95, Estimate

Values = NDArray[np.float64]
Flags = NDArray[np.bool_]
Quantity = Literal["systolic", "mean", "diastolic"]
Findings = tuple[Finding, ...]

COMPANIONS: tuple[tuple[Quantity, float], ...] = (("mean", MEAN_SLOPE), ("diastolic", DIASTOLIC_SLOPE))
# Odds that a companion was spoiled, where the systolic value of its display was, against where it was not. [invented]
SPOILED_TOGETHER = 10.0
DISPLAYS_FOR_SHAPE = 3


def usual_noise(series: Series) -> Noise:
    """The errors to expect of a series by its method and species."""
    return noise_for(
        series.circumstances.method,
        series.circumstances.species,
        own_sd_known=bool(np.isfinite(series.systolic_sd).any()),
    )


def usable_systolic(series: Series) -> Flags:
    """(n,) readings with a systolic pressure that no finding discards."""
    kept = np.array([verdict != "discard" for verdict in series.verdicts], dtype=bool)
    usable: Flags = kept & np.isfinite(series.systolic)
    return usable


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Solved:
    """One quantity of the series. Arrays have a place for every reading, nan where it was not used."""

    posterior: LevelPosterior
    estimate: Estimate
    with_systolic: float
    spoiled: Values
    worth: Values
    distance: Values


def systolic_of(
    series: Series, used: Flags, findings: tuple[Findings, ...], courses: Courses, noise: Noise, *, judge: bool = True
) -> Solved:
    """The systolic pressure of the readings used, one or more; courses relative to the last of them.

    judge : whether to judge each reading; where not, and nothing shared is known, `spoiled` and `worth` are nan
    """
    shared_known = bool(np.isfinite(series.systolic_shared_sd[used]).any())
    doubtful = _doubtful(findings, "systolic")
    suspicion = np.where(doubtful, noise.doubtful_odds, 1.0) * _suspicion_by_shape(series, used)
    posterior = level_posterior(
        series.systolic[used],
        shift=courses.shift[:, used],
        course_probability=courses.probability,
        noise=noise,
        own_sd=_own_sd(series, "systolic", used),
        suspicion=suspicion[used],
        widening=np.where(doubtful, noise.doubtful_widening, 1.0)[used],
        judge=judge or shared_known,
    )
    shared_sd = _shared(series.systolic_shared_sd[used], posterior.worth)
    estimate = _estimate(posterior, shared_sd, series.systolic[used])
    distance = series.systolic[used] - estimate.value - posterior.course @ courses.shift[:, used]
    return _solved(posterior, estimate, 1.0, distance, used)


def outlook_of(systolic: Solved, courses: Courses) -> Outlook:
    """From what further readings are thought out."""
    posterior = systolic.posterior
    (level,) = posterior.quantiles((0.5,))
    return Outlook(
        level_mmhg=level,
        scatter_mmhg=float(np.sqrt(posterior.scatter_probability @ posterior.scatter**2)),
        falling_mmhg_per_min=float(posterior.course @ courses.falling_mmhg_per_min),
    )


def companion_solved(
    series: Series,
    quantity: Quantity,
    slope: float,
    used: Flags,
    findings: tuple[Findings, ...],
    courses: Courses,
    systolic: Solved,
    noise: Noise,
) -> Solved:
    """A companion at the charted systolic level. Where the systolic value of a display is missing or was spoiled, what
    the series says of that minute takes its place."""
    level = systolic.estimate.value
    at_minute = level + systolic.posterior.course @ courses.shift
    spoiled = np.where(np.isfinite(systolic.spoiled), systolic.spoiled, 1.0)
    beside = np.where(np.isfinite(systolic.spoiled), series.systolic, 0.0) * (1.0 - spoiled) + at_minute * spoiled
    together = np.where(np.isfinite(systolic.spoiled), 1.0 + (SPOILED_TOGETHER - 1.0) * systolic.spoiled, 1.0)
    doubtful = _doubtful(findings, quantity)
    solved = companion_of(
        getattr(series, quantity)[used],
        beside[used],
        reference_mmhg=level,
        slope=slope,
        own_sd=_own_sd(series, quantity, used),
        suspicion=(together * np.where(doubtful, noise.doubtful_odds, 1.0))[used],
        widening=np.where(doubtful, noise.doubtful_widening, 1.0)[used],
    )
    at_level = getattr(series, quantity)[used] - solved.slope * (beside[used] - level)
    shared_sd = _shared(getattr(series, f"{quantity}_shared_sd")[used], solved.posterior.worth)
    estimate = _joint_estimate(solved, systolic.estimate, shared_sd, at_level)
    own = abs(solved.slope) * systolic.estimate.own_sd
    distance = at_level - estimate.value
    correlation = float(np.sign(solved.slope)) * own / estimate.own_sd if estimate.own_sd > 0.0 else 0.0
    return _solved(solved.posterior, estimate, correlation, distance, used)


def _suspicion_by_shape(series: Series, used: Flags) -> Values:
    """(n,) factor on the odds that a systolic value was spoiled, by how its display compares with the others."""
    suspicion = np.ones(len(series))
    for quantity, slope in COMPANIONS:
        value = getattr(series, quantity)
        whole = used & np.isfinite(value)
        if int(whole.sum()) >= DISPLAYS_FOR_SHAPE:
            # mean and diastolic tell much the same, so the stronger word counts once
            found = suspicion_by_shape(value[whole], series.systolic[whole], slope)
            suspicion[whole] = np.maximum(suspicion[whole], found)
    return suspicion


def _solved(
    posterior: LevelPosterior, estimate: Estimate, with_systolic: float, distance_used: Values, used: Flags
) -> Solved:
    spoiled, worth, distance = (np.full(used.size, np.nan) for _ in range(3))
    spoiled[used], worth[used], distance[used] = posterior.spoiled, posterior.worth, distance_used
    return Solved(
        posterior=posterior,
        estimate=estimate,
        with_systolic=with_systolic,
        spoiled=spoiled,
        worth=worth,
        distance=distance,
    )


def _own_sd(series: Series, quantity: Quantity, used: Flags) -> Values:
    """(used,) own standard deviations; where a reading does not know its own, the usual one of those that do."""
    own_sd = getattr(series, f"{quantity}_sd")[used]
    usual = float(np.median(own_sd[np.isfinite(own_sd)])) if np.isfinite(own_sd).any() else 0.0
    filled: Values = np.where(np.isfinite(own_sd), own_sd, usual)
    return filled


def _doubtful(findings: tuple[Findings, ...], quantity: Quantity) -> Flags:
    return np.array(
        [
            any(f.severity == "doubt" and (not f.touches or quantity in f.touches) for f in of_reading)
            for of_reading in findings
        ],
        dtype=bool,
    )


def _shared(shared_sd: Values, worth: Values) -> float | None:
    """The shared part of the value [mmHg]: the readings' variances averaged by their weight; None where none knows it.

    They share artery, cuff and offset, so their number does not shrink it; a reading without weight has no say.
    """
    weight = np.where(np.isfinite(shared_sd), worth, 0.0)
    if not weight.any():
        return None
    return float(np.sqrt(weight @ np.square(np.nan_to_num(shared_sd)) / weight.sum()))


def _estimate(posterior: LevelPosterior, shared_sd: float | None, readings: Values) -> Estimate:
    """Never outside the readings: a fall is likelier than a rise before any reading, so that equal ones would chart a
    little under their own value, and across a boundary that they stand on."""
    low, high, middle = posterior.summary
    value = float(np.clip(middle, readings.min(), readings.max()))
    once = TWO_SIDED_95 * (shared_sd or 0.0)
    return Estimate(
        value=value,
        low=value - float(np.hypot(max(value - low, 0.0), once)),
        high=value + float(np.hypot(max(high - value, 0.0), once)),
        own_sd=posterior.sd,
        shared_sd=shared_sd,
    )


def _joint_estimate(companion: Companion, systolic: Estimate, shared_sd: float | None, at_level: Values) -> Estimate:
    """A companion at the systolic level: its own uncertainty, and by the slope that of the systolic level.

    at_level : the readings as they would be at that level; the value is never outside them [mmHg]
    """
    posterior = companion.posterior
    low, high, middle = posterior.summary
    value, slope = float(np.clip(middle, at_level.min(), at_level.max())), companion.slope
    once = TWO_SIDED_95 * (shared_sd or 0.0)
    shared_half = TWO_SIDED_95 * (systolic.shared_sd or 0.0)
    below = np.sqrt(max((systolic.value - systolic.low) ** 2 - shared_half**2, 0.0))
    above = np.sqrt(max((systolic.high - systolic.value) ** 2 - shared_half**2, 0.0))
    if slope < 0.0:
        below, above = above, below
    return Estimate(
        value=value,
        low=value - float(np.sqrt(max(value - low, 0.0) ** 2 + (slope * below) ** 2 + once**2)),
        high=value + float(np.sqrt(max(high - value, 0.0) ** 2 + (slope * above) ** 2 + once**2)),
        own_sd=float(np.hypot(posterior.sd, slope * systolic.own_sd)),
        shared_sd=shared_sd,
    )
