"""Pairs as a table."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from quietlimb.agreement.pair_rows import Pressures
from quietlimb.agreement.window_rule import Rule
from quietlimb.exchange.errors import FileError
from quietlimb.exchange.pairs_csv import PairsFile, pairs_text, read_pairs

WHOLE = """# truth: changing
# tested: tail cuff
# reference: catheter, dorsal pedal artery
# reference_is: intra-arterial
# blinded: yes
# taken_from: 2031-02-04
# window: around
# window_seconds: 8
# fewest_beats: 6
# clock_later_s: -0.5
# invented: yes
animal,occasion,species,site,condition,first,tested_systolic_mmHg,reference_systolic_mmHg,tested_mean_mmHg,reference_mean_mmHg,failed
A1,1,cat,tail,light,together,118,124,90,95,
A1,2,cat,tail,deep,tested,,131,,99,tested
B2,1,dog,tail,"light, warm",reference,142.5,139,101,100.25,
"""

Read = Callable[..., PairsFile]


@pytest.fixture
def read(tmp_path: Path) -> Read:
    """Write a text and read it as pairs."""

    def call(text: str, **options: object) -> PairsFile:
        path = tmp_path / "pairs.csv"
        path.write_text(text, encoding="utf-8")
        return read_pairs(path, **options)  # type: ignore[arg-type]

    return call


def test_a_whole_file_is_read(read: Read) -> None:
    """Every line above and every cell arrives where it belongs.

    Oracle: by construction.
    """
    found = read(WHOLE).rows
    assert (found.truth, found.tested_name, found.reference_is) == ("changing", "tail cuff", "intra-arterial")
    assert (found.blinded, found.invented, found.taken_from) == (True, True, "2031-02-04")
    assert found.rule == Rule(window="around", seconds=8.0, fewest_beats=6, later_s=-0.5)
    assert found.rows[0].tested == Pressures(systolic=118.0, mean=90.0)
    assert found.rows[1].failed == "tested"
    assert found.rows[2].condition == "light, warm"
    pairs = found.pairs("systolic")
    assert (pairs.n, pairs.failed_tested, pairs.attempts, pairs.first) == (2, 1, 3, ("together", "reference"))


def test_what_is_written_is_read_back(read: Read, tmp_path: Path) -> None:
    """Text of the rows, read again, gives the same rows and the same text.

    Oracle: by construction.
    """
    first = read(WHOLE).rows
    text = pairs_text(first)
    again = read(text).rows
    assert again == first
    assert pairs_text(again) == text


LINES = """# truth: single
animal,tested_systolic_mmHg,reference_systolic_mmHg,reference_diastolic_mmHg,{header}
A1,118,124,80,{first}
A2,120,121,82,{second}
"""
WHOLE_LINE = "arterial_zero_mmHg,transducer_below_heart_cm,line_natural_Hz,line_damping,artery_pulse_per_min"


def test_the_catheters_line_is_read_judged_and_written_back(read: Read) -> None:
    """The figures of a row give its judgement; another row tells none.

    Oracle: by construction.
    """
    found = read(LINES.format(header=WHOLE_LINE, first="0.5,-4,12,0.1,180", second=",,,,")).rows
    line = found.rows[0].line
    assert line is not None
    assert line.faults == ("level-off", "flush-rings-too-much")
    assert line.systolic_error_mmhg is not None
    assert line.systolic_error_mmhg > 0.0
    assert found.rows[1].line is None
    assert read(pairs_text(found)).rows == found


@pytest.mark.parametrize(
    ("header", "cells", "code"),
    [
        ("line_natural_Hz,artery_pulse_per_min", "12,180", "line-half-told"),
        ("arterial_zero_mmHg", "1", "line-half-told"),
        ("line_natural_Hz,line_damping,artery_pulse_per_min", "12,1.4,180", "out-of-range"),
    ],
)
def test_a_line_told_by_halves_is_told_with_its_row(read: Read, header: str, cells: str, code: str) -> None:
    """That row is left out, the other goes on.

    Oracle: by construction.
    """
    found = read(LINES.format(header=header, first=cells, second="," * header.count(",")))
    assert [(each.code, each.line) for each in found.left_out] == [(code, 3)]
    assert [row.animal for row in found.rows.rows] == ["A2"]


def test_a_bad_row_is_told_with_its_line_and_the_rest_goes_on(read: Read) -> None:
    """Five rows are at fault, each in its own way; two are read.

    Oracle: by construction.
    """
    found = read(
        "animal,first,tested_systolic_mmHg,reference_systolic_mmHg,tested_diastolic_mmHg,reference_diastolic_mmHg,failed\n"
        "a,tested,120,125,80,82,\n"
        "b,tested,1200,125,80,82,\n"
        "c,nobody,120,125,80,82,\n"
        "d,tested,120,125\n"
        "e,tested,120,125,130,82,\n"
        "f,tested,120,125,80,82,tested\n"
        ",tested,120,125,80,82,\n"
        "h,,,,,,\n"
        "g,tested,121,126,80,82,\n"
    )
    assert [row.animal for row in found.rows.rows] == ["a", "g"]
    assert [(error.line, error.code) for error in found.left_out] == [
        (3, "out-of-range"),
        (4, "unknown-choice"),
        (5, "wrong-number-of-cells"),
        (6, "diastolic-above-systolic"),
        (7, "failed-with-value"),
        (8, "cell-empty"),
        (9, "cell-empty"),
    ]
    assert all(error.remedy for error in found.left_out)


@pytest.mark.parametrize(
    ("text", "code", "line"),
    [
        ("animal,tested_systolic_mmHg\na,120\n", "column-missing", 1),
        ("tested_systolic_mmHg,reference_systolic_mmHg\n120,121\n", "column-missing", 1),
        ("animal,tested_systolic,reference_systolic_mmHg\na,120,121\n", "unit-missing", 1),
        ("# thruth: single\nanimal,tested_mean_mmHg,reference_mean_mmHg\na,1,2\n", "misspelt-key", 1),
        ("# truth: sometimes\nanimal,tested_mean_mmHg,reference_mean_mmHg\na,90,92\n", "unknown-choice", 1),
        ("animal,tested_mean_mmHg,reference_mean_mmHg,blinded\na,90,92,yes\n", "belongs-above", 1),
        ("animal,tested_mean_mmHg,reference_mean_mmHg\na,90,92\na,91,92\n", "truth-not-told", None),
        ("# truth: single\nanimal,tested_mean_mmHg,reference_mean_mmHg\na,90,92\na,91,92\n", "empty", 2),
        ("# taken_from: spring\nanimal,tested_mean_mmHg,reference_mean_mmHg\na,90,92\n", "not-a-date", 1),
        ("animal,tested_mean_mmHg,reference_mean_mmHg\na,9000,92\n", "empty", 1),
    ],
)
def test_what_is_wrong_above_ends_the_reading(read: Read, text: str, code: str, line: int | None) -> None:
    """With the line where one is to blame.

    Oracle: by construction.
    """
    with pytest.raises(FileError) as caught:
        read(text)
    assert (caught.value.code, caught.value.line) == (code, line)


def test_the_truth_may_be_told_by_an_option(read: Read) -> None:
    """Where the file is silent; where it speaks, both must agree.

    Oracle: by construction.
    """
    rows = "animal,tested_mean_mmHg,reference_mean_mmHg\na,90,92\na,91,92\n"
    assert read(rows, truth="constant").rows.truth == "constant"
    with pytest.raises(FileError, match="option says"):
        read(f"# truth: changing\n{rows}", truth="constant")


def test_kilopascals_are_converted(read: Read) -> None:
    """20 kPa is 150.012 mmHg.

    Oracle: published, the pascal's definition: 1 mmHg = 133.322387415 Pa.
    """
    found = read("animal;tested_systolic_kPa;reference_systolic_mmHg\na;20,0;150\n").rows
    assert found.rows[0].tested.systolic == pytest.approx(20_000 / 133.322387415)


HEAD = "animal,species,tested_systolic_mmHg,reference_systolic_mmHg"


def test_an_animal_of_two_species_is_left_out_and_told(read: Read) -> None:
    """All its rows, for nobody can tell here which is right; a row that tells no species contradicts none.

    Oracle: by construction.
    """
    rows = "A1,cat,118,124\nA2,,119,120\nA2,dog,121,120\nA1,dog,120,121\nA1,dog,122,121"
    found = read(f"# truth: changing\n{HEAD}\n{rows}\n")
    assert [(each.code, each.line) for each in found.left_out] == [("species-differ", 6)]
    assert "in line 3" in str(found.left_out[0])
    assert [row.animal for row in found.rows.rows] == ["A2", "A2"]


def test_an_animal_that_is_there_twice_hides_no_other_fault(read: Read) -> None:
    """With one row an animal it is left out, and the row at fault after it is told as well, in order of their lines.

    Oracle: by construction.
    """
    rows = "A1,cat,118,124\nA2,cat,many,120\nA1,cat,120,121\nA3,cat,121,122\nA4,horse,121,122"
    found = read(f"# truth: single\n{HEAD}\n{rows}\n")
    assert [(each.code, each.line) for each in found.left_out] == [
        ("not-a-number", 4),
        ("replicates-of-one", 5),
        ("unknown-choice", 7),
    ]
    assert [row.animal for row in found.rows.rows] == ["A3"]


def test_a_truth_that_is_not_told_hides_no_other_fault(read: Read) -> None:
    """The file is refused, for the arithmetic depends on it, and its faulty rows are told with it.

    Oracle: by construction.
    """
    with pytest.raises(FileError) as caught:
        read(f"{HEAD}\nA1,cat,118,124\nA1,cat,120,121\nA4,horse,121,122\n")
    assert caught.value.code == "truth-not-told"
    assert "line 4: species is 'horse'" in str(caught.value)
