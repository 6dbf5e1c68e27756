"""A series of readings to the charted pressure.

The systolic pressure is modelled first: `course` says how the pressure may move, `noise` how readings may err, and
`posterior` weighs both against the series. The mean and the diastolic pressure then go through the same model with what
the systolic one taught: the same course at a smaller size, and readings that were probably spoiled as a whole, because
a display's three values come from one inflation. The value is the median of the posterior, the interval equal-tailed.
What all readings share is added once to the interval and not averaged away; readings that know it differently are heard
by the weight that they have in the value.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from quietlimb.engine.findings import Finding, verdict_of
from quietlimb.engine.session.charted import ChartedPressure, Course, ReadingInSeries
from quietlimb.engine.session.course import CoursePrior, Courses, courses_over
from quietlimb.engine.session.guideline import Variability, guideline_average
from quietlimb.engine.session.noise import Noise, noise_for
from quietlimb.engine.session.posterior import LevelPosterior, level_posterior
from quietlimb.engine.session.pulse_rate import charted_pulse_rate
from quietlimb.engine.session.series import Series
from quietlimb.engine.session.series_findings import series_findings
from quietlimb.engine.values import Estimate

Values = NDArray[np.float64]
Flags = NDArray[np.bool_]
Quantity = Literal["systolic", "mean", "diastolic"]

# A course is named only when this much of the posterior stands behind it. For `level` the figure was set on simulated
# series so that few slow falls are called level; most short series cannot tell and say `unclear`. [invented]
LEVEL_FROM, MOVING_FROM = 0.58, 0.75
SPOILED_DOUBT, SPOILED_DISCARD = 0.5, 0.9  # [invented]

# How much of a systolic rise the others show. Clinic against home, 17 animals, 2022: 27.7 systolic, 12.9 diastolic; the
# mean lies between them by the usual share of the pulse pressure. [derived]
DIASTOLIC_FALL_SHARE = 12.9 / 27.7
MEAN_FALL_SHARE = DIASTOLIC_FALL_SHARE + 0.4 * (1.0 - DIASTOLIC_FALL_SHARE)
# How far the others follow the systolic pressure: the course's posterior against its prior, and the probability of a
# spoiled value where the systolic one was spoiled and where it was not. [invented]
COURSE_TRUST = 0.75
SPOILED_TOO, SPOILED_ALONE = 0.7, 0.05


def chart(
    series: Series,
    *,
    variability: Variability = "range",
    noise: Noise | None = None,
    course_prior: CoursePrior | None = None,
) -> ChartedPressure:
    """The pressure to chart for a series: the level at its last usable reading, never extrapolated.

    variability  : the definition that the guideline's rule on consistency is read by
    noise        : errors to expect; by default those of the series' method, with or without own standard deviations
    course_prior : courses to expect

    Without a usable systolic reading every value is None and a finding says so. One usable reading gets the interval
    that the prior alone allows, and a finding.
    """
    parameters: dict[str, str] = {"variability": variability}
    if series.reading_method is not None:
        parameters["method"] = series.reading_method
    parameters.update(
        {name: repr(given) for name, given in (("noise", noise), ("course_prior", course_prior)) if given}
    )
    usable = np.array([verdict != "discard" for verdict in series.verdicts], dtype=bool)
    systolic_usable = usable & np.isfinite(series.systolic)
    if not systolic_usable.any():
        return _nothing_to_chart(series, course_prior or CoursePrior(), parameters)
    prior = course_prior or CoursePrior()
    end = int(np.flatnonzero(systolic_usable)[-1])
    courses = courses_over(series.minute, float(series.minute[end]), prior)
    expected = noise or noise_for(series.circumstances.method, own_sd_known=bool(np.isfinite(series.systolic_sd).any()))

    systolic = _solve(series, "systolic", systolic_usable, courses.shift, courses.probability, expected)
    solved: dict[Quantity, _Solved] = {"systolic": systolic}
    spoiled = np.where(systolic_usable, systolic.spoiled, expected.spoiled_share)
    others: tuple[tuple[Quantity, float], ...] = (("mean", MEAN_FALL_SHARE), ("diastolic", DIASTOLIC_FALL_SHARE))
    for quantity, share in others:
        known = usable & np.isfinite(getattr(series, quantity))
        if known.any():
            solved[quantity] = _solve(
                series,
                quantity,
                known,
                share * courses.shift,
                COURSE_TRUST * systolic.posterior.course + (1.0 - COURSE_TRUST) * courses.probability,
                expected,
                spoiled_share=SPOILED_TOO * spoiled + SPOILED_ALONE * (1.0 - spoiled),
            )

    guideline = guideline_average(series, variability)
    single = int(systolic_usable.sum()) == 1
    probability = _course_probability(courses, systolic.posterior.course)
    course: Course = "unclear" if single else _name_course(probability)
    estimates, disorder = _in_order({quantity: each.estimate for quantity, each in solved.items()})
    return ChartedPressure(
        series=series,
        systolic=estimates["systolic"],
        mean=estimates.get("mean"),
        diastolic=estimates.get("diastolic"),
        pulse_rate=charted_pulse_rate(series.pulse_rate[usable]),
        course=course,
        course_probability=probability,
        fall_mmhg=None if single else float(systolic.posterior.course @ courses.fall_mmhg),
        readings=tuple(_judged(series, solved, i) for i in range(len(series))),
        guideline=guideline,
        findings=series_findings(
            series.systolic[systolic_usable],
            course=course,
            falling_mmhg_per_min=float(systolic.posterior.course @ courses.falling_mmhg_per_min),
            guideline=guideline,
        )
        + disorder,
        parameters=parameters,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Solved:
    """One quantity of the series. Arrays have a place for every reading, nan where it was not used."""

    posterior: LevelPosterior
    estimate: Estimate
    spoiled: Values
    worth: Values
    distance: Values


def _solve(
    series: Series,
    quantity: Quantity,
    used: Flags,
    shift: Values,
    course_probability: Values,
    noise: Noise,
    spoiled_share: Values | None = None,
) -> _Solved:
    doubtful = np.array([_doubts(findings, quantity) for findings in series.findings], dtype=bool)
    share = np.full(len(series), noise.spoiled_share) if spoiled_share is None else spoiled_share
    if noise.spoiled_share > 0.0:
        share = np.where(doubtful, np.maximum(share, noise.doubtful_share), share)
    value, own_sd = getattr(series, quantity), getattr(series, f"{quantity}_sd")[used]
    # a reading that does not say how sure it is counts as the usual one of those that do
    usual = float(np.median(own_sd[np.isfinite(own_sd)])) if np.isfinite(own_sd).any() else 0.0
    posterior = level_posterior(
        value[used],
        shift=shift[:, used],
        course_probability=course_probability,
        noise=noise,
        own_sd=np.where(np.isfinite(own_sd), own_sd, usual),
        spoiled_share=share[used],
        widening=np.where(doubtful, noise.doubtful_widening, 1.0)[used],
    )
    spoiled, worth, distance = (np.full(len(series), np.nan) for _ in range(3))
    spoiled[used], worth[used] = posterior.spoiled, posterior.worth
    shared_sd = _shared(getattr(series, f"{quantity}_shared_sd")[used], posterior.worth)
    estimate = _estimate(posterior, shared_sd)
    distance[used] = value[used] - estimate.value - posterior.course @ shift[:, used]
    return _Solved(posterior=posterior, estimate=estimate, spoiled=spoiled, worth=worth, distance=distance)


def _doubts(findings: tuple[Finding, ...], quantity: Quantity) -> bool:
    return any(
        finding.severity == "doubt" and (not finding.touches or quantity in finding.touches) for finding in findings
    )


def _shared(shared_sd: Values, worth: Values) -> float:
    """The shared part of the value [mmHg]: the readings' variances averaged by their weight; 0 where none knows it.

    They share artery, cuff and offset, so their number does not shrink it; a reading without weight has no say.
    """
    weight = np.where(np.isfinite(shared_sd), worth, 0.0)
    if not weight.any():
        return 0.0
    return float(np.sqrt(weight @ np.square(np.nan_to_num(shared_sd)) / weight.sum()))


def _estimate(posterior: LevelPosterior, shared_sd: float) -> Estimate:
    low, middle, high = posterior.quantiles((0.025, 0.5, 0.975))
    once = 1.959964 * shared_sd
    return Estimate(
        value=middle,
        low=middle - float(np.hypot(middle - low, once)),
        high=middle + float(np.hypot(high - middle, once)),
        own_sd=posterior.sd,
        shared_sd=shared_sd,
    )


def _course_probability(courses: Courses, posterior: Values) -> tuple[float, float, float]:
    level, falling, rising = (float(posterior[courses.direction == sign].sum()) for sign in (0, 1, -1))
    return level, falling, rising


def _name_course(probability: tuple[float, float, float]) -> Course:
    level, falling, rising = probability
    if level >= LEVEL_FROM:
        return "level"
    if falling >= MOVING_FROM:
        return "falling"
    return "rising" if rising >= MOVING_FROM else "unclear"


def _in_order(estimates: dict[Quantity, Estimate]) -> tuple[dict[Quantity, Estimate], tuple[Finding, ...]]:
    """The estimates without a mean or diastolic value that contradicts diastolic < mean < systolic, and a finding.

    The three are estimated one by one, so a series that contradicts itself can leave them out of order. Moving them to
    where they fit would hide that; the systolic value stands, and what contradicts it is not given.
    """
    systolic, mean, diastolic = (estimates.get(name) for name in ("systolic", "mean", "diastolic"))
    assert systolic is not None
    lost: list[Literal["mean", "diastolic"]] = []
    below = -np.inf
    if diastolic is not None:
        if diastolic.value < systolic.value:
            below = diastolic.value
        else:
            lost.append("diastolic")
    if mean is not None and not below < mean.value < systolic.value:
        lost.append("mean")
    if not lost:
        return estimates, ()
    pulse_pressure = systolic.value - diastolic.value if diastolic is not None else 0.0
    share = (mean.value - diastolic.value) / pulse_pressure if mean and diastolic and pulse_pressure else 0.0
    return {name: estimate for name, estimate in estimates.items() if name not in lost}, (
        Finding(code="mean-outside-pulse", severity="doubt", touches=tuple(lost), numbers={"share": share}),
    )


def _judged(series: Series, solved: dict[Quantity, _Solved], i: int) -> ReadingInSeries:
    """Reading i with its weights and what the series as a whole says against it."""
    far: list[Finding] = []
    weights: dict[Quantity, float | None] = {"systolic": None, "mean": None, "diastolic": None}
    for quantity in weights:
        if not np.isfinite(getattr(series, quantity)[i]):
            continue
        result = solved.get(quantity)
        if result is None or not np.isfinite(result.worth[i]):
            weights[quantity] = 0.0
            continue
        weights[quantity] = float(result.worth[i])
        if result.spoiled[i] >= SPOILED_DOUBT:
            far.append(
                Finding(
                    code="far-from-series",
                    severity="spoils" if result.spoiled[i] >= SPOILED_DISCARD else "doubt",
                    touches=(quantity,),
                    numbers={"distance_mmhg": float(result.distance[i])},
                )
            )
    findings = series.findings[i] + tuple(far)
    return ReadingInSeries(
        minute=float(series.minute[i]),
        verdict=verdict_of(findings),
        systolic_weight=weights["systolic"],
        mean_weight=weights["mean"],
        diastolic_weight=weights["diastolic"],
        findings=findings,
    )


def _nothing_to_chart(series: Series, prior: CoursePrior, parameters: dict[str, str]) -> ChartedPressure:
    return ChartedPressure(
        series=series,
        systolic=None,
        mean=None,
        diastolic=None,
        pulse_rate=None,
        course="unclear",
        course_probability=(prior.level, prior.falling, prior.rising),
        fall_mmhg=None,
        readings=tuple(_judged(series, {}, i) for i in range(len(series))),
        guideline=None,
        findings=(Finding(code="no-usable-reading", severity="spoils", numbers={"readings": float(len(series))}),),
        parameters=parameters,
    )
