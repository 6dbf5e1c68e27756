"""Rows of determinations, counted and turned into pairs."""

from __future__ import annotations

import pytest

from quietlimb.agreement.pair_rows import PairRow, PairRows, Pressures, truth_of
from quietlimb.engine.errors import PairsError


def row(animal: str, tested: float | None, reference: float | None, **more: object) -> PairRow:
    """A row of systolic pressures."""
    return PairRow(
        animal=animal,
        tested=Pressures(systolic=tested),
        reference=Pressures(systolic=reference),
        **more,  # type: ignore[arg-type]
    )


def test_failures_are_counted_and_leave_no_pair() -> None:
    """Attempts are pairs and failures together; each side has its own count.

    Oracle: by construction.
    """
    rows = (
        row("a", 150.0, 155.0),
        row("b", None, 140.0, failed="tested"),
        row("c", 120.0, None, failed="reference"),
        row("d", None, None, failed="both"),
        row("e", 130.0, 128.0),
    )
    found = PairRows(rows=rows, truth="single").pairs("systolic")
    assert (found.n, found.failed_tested, found.failed_reference, found.attempts) == (2, 2, 2, 5)
    assert list(found.difference) == [-5.0, 2.0]


def test_a_pressure_that_was_never_meant_is_no_failure() -> None:
    """A Doppler that tells no mean has not failed to.

    Oracle: by construction.
    """
    rows = PairRows(rows=(row("a", 150.0, 155.0), row("b", 140.0, 141.0)), truth="single")
    assert rows.quantities() == ("systolic",)
    assert rows.pairs("systolic").attempts == 2
    with pytest.raises(PairsError, match="reference_mean_mmHg"):
        rows.pairs("mean")


def test_unequal_replicates_of_a_constant_truth_are_all_kept() -> None:
    """Three values by one method and two by the other are five values.

    Oracle: by construction.
    """
    rows = PairRows(
        rows=(row("a", 150.0, 155.0), row("a", 152.0, 151.0), row("a", 149.0, None), row("b", 120.0, 125.0)),
        truth="constant",
    )
    found = rows.replicates("systolic")
    assert rows.unequal("systolic")
    assert [len(each) for each in found.tested] == [3, 1]
    assert [len(each) for each in found.reference] == [2, 1]
    with pytest.raises(PairsError, match="belong together"):
        PairRows(rows=rows.rows, truth="changing").replicates("systolic")


def test_what_the_truth_did_must_be_told_where_it_matters() -> None:
    """One row an animal needs no word; more do.

    Oracle: by construction.
    """
    single, several = (row("a", 1.0, 2.0), row("b", 1.0, 2.0)), (row("a", 1.0, 2.0), row("a", 1.0, 2.0))
    assert truth_of(single, None) == "single"
    assert truth_of(several, "changing") == "changing"
    with pytest.raises(PairsError, match="truth: constant"):
        truth_of(several, None)


def test_a_column_that_is_told_in_part_is_not_told() -> None:
    """Order and species are passed on only where every pair has them.

    Oracle: by construction.
    """
    rows = (row("a", 1.0, 2.0, first="tested", species="cat"), row("b", 1.0, 2.0, species="cat"))
    found = PairRows(rows=rows, truth="single").pairs("systolic")
    assert found.first is None
    assert found.species == ("cat", "cat")
