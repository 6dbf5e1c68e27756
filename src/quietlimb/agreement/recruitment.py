"""What a comparison still lacks: animals, pairs, and low, normal and high pressures, by the rules of a scheme."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np

from quietlimb.agreement.criteria import effective_pairs
from quietlimb.agreement.differences import RANGES, RangeName
from quietlimb.agreement.pair_rows import NOT_TOLD
from quietlimb.agreement.pairs import Pairs
from quietlimb.agreement.schemes import ReferenceKind, Scheme
from quietlimb.agreement.shares import SLACK
from quietlimb.engine.standards.acvim_2018 import HYPERTENSIVE_FROM
from quietlimb.engine.standards.low_pressure import MEAN_BELOW, SYSTOLIC_BELOW
from quietlimb.engine.values import Cited

# End of the low and begin of the high range of each pressure, where none is told.
BOUNDS: Final[Mapping[str, tuple[Cited, Cited]]] = {
    "systolic": (SYSTOLIC_BELOW, HYPERTENSIVE_FROM),
    "mean": (MEAN_BELOW, Cited(120.0, "mmHg", "Quietlimb", "this file", "invented")),
    "diastolic": (
        Cited(45.0, "mmHg", "Quietlimb", "this file", "invented"),
        Cited(100.0, "mmHg", "Quietlimb", "this file", "invented"),
    ),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """One count that a scheme asks for.

    key   : of the criterion
    band  : pressure of the reference that the pairs must lie at or beyond [mmHg]; None for a plain count
    have, need : pairs or animals; `need` of a share is of the pairs that there are, or of those asked for if more
    limit : the figure with its source
    at_most : whether there may be no more, instead of no fewer
    """

    key: str
    band: float | None
    have: int
    need: int
    limit: Cited
    at_most: bool = False

    @property
    def missing(self) -> int:
        """How many more are wanted; of what there may be no more of, how many there are too many."""
        return max(0, self.have - self.need if self.at_most else self.need - self.have)


@dataclass(frozen=True, slots=True, kw_only=True)
class RangeCount:
    """Pairs and animals with a reference in a range, low end included. [mmHg]

    by_species : pairs of each species
    """

    name: RangeName
    low: float
    high: float
    animals: int
    pairs: int
    by_species: Mapping[str, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class Recruitment:
    """What there is and what is lacking, of one pressure by one scheme.

    animals_by_species : animals of each species; accuracy in one species says nothing of another [common practice]
    """

    scheme: Scheme
    quantity: str
    needs: tuple[Need, ...]
    ranges: tuple[RangeCount, ...]
    animals_by_species: Mapping[str, int]

    @property
    def empty_ranges(self) -> tuple[RangeName, ...]:
        """Ranges without a single pair."""
        return tuple(each.name for each in self.ranges if each.pairs == 0)

    @property
    def complete(self) -> bool:
        """Whether nothing is lacking."""
        return not self.empty_ranges and all(need.missing == 0 for need in self.needs)


def recruitment(
    pairs: Pairs, scheme: Scheme, *, reference_is: ReferenceKind | None, bounds: tuple[float, float] | None = None
) -> Recruitment:
    """What the pairs lack by a scheme.

    reference_is : on which most counts depend; where it is not told, those that depend on it are left out
    bounds       : end of the low and begin of the high range [mmHg]; `BOUNDS` where none are told
    """
    low, high = bounds or tuple(each.value for each in BOUNDS[pairs.quantity])
    edges = (-math.inf, low, high, math.inf)
    species = np.array([NOT_TOLD] * pairs.n if pairs.species is None else list(pairs.species))
    ranges = []
    for k, name in enumerate(RANGES):
        inside = (pairs.reference >= edges[k]) & (pairs.reference < edges[k + 1])
        ranges.append(
            RangeCount(
                name=name,
                low=edges[k],
                high=edges[k + 1],
                animals=len(set(pairs.animal[inside].tolist())),
                pairs=int(inside.sum()),
                by_species=dict(sorted(Counter(species[inside].tolist()).items())),
            )
        )
    each_animal = dict(zip(pairs.animal.tolist(), species.tolist(), strict=True))
    return Recruitment(
        scheme=scheme,
        quantity=pairs.quantity,
        needs=_needs(pairs, scheme, reference_is),
        ranges=tuple(ranges),
        animals_by_species=dict(sorted(Counter(each_animal.values()).items())),
    )


def _needs(pairs: Pairs, scheme: Scheme, reference_is: ReferenceKind | None) -> tuple[Need, ...]:
    asked = [each for each in scheme.criteria if each.quantity in (None, pairs.quantity) and each.limit is not None]
    asked = [each for each in asked if each.reference in (None, reference_is)]
    wanted_pairs = max([pairs.n, *(int(each.limit.value) for each in asked if each.measure == "pairs" and each.limit)])
    found = []
    for each in asked:
        limit = each.limit
        assert limit is not None
        band = each.band
        if each.measure in ("reference-at-most", "reference-at-least"):
            assert band is not None
            low = each.measure == "reference-at-most"
            beyond = pairs.reference <= band + SLACK if low else pairs.reference >= band - SLACK
            need = math.ceil(limit.value * wanted_pairs - SLACK)
            found.append(Need(key=each.key, band=band, have=int(beyond.sum()), need=need, limit=limit))
        elif each.measure in ("animals", "pairs", "most-pairs-of-an-animal"):
            have = {
                "animals": len(pairs.animals),
                "pairs": pairs.n,
                "most-pairs-of-an-animal": int(np.bincount(pairs.index).max()),
            }[each.measure]
            at_most = each.sense == "at most"
            found.append(Need(key=each.key, band=None, have=have, need=int(limit.value), limit=limit, at_most=at_most))
        elif each.measure == "effective-pairs":
            worth = effective_pairs(pairs)
            if not math.isnan(worth):
                found.append(Need(key=each.key, band=None, have=int(worth), need=int(limit.value), limit=limit))
    return tuple(found)
