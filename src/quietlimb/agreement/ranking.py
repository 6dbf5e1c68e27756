"""Methods of reading ranked by how near they come to what is known, on the same recordings."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from quietlimb.agreement.interval import CONFIDENCE, Interval
from quietlimb.agreement.pair_rows import Pressures, Quantity
from quietlimb.engine.values import Cited

Array = NDArray[np.float64]
WITHIN_MMHG = 10.0
# Who answers only where it is easy is no nearer than who answers everywhere.
FEWEST_ANSWERED = Cited(0.8, "share", "Quietlimb", "answered, of what the most answering method did", "invented")


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """A recording whose pressures are known, and what each method read of it.

    read : by method; no entry where it gave nothing
    """

    name: str
    animal: str
    known: Pressures
    read: Mapping[str, Pressures]


@dataclass(frozen=True, slots=True, kw_only=True)
class Ranked:
    """How one method did for one pressure. [mmHg]

    recordings  : with a known pressure
    failed      : of them, those that it gave no value of
    place       : its rank from 1; None where it gave values of less than 80 % as many recordings as the method that
                  gave most
    bias, sd    : of its errors, over recordings
    rms         : root mean square error, by which methods are ranked
    within      : share of the values within 10 mmHg
    against_first : mean absolute error minus that of the method it is held against, on recordings that both read, the
                  mean of each animal counting once; below 0 where it is nearer. None for that method itself, or with
                  fewer than two animals
    """

    method: str
    recordings: int
    failed: int
    place: int | None
    bias: float
    sd: float
    rms: float
    within: float
    against_first: Interval | None


def rank(
    cases: Sequence[Case], methods: Sequence[str], quantity: Quantity, *, confidence: float = CONFIDENCE
) -> tuple[Ranked, ...]:
    """The methods, the nearest first; those that answered too seldom come last and have no place, the most first.

    methods : the first is the one that the others are held against
    """
    known = [case for case in cases if case.known.of(quantity) is not None]
    errors = {method: _errors(known, method, quantity) for method in methods}
    animals = np.array([case.animal for case in known])
    answered = {method: int(np.isfinite(error).sum()) for method, error in errors.items()}
    fewest = max(1.0, FEWEST_ANSWERED.value * max(answered.values(), default=0))
    found = []
    for method in methods:
        error = errors[method]
        told = error[np.isfinite(error)]
        found.append(
            Ranked(
                method=method,
                recordings=len(known),
                failed=len(known) - told.size,
                place=None,
                bias=float(told.mean()) if told.size else math.nan,
                sd=float(told.std(ddof=1)) if told.size > 1 else math.nan,
                rms=math.sqrt(float((told**2).mean())) if told.size else math.inf,
                within=float((np.abs(told) <= WITHIN_MMHG).mean()) if told.size else math.nan,
                against_first=None
                if method == methods[0]
                else _against(np.abs(error) - np.abs(errors[methods[0]]), animals, confidence),
            )
        )
    often = sorted((each for each in found if answered[each.method] >= fewest), key=lambda each: each.rms)
    seldom = sorted((each for each in found if answered[each.method] < fewest), key=lambda each: each.failed)
    return (*(replace(each, place=k) for k, each in enumerate(often, start=1)), *seldom)


def _errors(cases: Sequence[Case], method: str, quantity: Quantity) -> Array:
    """(n,) read minus known; nan where nothing was read."""
    found = np.full(len(cases), np.nan)
    for k, case in enumerate(cases):
        value = case.read[method].of(quantity) if method in case.read else None
        known = case.known.of(quantity)
        if value is not None and known is not None:
            found[k] = value - known
    return found


def _against(difference: Array, animals: NDArray[np.str_], confidence: float) -> Interval | None:
    both = np.isfinite(difference)
    means = np.array([difference[both & (animals == name)].mean() for name in np.unique(animals[both])])
    if means.size < 2:
        return None
    half = float(stats.t.ppf(0.5 + 0.5 * confidence, means.size - 1)) * float(means.std(ddof=1)) / math.sqrt(means.size)
    middle = float(means.mean())
    return Interval(estimate=middle, low=middle - half, high=middle + half, confidence=confidence)
