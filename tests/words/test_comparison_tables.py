"""Tables of a comparison in words."""

from __future__ import annotations

from dataclasses import fields, replace

from agreement.invented_rows import invented_rows
from quietlimb.agreement.comparing import as_run, compare_rows
from quietlimb.agreement.pair_rows import PairRows
from quietlimb.agreement.plan import Analysis
from quietlimb.agreement.summary import Comparison
from quietlimb.words import comparison_tables as tables
from quietlimb.words.comparison import figure_rows, share_words, verdict_name


def compared(rows: PairRows, **asked: object) -> Comparison:
    """Its systolic pressure."""
    settled, analysis = as_run(rows, Analysis(quantities=("systolic",), **asked))  # type: ignore[arg-type]
    return compare_rows(settled, analysis)[0].comparison


def test_thirds_are_no_low_and_high_pressures() -> None:
    """Thirds of the pairs are called so; only bounds that were given make a pressure low or high.

    Oracle: by construction.
    """
    thirds, bounds = compared(invented_rows(6)), compared(invented_rows(6), bounds={"systolic": (100.0, 150.0)})
    assert [row[0] for row in tables.range_rows(thirds)] == ["lowest third", "middle third", "highest third"]
    assert [row[:2] for row in tables.range_rows(bounds)] == [
        ("low", "under 100"),
        ("normal", "100 to 150"),
        ("high", "150 or more"),
    ]


def test_verdicts_by_range_are_those_of_the_judgement() -> None:
    """A row for each criterion in each range, in their order.

    Oracle: by construction.
    """
    found = compared(invented_rows(6))
    (judgement,) = found.judgements
    rows = tables.verdict_rows(judgement, found)
    assert len(rows) == 3 * 4
    assert [row[3] for row in rows] == [verdict_name(each.verdict) for part in judgement.ranges for each in part.judged]
    assert rows[0][1].startswith("lowest third (under ")


def test_categories_stand_against_each_other_and_none_is_empty() -> None:
    """The counts add up to the pairs, and each shown category has one at least.

    Oracle: by construction.
    """
    found = compared(invented_rows(6))
    header, rows = tables.category_rows(found)
    counts = [[int(cell) for cell in row[1:]] for row in rows]
    assert sum(map(sum, counts)) == found.pairs.n
    assert [row[0] for row in rows] == list(header[1:])
    assert all(sum(row) + sum(column) for row, column in zip(counts, zip(*counts, strict=True), strict=True))


def test_every_figure_is_told_or_its_absence_explained() -> None:
    """Each missing figure has a name in words, for one animal as for many.

    Oracle: by construction, the fields of a comparison.
    """
    names = {each.name for each in fields(Comparison)}
    for rows in (invented_rows(6), invented_rows(6, animals=1), replace(invented_rows(6), truth="constant")):
        found = compared(rows)
        assert {each.name for each in found.missing} <= names
        sentences = " ".join(tables.missing_sentences(found))
        for each in found.missing:
            assert each.says in sentences
    told = dict(figure_rows(compared(invented_rows(6))))
    for name in (
        "slope of the difference on the reference",
        "slope of Passing and Bablok's line",
        "90 % of differences within, mmHg",
        "share within 10 mmHg under a normal law",
        "weighted kappa of categories, quadratic",
    ):
        assert name in told
    assert "limits that hold 95 % of all differences jointly, mmHg" in dict(
        figure_rows(compared(invented_rows(6, readings=1)))
    )


def test_the_plain_interval_of_a_share_stands_beside_that_by_animal() -> None:
    """Where animals have several pairs, and only there.

    Oracle: by construction.
    """
    several, one = (compared(invented_rows(6, readings=n)).shares[1].share for n in (4, 1))
    assert f"{100.0 * several.plain.low:.0f} %" in share_words(several).partition(";")[2]
    assert ";" not in share_words(one)
