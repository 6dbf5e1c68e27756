"""Recordings as CSV: what is read, what is refused, and that nothing changes on the way through a file."""

from __future__ import annotations

import time
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from exchange.invented_files import CAT, HEADER, deflation_rows, recording_text, refusal, written
from quietlimb.engine.circumstances import Circumstances
from quietlimb.engine.errors import CircumstancesError, ParameterError
from quietlimb.engine.recording import recording
from quietlimb.exchange.recording_csv import read_recording, write_recording

SHARED_TMP = settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=2000, max_examples=40)


def with_row(k: int, row: str) -> list[str]:
    """The invented deflation with row k (from 0) replaced; it is line k + 3 of `recording_text`."""
    rows = deflation_rows()
    rows[k] = row
    return rows


def test_a_plain_file_is_read(tmp_path: Path) -> None:
    """Time, pressure and circumstances come out as written; unknown keys and other columns are left out.

    Oracle: by construction; exact, because the numbers are written with all their digits.
    """
    text = recording_text(
        [f"{k},{row},note {k}" for k, row in enumerate(deflation_rows())],
        header="sample,time_s,cuff_pressure_mmHg,remark",
        above="\n".join(
            [
                "# Species: Cat",
                "# a line without a value",
                "#cuff width cm: 2,5",
                "# site: forelimb",
                "# place: Consulting room",
                "# colour: tabby",
                "# breed:",
                "# started_at: 2026-11-25T10:30:00+01:00",
                "",
                "# animal: Juniper: the second",
            ]
        ),
    )
    found = read_recording(written(tmp_path / "a.csv", text))
    assert found.circumstances == Circumstances(
        species="cat",
        animal="Juniper: the second",
        site="forelimb",
        place="consulting-room",
        cuff_width_cm=2.5,
        started_at="2026-11-25T10:30:00+01:00",
    )
    expected = np.array([row.split(",") for row in deflation_rows()], dtype=np.float64)
    np.testing.assert_array_equal(found.time_s, expected[:, 0])
    np.testing.assert_array_equal(found.cuff_pressure_mmhg, expected[:, 1])
    assert not found.time_s.flags.writeable


def test_kilopascals_are_converted_by_the_conventional_factor(tmp_path: Path) -> None:
    """20 kPa are 20 / (13 595.1 * 9.80665 * 1e-6) mmHg, and time_ms is a thousandth of a second.

    Oracle: published. The conventional millimetre of mercury: 13 595.1 kg/m3, standard gravity 9.80665 m/s2.
    Tolerance: a few units in the last place of float64.
    """
    rows = [f"{10 * k};{20 - k / 40:.3f}" for k in range(400)]
    text = recording_text(rows, header="time_ms;cuff_pressure_kPa")
    found = read_recording(written(tmp_path / "a.csv", text))
    kpa_per_m = 13595.1 * 9.80665 / 1000.0
    kpa = np.array([20 - k / 40 for k in range(400)])
    np.testing.assert_allclose(found.cuff_pressure_mmhg, np.round(kpa, 3) / kpa_per_m * 1000.0, rtol=1e-14)
    np.testing.assert_allclose(found.time_s, np.arange(400) / 100, rtol=1e-15)


def test_the_species_may_come_from_an_option(tmp_path: Path) -> None:
    """A file that is silent takes species and other circumstances from the caller; its own lines win over defaults.

    Oracle: by construction.
    """
    path = written(tmp_path / "a.csv", recording_text(above="# site: tail"))
    found = read_recording(path, species="dog", defaults={"site": "forelimb", "cuff_width_cm": 4.0})
    assert found.circumstances == Circumstances(species="dog", site="tail", cuff_width_cm=4.0)


def test_the_species_must_be_told(tmp_path: Path) -> None:
    """Without a species there is no reading: the remedy shows the line to add.

    Oracle: by construction.
    """
    path = written(tmp_path / "a.csv", recording_text(above=""))
    refusal(read_recording, path, "species-missing", None, "species", "--species cat", "# species: cat")


def test_two_species_for_one_recording_are_refused(tmp_path: Path) -> None:
    """An option that contradicts the file means that one of them is about another animal.

    Oracle: by construction.
    """
    path = written(tmp_path / "a.csv", recording_text())
    refusal(lambda p: read_recording(p, species="dog"), path, "species-conflict", 1, "cat", "dog", "option")


