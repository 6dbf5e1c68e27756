"""The analysis of a comparison as it was planned, and where what was run departs from it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from typing import Any, Final

from quietlimb.agreement.interval import CONFIDENCE
from quietlimb.agreement.pair_rows import QUANTITIES, PairRows, Quantity
from quietlimb.agreement.pairs import Truth
from quietlimb.agreement.schemes import SCHEMES, ReferenceKind
from quietlimb.agreement.window_rule import Rule
from quietlimb.engine.errors import ParameterError

Bounds = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Analysis:
    """All that may be chosen in the analysis of a comparison.

    truth       : what the true value did between the pairs of an animal; None as the file tells it
    reference_is: kind of the reference; None as the file tells it
    quantities  : that are compared
    schemes     : keys of `SCHEMES`
    bounds      : of each quantity, end of the low and begin of the high range [mmHg]; thirds where there are none
    error_ratio : of Deming's line: variance of the tested method's error over the reference's
    confidence  : of all intervals, 0..1
    rule        : by which pairs are made of two channels; None where they come as pairs
    """

    truth: Truth | None = None
    reference_is: ReferenceKind | None = None
    quantities: tuple[Quantity, ...] = QUANTITIES
    schemes: tuple[str, ...] = ("veterinary-consensus",)
    bounds: Mapping[Quantity, Bounds] = field(default_factory=dict)
    error_ratio: float = 1.0
    confidence: float = CONFIDENCE
    rule: Rule | None = None

    def __post_init__(self) -> None:
        for scheme in self.schemes:
            if scheme not in SCHEMES:
                raise ParameterError(
                    "unknown-scheme", f"there is no scheme {scheme!r}", f"use one of: {', '.join(SCHEMES)}"
                )
        if not 0.5 <= self.confidence < 1.0:
            raise ParameterError(
                "impossible-confidence", f"confidence is {self.confidence:g}", "give 0.5 or more and less than 1"
            )
        if not 0.0 < self.error_ratio < float("inf"):
            raise ParameterError(
                "impossible-error-ratio", f"the ratio of the error variances is {self.error_ratio:g}", "give above 0"
            )
        for quantity, (low, high) in self.bounds.items():
            if not low < high:
                raise ParameterError(
                    "bounds-out-of-order", f"the bounds of {quantity} are {low:g} and {high:g}", "give the lower first"
                )


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """An analysis that was decided before the data.

    title    : of the study
    question : what is to be answered
    tested, reference : names of the methods
    primary  : the pressure on which the answer rests
    animals, readings : how many, and of each; readings None where not fixed
    made_on  : day on which the plan was made, as 2031-02-04
    reasons  : for the number of animals, in words
    """

    title: str
    question: str
    tested: str
    reference: str
    primary: Quantity
    animals: int
    readings: int | None
    made_on: str
    analysis: Analysis
    reasons: str = ""

    def __post_init__(self) -> None:
        if self.animals < 2 or (self.readings is not None and self.readings < 1):
            raise ParameterError(
                "impossible-plan", f"{self.animals} animals, {self.readings} readings", "plan 2 animals or more"
            )
        if self.primary not in self.analysis.quantities:
            raise ParameterError(
                "impossible-plan",
                f"the answer rests on the {self.primary} pressure, which is not compared",
                f"choose one of: {', '.join(self.analysis.quantities)}",
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanDeviation:
    """One thing that was not done as planned.

    code    : field of `Plan` or `Analysis`, or `data-before-plan`
    planned, done : as text
    """

    code: str
    planned: str
    done: str


PLAN_FIELDS: Final = ("tested", "reference")


def deviations(plan: Plan, rows: PairRows, analysis: Analysis) -> tuple[PlanDeviation, ...]:
    """Where rows and analysis depart from the plan, in the order of its fields; empty where all went as planned.

    analysis : as it was run, with truth and kind of reference as they were taken
    """
    found = []
    done: dict[str, Any] = {"tested": rows.tested_name, "reference": rows.reference_name}
    for name in PLAN_FIELDS:
        if getattr(plan, name) != done[name]:
            found.append(PlanDeviation(code=name, planned=getattr(plan, name), done=done[name]))
    animals = len(rows.animals)
    if animals != plan.animals:
        found.append(PlanDeviation(code="animals", planned=str(plan.animals), done=str(animals)))
    if plan.readings is not None:
        counts = sorted({sum(row.animal == animal for row in rows.rows) for animal in rows.animals})
        if counts != [plan.readings]:
            told = str(counts[0]) if len(counts) == 1 else f"{counts[0]} to {counts[-1]}"
            found.append(PlanDeviation(code="readings", planned=str(plan.readings), done=told))
    for each in fields(Analysis):
        planned, run = getattr(plan.analysis, each.name), getattr(analysis, each.name)
        open_in_plan = planned is None and each.name in ("truth", "reference_is", "rule")
        if planned != run and not open_in_plan:
            found.append(PlanDeviation(code=each.name, planned=_shown(planned), done=_shown(run)))
    if rows.taken_from is not None and rows.taken_from < plan.made_on:
        found.append(PlanDeviation(code="data-before-plan", planned=plan.made_on, done=rows.taken_from))
    return tuple(found)


def _shown(value: Any) -> str:
    if value is None:
        return "not told"
    if isinstance(value, Mapping):
        return ", ".join(f"{name} {low:g} to {high:g}" for name, (low, high) in sorted(value.items())) or "thirds"
    if isinstance(value, tuple):
        return ", ".join(value)
    if isinstance(value, Rule):
        return f"{value.window}, {value.seconds:g} s, {value.fewest_beats} beats, clocks {value.later_s:g} s apart"
    return f"{value:g}" if isinstance(value, float) else str(value)
