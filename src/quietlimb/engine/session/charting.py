"""A series of readings to the charted pressure.

The systolic pressure is modelled first: `course` says how the pressure may move, `noise` and `spoiling` how readings
may err, and `posterior` weighs them against the series. A display's three values come from one inflation, so the mean
and the diastolic pressure are modelled given the systolic one (`companions`), which makes the three joint: one course,
errors that go together, and a display whose shape differs from the others' casts doubt on its systolic value too. The
value is the mean of the middle of the posterior, the interval equal-tailed. What all readings share is added once to
the interval and not averaged away; readings that know it differently are heard by the weight that they have in the
value.
"""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import NDArray

from quietlimb.engine.findings import Finding, verdict_of
from quietlimb.engine.session.charted import ChartedPressure, Course, ReadingInSeries
from quietlimb.engine.session.course import CoursePrior, Courses, courses_over
from quietlimb.engine.session.displays import judged_displays
from quietlimb.engine.session.guideline import Variability, guideline_average
from quietlimb.engine.session.noise import Noise
from quietlimb.engine.session.pulse_rate import charted_pulse_rate
from quietlimb.engine.session.quantities import (
    COMPANIONS,
    Findings,
    Quantity,
    Solved,
    companion_solved,
    outlook_of,
    systolic_of,
    usable_systolic,
    usual_noise,
)
from quietlimb.engine.session.series import Series
from quietlimb.engine.session.series_findings import series_findings
from quietlimb.engine.standards.rule_sets import DEFAULT, protocol_of, rule_set
from quietlimb.engine.values import Estimate

Values = NDArray[np.float64]

# A course is named only when this much of the posterior stands behind it. For `level` the figure was set on simulated
# series so that few slow falls are called level; most short series cannot tell and say `unclear`. [invented]
LEVEL_FROM, MOVING_FROM = 0.57, 0.75
SPOILED_DOUBT, SPOILED_DISCARD = 0.5, 0.9  # [invented]


def chart(
    series: Series,
    *,
    rules: str = DEFAULT,
    variability: Variability = "range",
    noise: Noise | None = None,
    course_prior: CoursePrior | None = None,
) -> ChartedPressure:
    """The pressure to chart for a series: the level at its last usable reading, never extrapolated.

    rules        : key of the rule set whose protocol the guideline average follows
    variability  : the definition that the guideline's rule on consistency is read by
    noise        : errors to expect; by default those of the series' method and species, with or without own standard
                   deviations
    course_prior : courses to expect

    Without a usable systolic reading every value is None and a finding says so. One usable reading gets the interval
    that the prior alone allows, and a finding.

    Raises ParameterError for an unknown rule set or definition of variability, and a rule set of another species.
    """
    protocol = protocol_of(rule_set(rules, series.circumstances.species))
    parameters: dict[str, str] = {"protocol": protocol.name, "variability": variability}
    if series.reading_method is not None:
        parameters["method"] = series.reading_method
    parameters.update(
        {name: repr(given) for name, given in (("noise", noise), ("course_prior", course_prior)) if given}
    )
    prior = course_prior or CoursePrior()
    findings = judged_displays(series)
    usable = np.array([verdict != "discard" for verdict in series.verdicts], dtype=bool)
    used = usable_systolic(series)
    if not used.any():
        return _nothing_to_chart(series, prior, parameters)
    expected = noise or usual_noise(series)
    courses = courses_over(series.minute, float(series.minute[np.flatnonzero(used)[-1]]), prior)

    systolic = systolic_of(series, used, findings, courses, expected)
    solved: dict[Quantity, Solved] = {"systolic": systolic}
    for quantity, slope in COMPANIONS:
        known = usable & np.isfinite(getattr(series, quantity))
        if known.any():
            solved[quantity] = companion_solved(series, quantity, slope, known, findings, courses, systolic, expected)

    expected_mmhg = systolic.estimate.value + systolic.posterior.course @ courses.shift
    readings = tuple(_judged(series, findings[i], solved, i, float(expected_mmhg[i])) for i in range(len(series)))
    spoiled = np.array([each.systolic_is_far for each in readings], dtype=bool)
    guideline = guideline_average(series, variability, protocol=protocol, spoiled=spoiled)
    single = int(used.sum()) == 1
    probability = _course_probability(courses, systolic.posterior.course)
    course: Course = "unclear" if single else _name_course(probability)
    ahead = float(systolic.posterior.course @ courses.ahead_mmhg)
    estimates, disorder = _in_order({quantity: each.estimate for quantity, each in solved.items()})
    return ChartedPressure(
        series=series,
        systolic=estimates["systolic"],
        mean=estimates.get("mean"),
        diastolic=estimates.get("diastolic"),
        pulse_rate=charted_pulse_rate(
            series.pulse_rate[usable], shared_sd=0.0 if series.origin == "recorded" else None
        ),
        course=course,
        course_probability=probability,
        fall_mmhg=None if single else float(systolic.posterior.course @ courses.fall_mmhg),
        readings=readings,
        guideline=guideline,
        findings=series_findings(
            series.systolic[used],
            series.minute[used],
            course=course,
            falling_mmhg_per_min=float(systolic.posterior.course @ courses.falling_mmhg_per_min),
            guideline=guideline,
        )
        + disorder,
        levels_off_mmhg=systolic.estimate.value - ahead if course in ("falling", "rising") else None,
        correlation={name: each.with_systolic for name, each in solved.items() if name in estimates},
        parameters=parameters,
        outlook=outlook_of(systolic, courses),
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


def _judged(
    series: Series, display: Findings, solved: dict[Quantity, Solved], i: int, expected_mmhg: float | None = None
) -> ReadingInSeries:
    """Reading i with its weights and what its display and the series as a whole say against it."""
    far: list[Finding] = []
    weights: dict[Quantity, float | None] = {"systolic": None, "mean": None, "diastolic": None}
    # A mean or diastolic value that is wrong makes a reading doubtful whose systolic value stands and counts.
    decides = ("systolic",) if np.isfinite(series.systolic[i]) else tuple(weights)
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
                    severity="spoils" if result.spoiled[i] >= SPOILED_DISCARD and quantity in decides else "doubt",
                    touches=(quantity,),
                    numbers={"distance_mmhg": float(result.distance[i])},
                )
            )
    findings = display + tuple(far)
    return ReadingInSeries(
        minute=float(series.minute[i]),
        verdict=verdict_of(findings),
        systolic_weight=weights["systolic"],
        mean_weight=weights["mean"],
        diastolic_weight=weights["diastolic"],
        findings=findings,
        systolic_expected=expected_mmhg,
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
        readings=tuple(_judged(series, series.findings[i], {}, i) for i in range(len(series))),
        guideline=None,
        findings=(Finding(code="no-usable-reading", severity="spoils", numbers={"readings": float(len(series))}),),
        parameters=parameters,
    )