@pytest.mark.parametrize(
    ("line", "code", "word"),
    [
        ("# species: horse", "unknown-circumstance", "cat, dog"),
        ("# site: ear", "unknown-circumstance", "forelimb"),
        ("# cuff_width_cm: 25 mm", "not-a-number", "plain digits"),
        ("# cuff_width_cm: 250", "impossible-circumstance", "centimetres"),
        ("# acclimatisation_min: nan", "not-finite", "leave"),
        ("# started_at: 25.11.2026 10:30", "not-a-date", "2026-11-25T10:30:00+01:00"),
        ("# started_at: 2026-11-25", "not-a-date", "2026-11-25T10:30:00+01:00"),
        ("# started_at: 0001-01-01T00:00:00+14:00", "not-a-date", "2026-11-25T10:30:00+01:00"),
        ("# method: palpation", "unknown-circumstance", "oscillometric"),
    ],
)
def test_a_wrong_circumstance_is_refused_with_its_line(tmp_path: Path, line: str, code: str, word: str) -> None:
    """The line of the circumstance at fault is named, with what would be right.

    Oracle: by construction.
    """
    above = f"# animal: Juniper\n{line}" + ("" if "species" in line else f"\n{CAT}")
    refusal(read_recording, written(tmp_path / "a.csv", recording_text(above=above)), code, 2, word)


def test_a_circumstance_told_twice_is_refused(tmp_path: Path) -> None:
    """Two different values for one circumstance: no telling which is meant. The same value twice is harmless.

    Oracle: by construction.
    """
    twice = written(tmp_path / "a.csv", recording_text(above=f"{CAT}\n# site: tail\n# site: forelimb"))
    refusal(read_recording, twice, "told-twice", 3, "site", "keep one")
    same = written(tmp_path / "b.csv", recording_text(above=f"{CAT}\n# note: a\n# note: b\n{CAT}"))
    assert read_recording(same).circumstances.species == "cat"


@pytest.mark.parametrize(
    ("key", "likely"),
    [
        ("spezies", "species"),
        ("Started", "started_at"),
        ("cuff width", "cuff_width_cm"),
        ("positon", "position"),
        ("sitr", "site"),
        ("stie", "site"),
        ("sdie", "side"),
        ("sied", "side"),
        ("cugf", "cuff"),
        ("sit", "site"),
    ],
)
def test_a_misspelt_key_is_refused_with_its_line(tmp_path: Path, key: str, likely: str) -> None:
    """A key that is nearly that of a circumstance is not dropped: the likely one is named.

    Oracle: by construction; the likeness asked for is the project's.
    """
    path = written(tmp_path / "a.csv", recording_text(above=f"{CAT}\n# {key}: something"))
    refusal(read_recording, path, "misspelt-key", 2, "_".join(key.lower().split()), f"'# {likely}: ...'")


@pytest.mark.parametrize(
    "key", ["weight_kg", "animal_id", "seed", "note", "sample_rate", "firmware", "size", "sire", "time"]
)
def test_a_key_of_another_meaning_is_left_out(tmp_path: Path, key: str) -> None:
    """What other programs write above a table does no harm, nor does a misspelt key without a value.

    Oracle: by construction.
    """
    path = written(tmp_path / "a.csv", recording_text(above=f"{CAT}\n# {key}: 4.2\n# positon:"))
    assert read_recording(path).circumstances == Circumstances(species="cat")


@pytest.mark.parametrize("lines", ["# site: left forelimb", "# site: Left-forelimb\n# side: left"])
def test_a_site_may_say_its_side(tmp_path: Path, lines: str) -> None:
    """ "left forelimb" is the forelimb, on the left. Oracle: by construction."""
    found = read_recording(written(tmp_path / "a.csv", recording_text(above=f"{CAT}\n{lines}"))).circumstances
    assert (found.site, found.side) == ("forelimb", "left")


def test_a_site_that_contradicts_its_side_is_refused(tmp_path: Path) -> None:
    """Left here, right there: no telling which. A limb that does not exist is quoted as typed, and the side has its
    own line.

    Oracle: by construction.
    """
    both = written(tmp_path / "a.csv", recording_text(above=f"{CAT}\n# site: left forelimb\n# side: right"))
    refusal(read_recording, both, "told-twice", 2, "'left forelimb'", "'right'", "correct")
    ear = written(tmp_path / "b.csv", recording_text(above=f"{CAT}\n# site: Left  Ear"))
    refusal(read_recording, ear, "unknown-circumstance", 2, "'Left  Ear'", "forelimb, hindlimb, tail", "# side: left")


