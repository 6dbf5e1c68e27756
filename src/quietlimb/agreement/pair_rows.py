"""Determinations of a method beside its reference, all three pressures at once, as they are written down and counted.

From them come `Pairs` of one pressure, which the statistics take. A determination that failed keeps its row: left out,
it would flatter the method.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final, Literal, TypeVar, get_args

from quietlimb.agreement.pairs import First, Pairs, Replicates, Truth
from quietlimb.agreement.schemes import ReferenceKind
from quietlimb.agreement.window_rule import Rule
from quietlimb.engine.circumstances import Species
from quietlimb.engine.errors import PairsError

if TYPE_CHECKING:  # it judges recordings with parts of scipy that take long to load; who only reads a plan needs none
    from quietlimb.agreement.arterial_line import ArterialLine
    from quietlimb.agreement.arterial_trace import ArterialTrace

T = TypeVar("T")
Quantity = Literal["systolic", "mean", "diastolic"]
Failed = Literal["tested", "reference", "both"]

NOT_TOLD: Final = "not told"
QUANTITIES: Final[tuple[Quantity, ...]] = get_args(Quantity)


@dataclass(frozen=True, slots=True, kw_only=True)
class Pressures:
    """Systolic, mean and diastolic pressure [mmHg]; None where one was not told."""

    systolic: float | None = None
    mean: float | None = None
    diastolic: float | None = None

    def of(self, quantity: Quantity) -> float | None:
        """One of them."""
        value: float | None = getattr(self, quantity)
        return value

    @property
    def any(self) -> bool:
        """Whether at least one was told."""
        return not (self.systolic is None and self.mean is None and self.diastolic is None)


@dataclass(frozen=True, slots=True, kw_only=True)
class PairRow:
    """One determination by both methods.

    failed : which of them was tried and gave no value at all; None where neither is known to have failed
    line   : of the catheter that the reference came by; None where nothing is told of it
    instrument   : of the tested method, by name
    cuff_percent : width of its cuff in percent of the limb's circumference
    flush        : the samples of the fast flush that told the line's response, where the row was made of recordings; no
                   table holds it, and it does not count when rows are compared
    """

    animal: str
    tested: Pressures
    reference: Pressures
    occasion: str | None = None
    species: Species | None = None
    site: str | None = None
    condition: str | None = None
    first: First | None = None
    failed: Failed | None = None
    line: ArterialLine | None = None
    instrument: str | None = None
    cuff_percent: float | None = None
    flush: ArterialTrace | None = field(default=None, compare=False, repr=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class PairRows:
    """Rows, and what is true of all of them.

    truth          : as of `Pairs`
    tested_name, reference_name : what the two methods are called
    reference_is   : an arterial catheter, or another cuff; None where not told
    blinded        : None where not told
    invented       : whether they are made up or simulated
    taken_from     : day of the first row, as 2031-02-04; None where not told
    rule           : by which they were made of two channels; None where they were not, or it is not told
    """

    rows: tuple[PairRow, ...]
    truth: Truth
    tested_name: str = "tested"
    reference_name: str = "reference"
    reference_is: ReferenceKind | None = None
    blinded: bool | None = None
    invented: bool = False
    taken_from: str | None = None
    rule: Rule | None = None

    @property
    def animals(self) -> tuple[str, ...]:
        """Each once, in the order of their first row."""
        return tuple(dict.fromkeys(row.animal for row in self.rows))

    def quantities(self) -> tuple[Quantity, ...]:
        """Those of which there is at least one pair."""
        return tuple(each for each in QUANTITIES if any(_both(row, each) for row in self.rows))

    def pairs(self, quantity: Quantity) -> Pairs:
        """The pairs of one pressure, with how many determinations failed.

        A row that lacks a value of this pressure, and is not told as failed, was no attempt at it.

        Raises
        ------
        PairsError : no row has both values (`no-pairs`).
        """
        kept = [row for row in self.rows if _both(row, quantity)]
        if not kept:
            raise PairsError(
                "no-pairs",
                f"no row has a {quantity} pressure by both methods",
                f"give columns tested_{quantity}_mmHg and reference_{quantity}_mmHg",
            )
        failed = Counter(row.failed for row in self.rows if row.failed is not None and not _both(row, quantity))
        return Pairs(
            quantity=quantity,
            animal=[row.animal for row in kept],  # type: ignore[arg-type]
            tested=[row.tested.of(quantity) for row in kept],  # type: ignore[arg-type]
            reference=[row.reference.of(quantity) for row in kept],  # type: ignore[arg-type]
            truth=self.truth,
            occasion=_told([row.occasion for row in kept]),  # type: ignore[arg-type]
            species=_species(kept),
            site=_told([row.site for row in kept]),
            condition=_told([row.condition for row in kept]),
            first=_told([row.first for row in kept]),
            blinded=self.blinded,
            failed_tested=failed["tested"] + failed["both"],
            failed_reference=failed["reference"] + failed["both"],
            attempts=len(kept) + failed.total(),
        )

    def replicates(self, quantity: Quantity) -> Replicates:
        """All values of one pressure by each method, where the truth stood still; their numbers may differ.

        Animals without a value by both are left out.

        Raises
        ------
        PairsError : the truth changed (`truth-changed`), or no animal has values by both (`no-pairs`).
        """
        if self.truth == "changing":
            raise PairsError(
                "truth-changed",
                "the true value changed between the pairs, so their values belong together",
                "use the pairs",
            )
        sets = {
            animal: tuple(
                [
                    value
                    for row in self.rows
                    if row.animal == animal and (value := getattr(row, name).of(quantity)) is not None
                ]
                for name in ("tested", "reference")
            )
            for animal in self.animals
        }
        kept = {animal: both for animal, both in sets.items() if all(both)}
        return Replicates(
            quantity=quantity,
            animals=tuple(kept),
            tested=tuple(both[0] for both in kept.values()),  # type: ignore[misc]
            reference=tuple(both[1] for both in kept.values()),  # type: ignore[misc]
        )

    def unequal(self, quantity: Quantity) -> bool:
        """Whether some row has a value by one method alone that counts as a replicate of its own."""
        return self.truth == "constant" and any(
            (row.tested.of(quantity) is None) != (row.reference.of(quantity) is None) and row.failed is None
            for row in self.rows
        )


def truth_of(rows: Sequence[PairRow], told: Truth | None) -> Truth:
    """What was told, or `single` where every animal has one row.

    Raises
    ------
    PairsError : `truth-not-told`: an animal has several rows.
    """
    if told is not None:
        return told
    counts = Counter(row.animal for row in rows)
    animal, most = counts.most_common(1)[0] if counts else ("", 0)
    if most > 1:
        raise PairsError(
            "truth-not-told",
            f"animal {animal} has {most} rows, and it is not told whether its true pressure stood still between them",
            "write '# truth: constant' or '# truth: changing' above the table, or choose the truth beside it",
        )
    return "single"


def _both(row: PairRow, quantity: Quantity) -> bool:
    return row.tested.of(quantity) is not None and row.reference.of(quantity) is not None


def _species(rows: Sequence[PairRow]) -> tuple[str, ...] | None:
    """Of each; where some tell none, that is told in its place if the others are of several species."""
    told = [row.species for row in rows]
    if None in told and len(set(told)) > 2:
        return tuple(name or NOT_TOLD for name in told)
    return _told(told)


def _told(column: Sequence[T | None]) -> tuple[T, ...] | None:
    """The column where every row tells it; None otherwise."""
    told = tuple(value for value in column if value is not None)
    return told if len(told) == len(column) else None
