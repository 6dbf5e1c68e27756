"""A comparison judged by published criteria: what passes, what fails, and what its interval leaves open.

The point estimate decides whether a criterion is met, as the texts have it. Whether the interval reaches over the
limit stands beside it, for with few animals it nearly always does: eight of them with differences of SD 12 mmHg know
their bias to within 10 mmHg, which is the whole of what the veterinary list allows.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from quietlimb.agreement.components import one_way
from quietlimb.agreement.correlation import correlation
from quietlimb.agreement.differences import RangeName, bias_of, in_ranges
from quietlimb.agreement.human_table import largest_sd
from quietlimb.agreement.interval import CONFIDENCE, Interval
from quietlimb.agreement.laws import chi_squared_quantile
from quietlimb.agreement.pairs import Pairs, Replicates
from quietlimb.agreement.schemes import VETERINARY, Criterion, ReferenceKind, Scheme
from quietlimb.agreement.shares import SLACK, share_of
from quietlimb.engine.errors import PairsError

Verdict = Literal["passes", "passes-crossing", "fails-crossing", "fails", "not-enough-animals", "not-judged"]
COUNTS = ("animals", "pairs", "effective-pairs")
TWO_OF_THREE_ANIMALS = 33
REFERENCE_NOT_TOLD = (
    "the kind of the reference is not told; say whether it is intra-arterial or indirect (reference_is)"
)
OTHER_DESIGN = "these pairs are of another design than the text asks for; see the statistics' page"


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """One criterion as it was met.

    value   : what was found, with its interval; a bare count has itself for both ends. None where nothing could be
              computed
    limit   : that it was held against; None where the text allows nothing, or has no number
    verdict : by the estimate; "-crossing" where the interval reaches over the limit, or where there is no interval.
              A count that is too low is "not-enough-animals"
    why     : why nothing was found, and what to do; None where something was, or where nothing could have been
    """

    criterion: Criterion
    value: Interval | None
    limit: float | None
    verdict: Verdict
    why: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RangeJudgement:
    """The criteria that hold in a range of the reference, low end included. [unit]"""

    name: RangeName
    low: float
    high: float
    animals: int
    pairs: int
    judged: tuple[Judged, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Judgement:
    """All criteria of a scheme.

    species : of the animals, where those of the comparison are of several and each is judged by itself; else None
    verdict : over all pairs: the worst of the criteria that were judged, a lack of animals coming after a failure and
              before a pass. "not-judged" in place of a pass where a criterion was left open, but for a refereed paper,
              and always for a scheme with grades
    grade   : the best that is met; None in a scheme without grades
    grades_allowed : best and worst grade that the intervals leave open
    """

    scheme: Scheme
    quantity: str
    species: str | None = None
    judged: tuple[Judged, ...]
    ranges: tuple[RangeJudgement, ...]
    verdict: Verdict
    grade: str | None
    grades_allowed: tuple[str, str] | None


def judge(
    pairs: Pairs,
    scheme: Scheme = VETERINARY,
    *,
    replicates: Replicates | None = None,
    reference_is: ReferenceKind | None = None,
    bounds: tuple[float, float] | None = None,
    confidence: float = CONFIDENCE,
    species: str | None = None,
) -> Judgement:
    """The pairs held against each criterion of a scheme.

    Parameters
    ----------
    replicates   : all values of a constant truth, where there are more than the pairs; bias and SD rest on them.
    species      : of the animals, to be told with the judgement.
    reference_is : kind of the reference, on which many counts depend; what depends on it is not judged where it is not
                   told.
    bounds       : ends of the low and beginning of the high range of the reference; thirds of the pairs without. [unit]

    Raises PairsError as `Pairs` does; criteria that cannot be computed are told so and raise nothing.
    """
    asked = [each for each in scheme.criteria if each.quantity in (None, pairs.quantity)]
    asked = [each for each in asked if each.reference is None or reference_is in (None, each.reference)]
    judged = tuple(
        _not_judged(each, REFERENCE_NOT_TOLD)
        if each.reference is not None and reference_is is None
        else _judge_one(pairs, each, confidence, replicates)
        for each in asked
    )
    locally = [each for each in asked if each.in_ranges]
    ranges = tuple(
        RangeJudgement(
            name=name,
            low=low,
            high=high,
            animals=0 if part is None else len(part.animals),
            pairs=0 if part is None else part.n,
            judged=tuple(_judge_one(part, each, confidence) for each in locally),
        )
        for name, low, high, part in (in_ranges(pairs, by="reference", bounds=bounds) if locally else ())
    )
    return Judgement(
        scheme=scheme,
        quantity=pairs.quantity,
        species=species,
        judged=judged,
        ranges=ranges,
        verdict="not-judged" if scheme.grades else _worst(judged),
        grade=_grade(scheme, judged, ("passes", "passes-crossing")),
        grades_allowed=_grades_allowed(scheme, judged),
    )


def judge_each(
    pairs: Pairs,
    scheme: Scheme = VETERINARY,
    *,
    replicates: Replicates | None = None,
    reference_is: ReferenceKind | None = None,
    bounds: tuple[float, float] | None = None,
    confidence: float = CONFIDENCE,
) -> tuple[Judgement, ...]:
    """The judgement; of pairs of several species one for each, for agreement in one says nothing of another.

    Parameters as of `judge`.
    """
    return tuple(
        judge(
            part,
            scheme,
            replicates=None if replicates is None else replicates.of(part.animals),
            reference_is=reference_is,
            bounds=bounds,
            confidence=confidence,
            species=species,
        )
        for species, part in by_species(pairs)
    )


def by_species(pairs: Pairs) -> tuple[tuple[str | None, Pairs], ...]:
    """Pairs of several species parted, each with its name; else all of them, with None."""
    names = sorted(set(pairs.species or ()))
    if len(names) < 2:
        return ((None, pairs),)
    column = np.array(pairs.species)
    parts = ((name, pairs.where(column == name)) for name in names)
    return tuple((name, part) for name, part in parts if part is not None)


def verdict_of(value: Interval, lowest: float, highest: float) -> Verdict:
    """By an estimate and its interval, and what is allowed, ends included."""
    inside = lowest - SLACK <= value.estimate <= highest + SLACK
    if not value.is_known:
        return "passes-crossing" if inside else "fails-crossing"
    if inside:
        held = lowest - SLACK <= value.low and value.high <= highest + SLACK
        return "passes" if held else "passes-crossing"
    apart = value.high < lowest - SLACK or value.low > highest + SLACK
    return "fails" if apart else "fails-crossing"


def _judge_one(
    pairs: Pairs | None, criterion: Criterion, confidence: float, replicates: Replicates | None = None
) -> Judged:
    if pairs is None:
        return _judged(criterion, None, "not-enough-animals", "no pair lies in this range")
    if criterion.measure == "publication":
        return _not_judged(criterion, None)
    if criterion.measure == "two-of-three-within":
        return _two_of_three(pairs, criterion, confidence)
    try:
        if replicates is not None and criterion.measure in ("bias", "sd"):
            value: Interval | None = getattr(bias_of(replicates, confidence=confidence), criterion.measure)
        else:
            value = MEASURES[criterion.measure](pairs, criterion, confidence)
    except PairsError as error:
        few = error.code == "too-few-animals"
        verdict: Verdict = "not-enough-animals" if few else "not-judged"
        return _judged(criterion, None, verdict, f"{error.says}; {error.remedy}")
    if value is None:
        return _not_judged(criterion, OTHER_DESIGN)
    if criterion.measure == "sd-of-animal-means":
        allowed = largest_sd(float(pairs.difference.mean()))
        limit = None if allowed is None else allowed.value
        verdict = "fails" if limit is None else verdict_of(value, 0.0, limit)
        return Judged(criterion=criterion, value=value, limit=limit, verdict=verdict)
    if criterion.limit is None:
        raise AssertionError(f"{criterion.key} has no limit")
    limit = criterion.limit.value
    if criterion.sense == "at least":
        verdict = verdict_of(value, limit, math.inf)
    else:
        verdict = verdict_of(value, -limit if criterion.measure == "bias" else 0.0, limit)
    if verdict == "fails" and criterion.measure in COUNTS:
        verdict = "not-enough-animals"
    return Judged(criterion=criterion, value=value, limit=limit, verdict=verdict)


def _judged(criterion: Criterion, value: Interval | None, verdict: Verdict, why: str | None) -> Judged:
    limit = None if criterion.limit is None else criterion.limit.value
    return Judged(criterion=criterion, value=value, limit=limit, verdict=verdict, why=why)


def _not_judged(criterion: Criterion, why: str | None) -> Judged:
    return _judged(criterion, None, "not-judged", why)


def _two_of_three(pairs: Pairs, criterion: Criterion, confidence: float) -> Judged:
    """The second best of three verdicts; the value is the share that got it."""
    found = []
    for band, share in criterion.bands:
        value = _share(np.abs(pairs.difference) <= band + SLACK, pairs, confidence)
        found.append((ORDER.index(verdict_of(value, share.value, 1.0)), share.value, value))
    place, limit, value = sorted(found, key=lambda each: -each[0])[1]
    return Judged(criterion=criterion, value=value, limit=limit, verdict=ORDER[place])


# from the worst
ORDER: tuple[Verdict, ...] = ("fails", "fails-crossing", "not-enough-animals", "passes-crossing", "passes")


def _worst(judged: tuple[Judged, ...]) -> Verdict:
    told = [each.verdict for each in judged if each.criterion.measure != "publication"]
    known = [each for each in told if each != "not-judged"]
    worst = min(known, key=ORDER.index) if known else "not-judged"
    return "not-judged" if len(known) < len(told) and worst.startswith("passes") else worst


def _grade(scheme: Scheme, judged: tuple[Judged, ...], enough: tuple[Verdict, ...]) -> str | None:
    for grade in scheme.grades:
        if all(each.verdict in enough for each in judged if each.criterion.grade == grade):
            return grade
    return scheme.no_grade


def _grades_allowed(scheme: Scheme, judged: tuple[Judged, ...]) -> tuple[str, str] | None:
    best = _grade(scheme, judged, ("passes", "passes-crossing", "fails-crossing"))
    worst = _grade(scheme, judged, ("passes",))
    return None if best is None or worst is None else (best, worst)


def _share(hits: NDArray[np.bool_], pairs: Pairs, confidence: float) -> Interval:
    return share_of(hits, pairs.index, confidence=confidence).by_animal


def _count(value: float) -> Interval:
    return Interval(estimate=float(value), low=float(value), high=float(value))


def _bias(pairs: Pairs, criterion: Criterion, confidence: float) -> Interval:
    return bias_of(pairs, confidence=confidence).bias


def _sd(pairs: Pairs, criterion: Criterion, confidence: float) -> Interval:
    return bias_of(pairs, confidence=confidence).sd


def _sd_all_pairs(pairs: Pairs, criterion: Criterion, confidence: float) -> Interval:
    """Plain SD of all differences, as the standard has it, with the interval of one that knows the animals."""
    known = bias_of(pairs, confidence=confidence).sd
    plain = float(pairs.difference.std(ddof=1))
    return Interval(estimate=plain, low=min(known.low, plain), high=max(known.high, plain), confidence=confidence)


def animal_mean_sd(pairs: Pairs, *, confidence: float = CONFIDENCE) -> Interval:
    """SD of the animals' mean errors around the mean of all pairs, k - 1 below the line. [unit]"""
    index = pairs.index
    k = len(pairs.animals)
    if k < 2:
        raise PairsError(
            "too-few-animals", f"{pairs.quantity}: {k} animal has no scatter", "compare in two animals at least"
        )
    means = np.bincount(index, pairs.difference) / np.bincount(index)
    sd = math.sqrt(float(((means - pairs.difference.mean()) ** 2).sum()) / (k - 1))
    tail = 0.5 - 0.5 * confidence
    low, high = (sd * math.sqrt((k - 1) / chi_squared_quantile(p, k - 1)) for p in (1.0 - tail, tail))
    return Interval(estimate=sd, low=low, high=high, confidence=confidence)