@pytest.mark.parametrize("defaults", [{"sepcies": "cat"}, {"site": "ear"}, {"started_at": "yesterday"}])
def test_a_wrong_default_is_not_blamed_on_the_file(tmp_path: Path, defaults: dict[str, str]) -> None:
    """What the caller got wrong is the caller's error.

    Oracle: by construction.
    """
    path = written(tmp_path / "a.csv", recording_text())
    with pytest.raises(CircumstancesError):
        read_recording(path, defaults=defaults)


@pytest.mark.parametrize("cell", ["12x", "1_000", "0x10", "1.2.3", "1 000", "--1", "١٢", "one", "1e", "."])
def test_what_is_not_a_number_is_refused_with_its_line(tmp_path: Path, cell: str) -> None:
    """Only plain digits pass, although `float` or other readers take some of these.

    Oracle: by construction.
    """
    path = written(tmp_path / "a.csv", recording_text(with_row(100, f"1.00,{cell}")))
    error = refusal(read_recording, path, "not-a-number", 103, "plain digits")
    assert cell in error.says


@pytest.mark.parametrize("cell", ["nan", "NaN", "inf", "-Infinity", "1e309"])
@pytest.mark.parametrize("row", ["{},150", "1.00,{}"])
def test_nan_and_infinity_are_refused_with_their_line(tmp_path: Path, cell: str, row: str) -> None:
    """A number that is none is never a sample, in time or in pressure.

    Oracle: by construction.
    """
    path = written(tmp_path / "a.csv", recording_text(with_row(100, row.format(cell))))
    refusal(read_recording, path, "not-finite", 103, cell)


def test_an_empty_cell_is_refused_with_its_line(tmp_path: Path) -> None:
    """A sample without pressure is a gap that the exporting program should leave out.

    Oracle: by construction.
    """
    path = written(tmp_path / "a.csv", recording_text(with_row(100, "1.00,")))
    refusal(read_recording, path, "cell-empty", 103, "cuff pressure is empty", "leave the row out")


@pytest.mark.parametrize(
    ("header", "code", "words"),
    [
        ("time_s,cuff_pressure", "unit-missing", ("cuff_pressure", "cuff_pressure_mmHg or cuff_pressure_kPa")),
        ("time,cuff_pressure_mmHg", "unit-missing", ("time", "time_s or time_ms")),
        ("time_s,cuff_pressure_psi", "unit-unknown", ("cuff_pressure_psi", "cuff_pressure_mmHg")),
        ("time_s,Cuff_Pressure (mmHg)", "unit-unknown", ("Cuff_Pressure (mmHg)", "cuff_pressure_mmHg")),
        ("time_min,cuff_pressure_mmHg", "unit-unknown", ("time_min", "time_s")),
        ("minute,systolic_mmHg", "column-missing", ("time", "look like readings")),
        ("time_s,pressure", "column-missing", ("cuff_pressure", "cuff_pressure_mmHg")),
        ("seconds,cuff_pressure_mmHg", "column-missing", ("time", "time_s")),
        ("time_s,time_ms", "column-twice", ("time_s and time_ms", "keep one")),
        ("time_s;cuff_pressure_mmHg", "wrong-number-of-cells", ("1 cells under 2",)),
    ],
)
def test_a_header_without_known_units_is_refused(
    tmp_path: Path, header: str, code: str, words: tuple[str, ...]
) -> None:
    """Missing, unknown and doubled units are told apart, and the remedy names the columns that would do.

    Oracle: by construction. The line is the header's, or the first row's where only the separator differs.
    """
    path = written(tmp_path / "a.csv", recording_text(header=header))
    refusal(read_recording, path, code, 3 if code.startswith("wrong") else 2, *words)


def test_numbers_without_a_header_row_are_refused(tmp_path: Path) -> None:
    """The first row of numbers is not taken for names.

    Oracle: by construction.
    """
    path = written(tmp_path / "a.csv", "\n".join([CAT, *deflation_rows()]))
    refusal(read_recording, path, "header-missing", 2, "header row", "names and units")


