"""What the two methods would decide: the same risk category, and the same high or low pressure.

A few mmHg matter little far from a boundary and all beside one; this is where agreement meets the animal.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from quietlimb.agreement.interval import CONFIDENCE, Interval
from quietlimb.agreement.jackknife import jackknife_se
from quietlimb.agreement.laws import t_quantile
from quietlimb.agreement.pairs import Pairs
from quietlimb.agreement.shares import Share, share_of
from quietlimb.engine.errors import PairsError
from quietlimb.engine.standards.acvim_2018 import ACVIM_2018
from quietlimb.engine.standards.rule_set import RuleSet

Array = NDArray[np.float64]
MOST_EXPONENT = 50.0  # beyond it an end of an interval of kappa is -1 and 1 to the last digit
Weights = Literal["linear", "quadratic"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CategoryTable:
    """Pairs by category of the reference (rows) and of the tested method (columns).

    counts    : (c, c) pairs
    same      : share with the same category
    lower, higher : shares in which the tested method says a lower or a higher category
    linear, quadratic : weighted kappa; None where all pairs are of one category, for which none exists
    """

    rules: str
    names: tuple[str, ...]
    counts: NDArray[np.int64]
    same: Share
    lower: Share
    higher: Share
    linear: Interval | None
    quadratic: Interval | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Detection:
    """How well the tested method finds pressures beyond a limit, the reference being right.

    None where there is no pair to take a share of. The predictive values hold for as many such pressures as there
    were here, `prevalence`; elsewhere they do not.
    """

    of: Literal["high", "low"]
    limit: float
    prevalence: Share
    sensitivity: Share | None
    specificity: Share | None
    positive_value: Share | None
    negative_value: Share | None


def category_table(pairs: Pairs, *, rules: RuleSet = ACVIM_2018, confidence: float = CONFIDENCE) -> CategoryTable:
    """Agreement on the category. Raises PairsError unless the pairs are systolic."""
    if pairs.quantity != "systolic":
        raise PairsError(
            "not-systolic",
            f"risk categories are of the systolic pressure, and these pairs are {pairs.quantity}",
            "compare the systolic pressures for this",
        )
    edges = np.array([each.value for each in rules.systolic_from])
    by_reference, by_tested = (np.searchsorted(edges, v, side="right") for v in (pairs.reference, pairs.tested))
    index = pairs.index
    c = len(rules.categories)
    return CategoryTable(
        rules=rules.name,
        names=rules.categories,
        counts=_cross(by_reference, by_tested, c),
        same=share_of(by_tested == by_reference, index, confidence=confidence),
        lower=share_of(by_tested < by_reference, index, confidence=confidence),
        higher=share_of(by_tested > by_reference, index, confidence=confidence),
        linear=_kappa_of(by_reference, by_tested, index, c, "linear", confidence),
        quadratic=_kappa_of(by_reference, by_tested, index, c, "quadratic", confidence),
    )


def detection(pairs: Pairs, limit: float, of: Literal["high", "low"], *, confidence: float = CONFIDENCE) -> Detection:
    """Detection of pressures at or above a limit ("high"), or below it ("low"). [unit]"""
    truly, told = (v >= limit if of == "high" else v < limit for v in (pairs.reference, pairs.tested))
    index = pairs.index

    def among(hits: NDArray[np.bool_], kept: NDArray[np.bool_]) -> Share | None:
        return share_of(hits[kept], index[kept], confidence=confidence) if kept.any() else None

    return Detection(
        of=of,
        limit=limit,
        prevalence=share_of(truly, index, confidence=confidence),
        sensitivity=among(told, truly),
        specificity=among(~told, ~truly),
        positive_value=among(truly, told),
        negative_value=among(~truly, ~told),
    )


def weights_of(c: int, kind: Weights) -> Array:
    """(c, c) weights of agreement, 1 on the diagonal and 0 in the far corners."""
    apart = np.abs(np.subtract.outer(np.arange(c), np.arange(c))) / (c - 1)
    return np.asarray(1.0 - (apart if kind == "linear" else apart**2))


def kappa(counts: NDArray[np.int64], kind: Weights) -> tuple[float, float]:
    """Weighted kappa of a (c, c) table and its standard error for independent pairs; nan where chance alone agrees.

    [FleissCohenEveritt1969]
    """
    n = int(counts.sum())
    p, w = counts / n, weights_of(counts.shape[0], kind)
    rows, columns = p.sum(axis=1), p.sum(axis=0)
    seen = float((w * p).sum())
    chance = float(rows @ w @ columns)
    if chance >= 1.0:
        return float("nan"), float("nan")
    usual = (w @ columns)[:, None] + (rows @ w)[None, :]
    square = float((p * (w * (1.0 - chance) - usual * (1.0 - seen)) ** 2).sum())
    square -= (seen * chance - 2.0 * chance + seen) ** 2
    return (seen - chance) / (1.0 - chance), math.sqrt(max(square, 0.0) / n) / (1.0 - chance) ** 2


def _cross(rows: NDArray[np.int64], columns: NDArray[np.int64], c: int) -> NDArray[np.int64]:
    return np.bincount(rows * c + columns, minlength=c * c).reshape(c, c)


def _kappa_of(
    rows: NDArray[np.int64],
    columns: NDArray[np.int64],
    index: NDArray[np.int64],
    c: int,
    kind: Weights,
    confidence: float,
) -> Interval | None:
    """Interval made on log(1 - kappa), whose end stays below 1, by t on one less than animals.

    Where every pair agrees the data show no scatter at all, which is no proof that there is none: no interval then.
    """
    value, se = kappa(_cross(rows, columns, c), kind)
    if math.isnan(value):
        return None
    animals = int(index.max()) + 1
    if rows.size > animals:
        _, se = jackknife_se(lambda kept: kappa(_cross(rows[kept], columns[kept], c), kind)[0], index)
    apart = 1.0 - value
    if apart <= 0.0 or se == 0.0 or animals < 2:
        return Interval(estimate=value, low=float("nan"), high=float("nan"), confidence=confidence)
    factor = math.exp(min(t_quantile(0.5 + 0.5 * confidence, animals - 1) * se / apart, MOST_EXPONENT))
    return Interval(
        estimate=value, low=max(1.0 - apart * factor, -1.0), high=1.0 - apart / factor, confidence=confidence
    )