def _sd_of_animal_means(pairs: Pairs, criterion: Criterion, confidence: float) -> Interval:
    return animal_mean_sd(pairs, confidence=confidence)


def _correlation(pairs: Pairs, criterion: Criterion, confidence: float) -> Interval:
    return correlation(pairs, confidence=confidence).pooled


def _band(criterion: Criterion) -> float:
    if criterion.band is None:
        raise AssertionError(f"{criterion.key} has no band")
    return criterion.band


def _share_within(pairs: Pairs, criterion: Criterion, confidence: float) -> Interval:
    return _share(np.abs(pairs.difference) <= _band(criterion) + SLACK, pairs, confidence)


def _reference_at_most(pairs: Pairs, criterion: Criterion, confidence: float) -> Interval:
    """A share of the sample, not of a population: it is what it is."""
    return _count(float((pairs.reference <= _band(criterion) + SLACK).mean()))


def _reference_at_least(pairs: Pairs, criterion: Criterion, confidence: float) -> Interval:
    return _count(float((pairs.reference >= _band(criterion) - SLACK).mean()))


def _animals(pairs: Pairs, criterion: Criterion, confidence: float) -> Interval:
    return _count(len(pairs.animals))


def _pairs(pairs: Pairs, criterion: Criterion, confidence: float) -> Interval:
    return _count(pairs.n)


