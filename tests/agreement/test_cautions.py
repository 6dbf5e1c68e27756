"""What stands before the figures of a comparison."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from agreement.invented_rows import invented_rows
from quietlimb.agreement.cautions import Caution, cautions_of
from quietlimb.agreement.comparing import as_run, compare_rows
from quietlimb.agreement.pair_rows import PairRow, PairRows, Pressures
from quietlimb.agreement.plan import Analysis
from quietlimb.words.comparison_cautions import caution_sentence

MANY = invented_rows(8, animals=26, readings=2)


def found_in(rows: PairRows) -> tuple[Caution, ...]:
    """The cautions of its systolic pressure."""
    settled, analysis = as_run(rows, Analysis(quantities=("systolic",)))
    return cautions_of(settled, [each.comparison for each in compare_rows(settled, analysis)])


def changed(change: Callable[[int, PairRow], PairRow]) -> PairRows:
    """The rows, each put through a change."""
    return replace(MANY, rows=tuple(change(k, row) for k, row in enumerate(MANY.rows)))


def test_many_blinded_animals_of_one_species_and_site_have_none() -> None:
    """Nothing stands before their figures.

    Oracle: by construction.
    """
    assert found_in(MANY) == ()


@pytest.mark.parametrize(
    ("rows", "code", "part"),
    [
        (replace(MANY, blinded=False), "not-blinded", "knowledge of each other"),
        (replace(MANY, rows=MANY.rows[:16]), "few-animals", "8 animals"),
        (replace(MANY, rows=(*MANY.rows, *MANY.rows[:2])), "told-twice", "2 rows"),
        (
            changed(lambda k, row: replace(row, site="tail" if k % 4 < 2 else "hindlimb")),
            "sites-mixed",
            "hindlimb, tail",
        ),
        (changed(lambda k, row: replace(row, species="cat" if k % 4 < 2 else "dog")), "species-mixed", "cat, dog"),
        (changed(lambda k, row: replace(row, reference=row.tested)), "all-the-same", "+0 mmHg"),
        (changed(lambda k, row: replace(row, tested=Pressures(systolic=170.0))), "one-value-tested", "systolic"),
        (changed(lambda k, row: replace(row, reference=Pressures(systolic=120.0))), "one-value-reference", "systolic"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_each_has_its_code_and_a_sentence_with_its_figures(rows: PairRows, code: str, part: str) -> None:
    """And no other is found with it.

    Oracle: by construction.
    """
    (caution,) = found_in(rows)
    assert caution.code == code
    assert part in caution_sentence(caution)
