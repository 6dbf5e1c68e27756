"""Paired values of a method and a reference: the vocabulary of every comparison.

A pair is one value by the method that is tested and one by its reference, of one quantity, taken of one animal at
once or as nearly so as can be had. What may be computed from several pairs of an animal depends on whether the true
value stood still between them, and only whoever measured knows that: `truth` says it.

[BlandAltman1999], sections 5.2 and 5.3, for the two kinds of replicates.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal, TypeVar, get_args

import numpy as np
from numpy.typing import NDArray

from quietlimb.engine.errors import PairsError

Array = NDArray[np.float64]
Names = NDArray[np.str_]
Told = TypeVar("Told", bound=str)

# One pair an animal; several while the true value stands still; several while it changes, each pair taken together.
Truth = Literal["single", "constant", "changing"]
First = Literal["tested", "reference", "together"]

QUANTITIES = ("systolic", "mean", "diastolic")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pairs:
    """Pairs of one quantity by two methods. Arrays are copied and cannot be edited; plain sequences are taken too.

    quantity         : "systolic", "mean" or "diastolic"; any other name for another quantity
    animal           : (n,) name or number of the animal, as text
    tested           : (n,) by the method that is tested [unit]
    reference        : (n,) by the reference [unit]
    truth            : "single", one pair an animal; "constant", replicates of a true value that stood still, so that
                       any tested value of an animal could go with any reference value of it; "changing", replicates
                       whose two values belong together because the true value moved between the pairs
    occasion         : (n,) visit or moment of each pair, as text; pairs of an animal stand in the order taken
    species, site, condition : (n,) one text a pair, None where not told
    first            : (n,) which of the two was taken first, None where not told
    blinded          : whether each method was read without knowledge of the other; None where not told
    failed_tested, failed_reference : determinations that gave no value, of `attempts`; None where not counted
    attempts         : pairs that were tried, those that failed included
    unit             : of the values

    Raises PairsError where the parts do not fit each other.
    """

    quantity: str
    animal: Names
    tested: Array
    reference: Array
    truth: Truth
    occasion: Names | None = None
    species: tuple[str, ...] | None = None
    site: tuple[str, ...] | None = None
    condition: tuple[str, ...] | None = None
    first: tuple[First, ...] | None = None
    blinded: bool | None = None
    failed_tested: int | None = None
    failed_reference: int | None = None
    attempts: int | None = None
    unit: str = "mmHg"

    def __post_init__(self) -> None:
        if self.truth not in get_args(Truth):
            raise PairsError("unknown-truth", f"truth is {self.truth!r}", f"use one of: {', '.join(get_args(Truth))}")
        object.__setattr__(self, "animal", _names(self.animal, "animal"))
        object.__setattr__(self, "tested", _values(self.tested, "tested"))
        object.__setattr__(self, "reference", _values(self.reference, "reference"))
        if self.occasion is not None:
            object.__setattr__(self, "occasion", _names(self.occasion, "occasion"))
        self._check_lengths()
        self._check_first()
        self._check_replicates()
        self._check_counts()

    def _check_lengths(self) -> None:
        n = len(self.tested)
        if n == 0:
            raise PairsError("no-pairs", "there is no pair", "give at least one tested and one reference value")
        for name in ("animal", "reference", "occasion", "species", "site", "condition", "first"):
            column = getattr(self, name)
            if column is not None and len(column) != n:
                raise PairsError(
                    "unequal-lengths",
                    f"there are {n} tested values but {len(column)} of {name}",
                    "give one of each for every pair, or use Replicates where the numbers differ by design",
                )

    def _check_first(self) -> None:
        for i, name in enumerate(self.first or ()):
            if name not in get_args(First):
                raise PairsError(
                    "unknown-first", f"first of pair {i + 1} is {name!r}", f"use one of: {', '.join(get_args(First))}"
                )

    def _check_replicates(self) -> None:
        if self.truth != "single":
            return
        names, counts = np.unique(self.animal, return_counts=True)
        if counts.max() > 1:
            raise PairsError(
                "replicates-of-one",
                f"animal {names[counts.argmax()]} has {counts.max()} pairs, and truth is 'single'",
                "say whether the true value stood still ('constant') or moved ('changing') between its pairs, "
                "or keep one pair an animal",
            )

    def _check_counts(self) -> None:
        for name in ("failed_tested", "failed_reference"):
            count = getattr(self, name)
            if count is None:
                continue
            if count < 0:
                raise PairsError("impossible-count", f"{name} is {count}", "give the number of failures, 0 or more")
            if self.attempts is None:
                raise PairsError(
                    "attempts-missing",
                    f"{name} is {count}, of an unknown number of attempts",
                    "give attempts: the pairs that were tried, those that failed included",
                )
            if count + self.n > self.attempts:
                raise PairsError(
                    "impossible-count",
                    f"{self.n} pairs and {name} of {count} are more than {self.attempts} attempts",
                    "count the pairs that were tried, those that failed included",
                )

    @property
    def n(self) -> int:
        """Number of pairs."""
        return len(self.tested)

    @property
    def animals(self) -> tuple[str, ...]:
        """The animals, each once, in the order of their first pair."""
        return tuple(dict.fromkeys(str(name) for name in self.animal))

    @property
    def index(self) -> NDArray[np.int64]:
        """(n,) which of `animals` each pair is of, counted from 0."""
        place = {name: i for i, name in enumerate(self.animals)}
        return np.array([place[str(name)] for name in self.animal], dtype=np.int64)

    @property
    def difference(self) -> Array:
        """(n,) tested minus reference: below zero where the method reads too low. [unit]"""
        return self.tested - self.reference

    @property
    def average(self) -> Array:
        """(n,) mean of the two. [unit]"""
        return 0.5 * (self.tested + self.reference)

    def where(self, kept: NDArray[np.bool_]) -> Pairs | None:
        """The pairs at which a (n,) mask is true; None where there is none.

        What was counted of the whole (failures, attempts) is not told of a part.
        """
        if not kept.any():
            return None

        places = np.flatnonzero(kept)

        def some(column: tuple[Told, ...] | None) -> tuple[Told, ...] | None:
            return None if column is None else tuple(column[i] for i in places)

        return replace(
            self,
            animal=self.animal[kept],
            tested=self.tested[kept],
            reference=self.reference[kept],
            occasion=None if self.occasion is None else self.occasion[kept],
            species=some(self.species),
            site=some(self.site),
            condition=some(self.condition),
            first=some(self.first),
            failed_tested=None,
            failed_reference=None,
            attempts=None,
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Replicates:
    """Values of each animal by two methods while its true value stood still; their numbers may differ.

    quantity          : as of `Pairs`
    animals           : (k,) names, each once
    tested, reference : (k,) an array of one or more values for each animal [unit]
    """

    quantity: str
    animals: tuple[str, ...]
    tested: tuple[Array, ...]
    reference: tuple[Array, ...]
    unit: str = "mmHg"

    def __post_init__(self) -> None:
        if not self.animals:
            raise PairsError("no-pairs", "there is no animal", "give at least one animal with a value of each method")
        if len(set(self.animals)) < len(self.animals):
            twice = next(name for name in self.animals if self.animals.count(name) > 1)
            raise PairsError("animal-twice", f"animal {twice} is named twice", "put all its values under one name")
        for name in ("tested", "reference"):
            given = getattr(self, name)
            if len(given) != len(self.animals):
                raise PairsError(
                    "unequal-lengths",
                    f"there are {len(self.animals)} animals but {len(given)} sets of {name} values",
                    "give one set of values for every animal",
                )
            checked = tuple(
                _values(values, f"{name} of animal {animal}")
                for animal, values in zip(self.animals, given, strict=True)
            )
            for animal, values in zip(self.animals, checked, strict=True):
                if values.size == 0:
                    raise PairsError(
                        "no-pairs", f"animal {animal} has no {name} value", "leave out animals measured by one method"
                    )
            object.__setattr__(self, name, checked)

    @classmethod
    def from_pairs(cls, pairs: Pairs) -> Replicates:
        """The values of each animal. Raises PairsError where the truth changed: then the pairs belong together."""
        if pairs.truth == "changing":
            raise PairsError(
                "truth-changed",
                "the true value changed between the pairs, so their values belong together",
                "use the methods for linked pairs",
            )
        index = pairs.index
        tested, reference, animals = pairs.tested, pairs.reference, pairs.animals
        return cls(
            quantity=pairs.quantity,
            animals=animals,
            tested=tuple(tested[index == i] for i in range(len(animals))),
            reference=tuple(reference[index == i] for i in range(len(animals))),
            unit=pairs.unit,
        )

    def of(self, animals: Sequence[str]) -> Replicates:
        """Those of some of the animals, in their order here."""
        kept = [i for i, name in enumerate(self.animals) if name in animals]
        return replace(
            self,
            animals=tuple(self.animals[i] for i in kept),
            tested=tuple(self.tested[i] for i in kept),
            reference=tuple(self.reference[i] for i in kept),
        )

    @property
    def tested_means(self) -> Array:
        """(k,) mean of the tested values of each animal. [unit]"""
        return np.array([values.mean() for values in self.tested])

    @property
    def reference_means(self) -> Array:
        """(k,) mean of the reference values of each animal. [unit]"""
        return np.array([values.mean() for values in self.reference])


def _values(given: Array | Sequence[float], name: str) -> Array:
    """The same as a read-only array of finite numbers."""
    try:
        values = np.array(given, dtype=np.float64)
    except (TypeError, ValueError) as error:
        raise PairsError("not-numbers", f"{name} holds something that is no number ({error})", "give numbers") from None
    if values.ndim != 1:
        raise PairsError("not-a-row", f"{name} has {values.ndim} dimensions", "give one row of values")
    if not np.isfinite(values).all():
        bad = int(np.flatnonzero(~np.isfinite(values))[0])
        raise PairsError(
            "not-finite",
            f"{name}, value {bad + 1}, is {values[bad]}",
            "leave out pairs in which a method gave no value, and count them as failures",
        )
    values.flags.writeable = False
    return values


def _names(given: Names | Sequence[str], name: str) -> Names:
    """The same as a read-only array of texts that are not empty."""
    texts = list(given)
    for i, text in enumerate(texts):
        if not isinstance(text, str) or not text.strip():
            raise PairsError(
                "not-text", f"{name} of pair {i + 1} is {text!r}", "give a name or a number as text, one for each pair"
            )
    names = np.array(texts, dtype=np.str_)
    names.flags.writeable = False
    return names
