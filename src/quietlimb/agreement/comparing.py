"""From rows of determinations and an analysis to everything that is compared, pressure by pressure."""

from __future__ import annotations

from dataclasses import dataclass, replace

from quietlimb.agreement.criteria import by_species
from quietlimb.agreement.pair_rows import PairRows, Quantity, truth_of
from quietlimb.agreement.plan import Analysis
from quietlimb.agreement.recruitment import Recruitment, recruitment
from quietlimb.agreement.schemes import SCHEMES
from quietlimb.agreement.summary import Comparison, compare
from quietlimb.engine.errors import PairsError


@dataclass(frozen=True, slots=True, kw_only=True)
class Compared:
    """One pressure: what came of it, and what it still lacks, one a scheme and species."""

    comparison: Comparison
    lacks: tuple[Recruitment, ...]


def as_run(rows: PairRows, analysis: Analysis) -> tuple[PairRows, Analysis]:
    """Rows and analysis with truth and kind of reference settled: what the analysis says, or else the rows.

    Raises
    ------
    PairsError : rows and analysis contradict each other (`truth-conflict`, `reference-conflict`), or `truth-not-told`.
    """
    for name, code in (("truth", "truth-conflict"), ("reference_is", "reference-conflict")):
        told, wanted = getattr(rows, name), getattr(analysis, name)
        if None not in (told, wanted) and told != wanted:
            raise PairsError(
                code,
                f"{name} is {told!r} with the pairs and {wanted!r} in the analysis",
                "correct one of them",
            )
    truth = analysis.truth or truth_of(rows.rows, rows.truth)
    kind = analysis.reference_is or rows.reference_is
    quantities = tuple(each for each in analysis.quantities if each in rows.quantities())
    if not quantities:
        raise PairsError(
            "no-pairs",
            f"no row has {' or '.join(analysis.quantities)} pressure by both methods",
            "choose another pressure, or look at the columns",
        )
    return (
        replace(rows, truth=truth, reference_is=kind),
        replace(analysis, truth=truth, reference_is=kind, quantities=quantities),
    )


def compare_rows(rows: PairRows, analysis: Analysis) -> tuple[Compared, ...]:
    """Each pressure of the analysis, with truth and kind of reference settled by `as_run`.

    Replicates of a constant truth count whole, also where a method has more of them than the other.

    Raises
    ------
    PairsError : as `compare`.
    """
    return tuple(_one(rows, quantity, analysis) for quantity in analysis.quantities)


def _one(rows: PairRows, quantity: Quantity, analysis: Analysis) -> Compared:
    pairs = rows.pairs(quantity)
    schemes = tuple(SCHEMES[key] for key in analysis.schemes)
    bounds = analysis.bounds.get(quantity)
    found = compare(
        pairs,
        replicates=rows.replicates(quantity) if rows.unequal(quantity) else None,
        schemes=schemes,
        reference_is=analysis.reference_is,
        bounds=bounds,
        error_ratio=analysis.error_ratio,
        confidence=analysis.confidence,
    )
    lacks = tuple(
        recruitment(part, scheme, reference_is=analysis.reference_is, bounds=bounds)
        for scheme in schemes
        for _, part in by_species(pairs)
    )
    return Compared(comparison=found, lacks=lacks)