@pytest.mark.parametrize("row", ["1.00", "1.00,150,3", "1.00,150,"])
def test_a_ragged_row_is_refused_with_its_line(tmp_path: Path, row: str) -> None:
    """A row with more or fewer cells than the header is named.

    Oracle: by construction.
    """
    path = written(tmp_path / "a.csv", recording_text(with_row(100, row)))
    refusal(read_recording, path, "wrong-number-of-cells", 103, "cells under 2 columns")


def test_a_decimal_comma_between_commas_is_explained(tmp_path: Path) -> None:
    """Decimal commas in a comma-separated file give too many cells; the remedy is the semicolon.

    Oracle: by construction.
    """
    rows = [row.replace(",", "\t").replace(".", ",").replace("\t", ",") for row in deflation_rows()]
    path = written(tmp_path / "a.csv", recording_text(rows))
    refusal(read_recording, path, "wrong-number-of-cells", 3, "semicolons", "decimal mark")


def test_two_decimal_marks_in_one_file_are_refused(tmp_path: Path) -> None:
    """1,234 between numbers with decimal points would be a thousand or one: it is not guessed.

    Oracle: by construction.
    """
    rows = [row.replace(",", ";") for row in with_row(100, "1.00,150.0")]
    rows[100] = "1.00;1,234"
    path = written(tmp_path / "a.csv", recording_text(rows, header="time_s;cuff_pressure_mmHg"))
    refusal(read_recording, path, "decimal-marks-mixed", 103, "1,234", "one decimal mark")


def test_an_open_quotation_is_refused_with_its_line(tmp_path: Path) -> None:
    """A quotation mark that does not close would swallow the rest of the file.

    Oracle: by construction.
    """
    path = written(tmp_path / "a.csv", recording_text(with_row(100, '1.00,"150')))
    refusal(read_recording, path, "quotation-open", 103, "not closed")


def test_time_going_backwards_is_refused_with_its_line(tmp_path: Path) -> None:
    """Two rows swapped, or two recordings in one file. Blank lines before it do not shift the line.

    Oracle: by construction.
    """
    path = written(tmp_path / "a.csv", recording_text(with_row(100, "0.98,150")))
    refusal(read_recording, path, "time-backwards", 103, "from 0.99 s to 0.98 s", "sort")
    rows = with_row(100, "0.98,150")
    rows.insert(50, "")
    rows.insert(10, "   ")
    refusal(read_recording, written(tmp_path / "b.csv", recording_text(rows)), "time-backwards", 105, "from 0.99 s")


def test_a_gap_is_refused_with_its_line(tmp_path: Path) -> None:
    """The row after the gap is named.

    Oracle: by construction.
    """
    rows = deflation_rows()
    del rows[100:200]
    path = written(tmp_path / "a.csv", recording_text(rows))
    refusal(read_recording, path, "gap", 103, "nothing for 1.01 s", "without gaps")


