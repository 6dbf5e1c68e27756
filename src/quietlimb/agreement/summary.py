"""All that a comparison tells, gathered: each figure, or why there is none."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal, TypeVar

from quietlimb.agreement.categories import CategoryTable, Detection, category_table, detection
from quietlimb.agreement.concordance import Deviation, concordance, deviation
from quietlimb.agreement.correlation import Correlation, correlation
from quietlimb.agreement.criteria import Judgement, judge_each
from quietlimb.agreement.differences import (
    Bias,
    ProportionalBias,
    RangeBias,
    bias_by_range,
    bias_of,
    proportional_bias,
)
from quietlimb.agreement.interval import CONFIDENCE, Interval
from quietlimb.agreement.intraclass import Intraclass, intraclass_of_pairs
from quietlimb.agreement.limits import Limits, limits_of_agreement
from quietlimb.agreement.pairs import Pairs, Replicates
from quietlimb.agreement.regression import Line, deming, passing_bablok
from quietlimb.agreement.repeatability import Repeatability, repeatability
from quietlimb.agreement.schemes import VETERINARY, ReferenceKind, Scheme
from quietlimb.agreement.shares import ShareWithin, shares_within, wilson
from quietlimb.agreement.trending import Trending, trending
from quietlimb.engine.errors import PairsError
from quietlimb.engine.standards.acvim_2018 import ACVIM_2018, HYPERTENSIVE_FROM
from quietlimb.engine.standards.low_pressure import MEAN_BELOW, SYSTOLIC_BELOW
from quietlimb.engine.standards.rule_set import RuleSet

Found = TypeVar("Found")


@dataclass(frozen=True, slots=True, kw_only=True)
class Missing:
    """A figure that these pairs do not give: its name among the fields of `Comparison`, and why."""

    name: str
    code: str
    says: str
    remedy: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Success:
    """Share of the attempts that gave a value; what is dropped makes agreement look better than it is."""

    method: Literal["tested", "reference"]
    attempts: int
    failed: int
    share: Interval


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """A method beside its reference. Fields are None where these pairs do not give them, and then `missing` says why.

    bias_by_third, bias_by_bounds : at low, normal and high pressure, by the mean of the two; the second only where
                     bounds were given
    against_average, against_reference : proportional bias
    repeatability_tested, repeatability_reference : of replicates of a constant truth only
    categories, high : of systolic pressure only; low : of systolic and mean pressure
    judgements     : one a scheme, and of pairs of several species one for each of them
    success        : of either method, where failures were counted
    """

    pairs: Pairs
    bias: Bias | None
    bias_by_third: tuple[RangeBias, ...]
    bias_by_bounds: tuple[RangeBias, ...] | None
    against_average: ProportionalBias | None
    against_reference: ProportionalBias | None
    limits: Limits | None
    repeatability_tested: Repeatability | None
    repeatability_reference: Repeatability | None
    deming: Line | None
    passing_bablok: Line | None
    correlation: Correlation | None
    concordance: Interval | None
    intraclass: Intraclass | None
    deviation: Deviation | None
    shares: tuple[ShareWithin, ...]
    categories: CategoryTable | None
    high: Detection | None
    low: Detection | None
    trending: Trending | None
    judgements: tuple[Judgement, ...]
    success: tuple[Success, ...]
    missing: tuple[Missing, ...]

    @property
    def quantity(self) -> str:
        """Of the pairs."""
        return self.pairs.quantity

    def judgement(self, scheme: str) -> Judgement:
        """By the key of its scheme, of several species the last. Raises KeyError for one that was not asked for."""
        return {each.scheme.key: each for each in self.judgements}[scheme]


def compare(
    pairs: Pairs,
    *,
    replicates: Replicates | None = None,
    schemes: tuple[Scheme, ...] = (VETERINARY,),
    reference_is: ReferenceKind | None = None,
    bounds: tuple[float, float] | None = None,
    error_ratio: float = 1.0,
    rules: RuleSet = ACVIM_2018,
    confidence: float = CONFIDENCE,
) -> Comparison:
    """Everything that the pairs give.

    Parameters
    ----------
    replicates   : all values of a constant truth, where a method has more of them than there are pairs; bias, limits,
                   repeatability, deviation and the criteria on bias and SD rest on them, all else on the pairs.
    schemes      : criteria to judge by.
    reference_is : kind of the reference, for counts of animals that depend on it.
    bounds       : end of low and beginning of high pressure, for bias by range and for the criteria. [unit]
    error_ratio  : for Deming's line: variance of the tested method's error over that of the reference's.
    rules        : whose categories the systolic pressure falls into.

    Raises
    ------
    PairsError : bounds out of order. What the pairs are too few for, or not made for, is told in `missing`.
    ParameterError : a ratio that is not above 0.
    """
    missing: list[Missing] = []

    def if_any(name: str, compute: Callable[[], Found]) -> Found | None:
        try:
            return compute()
        except PairsError as error:
            missing.append(Missing(name=name, code=error.code, says=error.says, remedy=error.remedy))
            return None

    values: Pairs | Replicates = pairs if replicates is None else replicates
    thirds = bias_by_range(pairs, confidence=confidence)
    systolic = pairs.quantity == "systolic"
    below = {"systolic": SYSTOLIC_BELOW.value, "mean": MEAN_BELOW.value}.get(pairs.quantity)
    return Comparison(
        pairs=pairs,
        bias=if_any("bias", lambda: bias_of(values, confidence=confidence)),
        bias_by_third=thirds,
        bias_by_bounds=None if bounds is None else bias_by_range(pairs, bounds=bounds, confidence=confidence),
        against_average=if_any("against_average", lambda: proportional_bias(pairs, confidence=confidence)),
        against_reference=if_any(
            "against_reference", lambda: proportional_bias(pairs, against="reference", confidence=confidence)
        ),
        limits=if_any("limits", lambda: limits_of_agreement(values, confidence=confidence)),
        repeatability_tested=if_any(
            "repeatability_tested", lambda: repeatability(values, "tested", confidence=confidence)
        ),
        repeatability_reference=if_any(
            "repeatability_reference", lambda: repeatability(values, "reference", confidence=confidence)
        ),
        deming=if_any("deming", lambda: deming(pairs, error_ratio=error_ratio, confidence=confidence)),
        passing_bablok=if_any("passing_bablok", lambda: passing_bablok(pairs, confidence=confidence)),
        correlation=if_any("correlation", lambda: correlation(pairs, confidence=confidence)),
        concordance=if_any("concordance", lambda: concordance(pairs, confidence=confidence)),
        intraclass=if_any("intraclass", lambda: intraclass_of_pairs(pairs, confidence=confidence)),
        deviation=if_any("deviation", lambda: deviation(values, confidence=confidence)),
        shares=shares_within(pairs, confidence=confidence),
        categories=if_any("categories", lambda: category_table(pairs, rules=rules, confidence=confidence)),
        high=detection(pairs, HYPERTENSIVE_FROM.value, "high", confidence=confidence) if systolic else None,
        low=None if below is None else detection(pairs, below, "low", confidence=confidence),
        trending=if_any("trending", lambda: trending(pairs, confidence=confidence)),
        judgements=tuple(
            judgement
            for scheme in schemes
            for judgement in judge_each(
                pairs,
                scheme,
                replicates=replicates,
                reference_is=reference_is,
                bounds=bounds,
                confidence=confidence,
            )
        ),
        success=_success(pairs, confidence),
        missing=tuple(missing),
    )


def _success(pairs: Pairs, confidence: float) -> tuple[Success, ...]:
    """Plain shares: which animal an attempt failed in was not told."""
    found: list[Success] = []
    counted: tuple[tuple[Literal["tested", "reference"], int | None], ...] = (
        ("tested", pairs.failed_tested),
        ("reference", pairs.failed_reference),
    )
    for method, failed in counted:
        if failed is None or pairs.attempts is None:
            continue
        share = wilson((pairs.attempts - failed) / pairs.attempts, pairs.attempts, confidence=confidence)
        found.append(Success(method=method, attempts=pairs.attempts, failed=failed, share=share))
    return tuple(found)