def _most_pairs(pairs: Pairs, criterion: Criterion, confidence: float) -> Interval:
    return _count(int(np.bincount(pairs.index).max()))


def _effective_pairs(pairs: Pairs, criterion: Criterion, confidence: float) -> Interval | None:
    found = effective_pairs(pairs)
    return None if math.isnan(found) else _count(found)


def effective_pairs(pairs: Pairs) -> float:
    """Effective independent readings by formula 6 of ISO 81060-3: k (1 + (1 - ICC) (N / k - 1)).

    nan where the likeness of the pairs of an animal cannot be told: nothing varies, or there is one animal.
    """
    k = len(pairs.animals)
    if pairs.n == k:
        return float(k)
    if k < 2:
        return float("nan")
    return k * (1.0 + (1.0 - one_way(pairs.difference, pairs.index).intraclass) * (pairs.n / k - 1.0))


def _within_by_animal(pairs: Pairs, criterion: Criterion) -> NDArray[np.float64] | None:
    """How many of its three pairs lie within the band, for each of 33 animals; None for another design."""
    sizes = np.bincount(pairs.index)
    if sizes.size != TWO_OF_THREE_ANIMALS or (sizes != 3).any():
        return None
    hits = (np.abs(pairs.difference) <= _band(criterion) + SLACK).astype(np.float64)
    return np.asarray(np.bincount(pairs.index, hits), dtype=np.float64)


def _two_within(pairs: Pairs, criterion: Criterion, confidence: float) -> Interval | None:
    hits = _within_by_animal(pairs, criterion)
    return None if hits is None else _count(int((hits >= 2).sum()))


def _none_within(pairs: Pairs, criterion: Criterion, confidence: float) -> Interval | None:
    hits = _within_by_animal(pairs, criterion)
    return None if hits is None else _count(int((hits == 0).sum()))


MEASURES: dict[str, Callable[[Pairs, Criterion, float], Interval | None]] = {
    "bias": _bias,
    "sd": _sd,
    "sd-all-pairs": _sd_all_pairs,
    "sd-of-animal-means": _sd_of_animal_means,
    "correlation": _correlation,
    "share-within": _share_within,
    "animals": _animals,
    "pairs": _pairs,
    "most-pairs-of-an-animal": _most_pairs,
    "effective-pairs": _effective_pairs,
    "reference-at-most": _reference_at_most,
    "reference-at-least": _reference_at_least,
    "animals-with-two-of-three-within": _two_within,
    "animals-with-none-within": _none_within,
}