def test_many_short_gaps_are_refused_together(tmp_path: Path) -> None:
    """Each second stretch of 0.4 s is missing: no gap is over 0.5 s, but nearly half of the time was not recorded.

    Oracle: by construction: 12 gaps of 0.41 s in 9.99 s, 49 %; the sample after the first gap is the
    41st of those left, in line 43.
    """
    rows = [row for k, row in enumerate(deflation_rows(1000)) if k // 40 % 2 == 0]
    path = written(tmp_path / "a.csv", recording_text(rows))
    refusal(read_recording, path, "gap", 43, "49%", "12 gaps", "its own time")


@pytest.mark.parametrize(("missing", "refused"), [(9, False), (10, True)])
def test_a_tenth_of_the_time_may_be_missing(tmp_path: Path, missing: int, refused: bool) -> None:
    """Gaps of 0.10 s in 9.99 s: nine are 9.0 % and are read, ten are 10.01 % and are not. Intervals of three samples
    are no gaps, however many.

    Oracle: by construction; the share is the project's.
    """
    gone = {100 * g + 50 + k for g in range(missing) for k in range(9)}
    rows = [row for k, row in enumerate(deflation_rows(1000)) if k not in gone]
    path = written(tmp_path / "a.csv", recording_text(rows))
    if refused:
        refusal(read_recording, path, "gap", 53, "10%", "10 gaps")
    else:
        assert read_recording(path).time_s.size == 1000 - 9 * missing
    sparse = [row for k, row in enumerate(deflation_rows(1000)) if k % 10 not in (4, 5)]
    assert read_recording(written(tmp_path / "b.csv", recording_text(sparse))).time_s.size == 800


@pytest.mark.parametrize("pressure", ["-20.1", "350.1", "1e9"])
def test_an_impossible_pressure_is_refused_with_its_line(tmp_path: Path, pressure: str) -> None:
    """Below -20 or above 350 mmHg is no cuff.

    Oracle: by construction, the limits being the project's.
    """
    path = written(tmp_path / "a.csv", recording_text(with_row(100, f"1.00,{pressure}")))
    refusal(read_recording, path, "out-of-range", 103, "-20 to 350 mmHg", "check the unit")


def test_pressures_at_the_limits_are_read(tmp_path: Path) -> None:
    """-20 and 350 mmHg themselves are allowed.

    Oracle: by construction.
    """
    rows = with_row(100, "1.00,-20")
    rows[101] = "1.01,350"
    found = read_recording(written(tmp_path / "a.csv", recording_text(rows)))
    assert (found.cuff_pressure_mmhg.min(), found.cuff_pressure_mmhg.max()) == (-20.0, 350.0)


def test_kilopascals_called_mmhg_are_suspected(tmp_path: Path) -> None:
    """No cuff reading stays under 45 mmHg; 24 kPa do. The header line is named, because the unit stands there.

    Oracle: by construction.
    """
    rows = [f"{k / 100:.2f},{24 - k / 40:.3f}" for k in range(400)]
    path = written(tmp_path / "a.csv", recording_text(rows))
    refusal(read_recording, path, "kpa-suspected", 2, "24.0 mmHg", "cuff_pressure_kPa")


def test_mmhg_called_kilopascals_are_suspected(tmp_path: Path) -> None:
    """180 kPa would be 1350 mmHg.

    Oracle: by construction.
    """
    path = written(tmp_path / "a.csv", recording_text(header="time_s,cuff_pressure_kPa"))
    refusal(read_recording, path, "out-of-range", 3, "1350", "cuff_pressure_mmHg")


def test_a_flat_line_is_refused(tmp_path: Path) -> None:
    """A sensor that was not connected.

    Oracle: by construction.
    """
    path = written(tmp_path / "a.csv", recording_text([f"{k / 100:.2f},101.3" for k in range(400)]))
    refusal(read_recording, path, "flat", 3, "within 0.00 mmHg", "sensor")


def test_a_saturated_recording_is_refused_where_it_begins(tmp_path: Path) -> None:
    """A deflation clipped at 150 mmHg for half of its length stands at that value from the first row on.

    Oracle: by construction: 1000 of 2000 samples at 100 a second, so 9.99 s from the first to the last of them.
    """
    rows = [f"{k / 100:.2f},{min(150.0, 200 - k / 20):.2f}" for k in range(2001)]
    path = written(tmp_path / "a.csv", recording_text(rows))
    refusal(read_recording, path, "saturated", 3, "150 mmHg", "10.0 s", "reaches higher")


def test_a_short_clipping_is_left_for_the_reading_to_judge(tmp_path: Path) -> None:
    """Four seconds at the limit spoil the top of the recording, not all of it.

    Oracle: by construction.
    """
    rows = [f"{k / 100:.2f},{min(180.0, 200 - k / 20):.2f}" for k in range(2001)]
    found = read_recording(written(tmp_path / "a.csv", recording_text(rows)))
    assert np.count_nonzero(found.cuff_pressure_mmhg == 180.0) == 401


def test_a_recording_without_samples_is_refused(tmp_path: Path) -> None:
    """Nothing below the header, nothing but circumstances, nothing but blank lines: each is empty.

    Oracle: by construction.
    """
    refusal(read_recording, written(tmp_path / "a.csv", recording_text([])), "empty", 2, "no samples", "export")
    refusal(read_recording, written(tmp_path / "b.csv", f"{CAT}\n"), "empty", None, "no header row", "export")
    refusal(read_recording, written(tmp_path / "c.csv", "\n\n \n"), "empty", None, "no header row", "export")
    refusal(read_recording, written(tmp_path / "d.csv", b""), "empty", None, "zero bytes", "export")


def test_a_recording_that_is_too_short_or_too_slow_is_refused(tmp_path: Path) -> None:
    """Less than 3 s, a single sample, or fewer than 45 samples a second.

    Oracle: by construction, the limits being the project's.
    """
    refusal(
        read_recording, written(tmp_path / "a.csv", recording_text(deflation_rows()[:250])), "too-short", 252, "2.5"
    )
    refusal(read_recording, written(tmp_path / "b.csv", recording_text(["0,180"])), "too-short", 3, "1 samples")
    slow = [f"{k / 20:.2f},{180 - k:.1f}" for k in range(100)]
    refusal(read_recording, written(tmp_path / "c.csv", recording_text(slow)), "too-slow", 3, "20 samples", "50")


def test_binary_rubbish_is_refused(tmp_path: Path) -> None:
    """A spreadsheet's own format, bytes without meaning, and a gzip of them.

    Oracle: by construction.
    """
    zip_start = b"PK\x03\x04\x14\x00\x06\x00"
    refusal(read_recording, written(tmp_path / "a.csv", zip_start), "binary", 1, "not a CSV file", "export")
    refusal(read_recording, written(tmp_path / "b.csv", zip_start, packed=True), "binary", 1, "not a CSV file")


def test_absurd_numbers_do_not_overflow(tmp_path: Path) -> None:
    """Numbers near the end of float64 are refused, without a warning from the arithmetic.

    Oracle: by construction; warnings are errors in these tests.
    """
    refusal(
        read_recording, written(tmp_path / "a.csv", recording_text(with_row(100, "1e308,150"))), "time-backwards", 104
    )
    refusal(read_recording, written(tmp_path / "b.csv", recording_text(["-1e308,180", "1e308,150"])), "gap", 4)
    kpa = recording_text(["0,1e308", "1,10"], header="time_s,cuff_pressure_kPa")
    refusal(read_recording, written(tmp_path / "c.csv", kpa), "not-finite", 3)


FORMS = [(",", "."), (";", "."), (";", ","), ("\t", "."), ("\t", ",")]


@SHARED_TMP
@given(
    start=st.floats(-1000, 1000),
    rate=st.sampled_from([50.0, 100.0, 333.0]),
    seed=st.integers(0, 2**32 - 1),
    form=st.sampled_from(FORMS),
    kpa=st.booleans(),
    ms=st.booleans(),
    quoted=st.booleans(),
    end=st.sampled_from(["\n", "\r\n", "\r"]),
    mark=st.sampled_from(["", "\ufeff"]),
    packed=st.booleans(),
    extra=st.booleans(),
)
def test_every_form_reads_back_what_was_printed(
    tmp_path: Path, start: float, rate: float, seed: int, form: tuple[str, str], kpa: bool, ms: bool, quoted: bool,
    end: str, mark: str, packed: bool, extra: bool,
) -> None:  # fmt: skip
    """Separator, decimal mark, units, quotation marks, line ends, byte order mark, gzip and further columns: the same
    samples come out.

    Oracle: by construction. Tolerance: half of the last printed digit, plus the rounding of the conversion.
    """
    separator, decimal = form
    generator = np.random.default_rng(seed)
    time_s = start + np.arange(int(rate * 4)) / rate
    pressure = np.linspace(200.0, 20.0, time_s.size) + generator.normal(0.0, 1.0, time_s.size)
    columns = [time_s * 1000 if ms else time_s, pressure * 0.133322387415 if kpa else pressure]
    names = ["time_ms" if ms else "time_s", "cuff_pressure_kPa" if kpa else "cuff_pressure_mmHg"]
    rows = [[f"{t:.4f}".replace(".", decimal), f"{p:.4f}".replace(".", decimal)] for t, p in zip(*columns, strict=True)]
    if extra:
        names.append("remark")
        rows = [[*row, "1.5, perhaps" if separator != "," else "perhaps"] for row in rows]
    if quoted:
        names, rows = [f'"{name}"' for name in names], [[f'"{cell}"' for cell in row] for row in rows]
    text = mark + end.join([CAT, separator.join(names), *(separator.join(row) for row in rows), ""])
    found = read_recording(written(tmp_path / "form.csv", text, packed=packed))
    np.testing.assert_allclose(found.time_s, time_s, rtol=1e-12, atol=0.6e-7 if ms else 0.6e-4)
    np.testing.assert_allclose(found.cuff_pressure_mmhg, pressure, rtol=1e-12, atol=4e-4 if kpa else 0.6e-4)


TEXT = st.text(st.characters(codec="utf-8", exclude_categories=("Cc", "Cs", "Zl", "Zp")), max_size=30)


@SHARED_TMP
@given(
    seed=st.integers(0, 2**32 - 1),
    packed=st.booleans(),
    animal=TEXT,
    remarks=TEXT,
    cuff_width_cm=st.none() | st.floats(0.5, 100),
    species=st.sampled_from(["cat", "dog"]),
)
def test_writing_and_reading_keeps_every_bit(
    tmp_path: Path, seed: int, packed: bool, animal: str, remarks: str, cuff_width_cm: float | None, species: str
) -> None:
    """A written recording has the same fingerprint and circumstances when read again; texts lose only odd spaces.

    Oracle: by construction; exact, because the shortest decimal that reads back is written.
    """
    generator = np.random.default_rng(seed)
    circumstances = Circumstances(species=species, animal=animal, remarks=remarks, cuff_width_cm=cuff_width_cm)  # type: ignore[arg-type]
    time_s = np.cumsum(generator.uniform(0.001, 0.02, 500))
    original = recording(time_s, generator.uniform(-20, 350, 500), circumstances)
    path = tmp_path / ("r.csv.gz" if packed else "r.csv")
    write_recording(original, path, {"true_systolic_mmhg": 151.25})
    found = read_recording(path)
    assert found.fingerprint == original.fingerprint
    assert found.circumstances.species == species
    assert found.circumstances.cuff_width_cm == cuff_width_cm

    def spaced(text: str) -> str | None:
        return " ".join("".join(c if c.isprintable() else " " for c in text).split()) or None

    assert found.circumstances.animal == spaced(animal)
    assert found.circumstances.remarks == spaced(remarks)
    assert (path.read_bytes()[:2] == b"\x1f\x8b") == packed


def test_the_written_file_looks_as_described(tmp_path: Path) -> None:
    """Circumstances that are known, extra lines, the header with units, then rows.

    Oracle: by construction.
    """
    time_s = np.arange(400) / 100
    original = recording(time_s, 180 - time_s * 25, Circumstances(species="dog", site="tail", cuff_width_cm=4.5))
    path = tmp_path / "a.csv"
    write_recording(original, path, {"true_systolic_mmhg": 151.25, "seed": 7, "note": "two\nlines"})
    lines = path.read_text(encoding="utf-8").split("\n")
    assert lines[:9] == [
        "# species: dog",
        "# site: tail",
        "# method: oscillometric",
        "# cuff_width_cm: 4.5",
        "# true_systolic_mmhg: 151.25",
        "# seed: 7",
        "# note: two lines",
        HEADER,
        "0.0,180.0",
    ]
    assert len(lines) == 8 + 400 + 1


@pytest.mark.parametrize("key", ["species", "spezies", "Two words", "a:b", "a\nb", ""])
def test_an_extra_line_cannot_pose_as_something_else(tmp_path: Path, key: str) -> None:
    """Extra keys cannot overwrite a circumstance or break the line.

    Oracle: by construction.
    """
    time_s = np.arange(400) / 100
    original = recording(time_s, 180 - time_s * 25, Circumstances(species="dog"))
    with pytest.raises(ParameterError):
        write_recording(original, tmp_path / "a.csv", {key: 1})


@pytest.mark.parametrize(("rows", "seconds"), [(6_000, 0.05), (600_000, 3.0)])
def test_reading_is_fast(tmp_path: Path, rows: int, seconds: float) -> None:
    """A minute at 100 Hz is read within 50 ms, ten minutes at 1000 Hz within 3 s.

    Oracle: by construction. 3.4 ms and 0.34 s were measured on one core of a small machine; the best of three runs is
    taken, because the machine may be busy.
    """
    rate = 100 if rows == 6_000 else 1000
    lines = [f"{k / rate:.3f},{180 - 100 * k / rows:.3f}" for k in range(rows)]
    path = written(tmp_path / "a.csv", recording_text(lines))
    taken = []
    for _ in range(3):
        start = time.perf_counter()
        found = read_recording(path)
        taken.append(time.perf_counter() - start)
        assert found.time_s.size == rows
    assert min(taken) < seconds
