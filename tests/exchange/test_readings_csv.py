"""Sessions typed by a person."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from exchange.invented_files import CAT, HEADER, recording_text, refusal, session_text, written
from quietlimb.engine.circumstances import Circumstances
from quietlimb.engine.errors import SeriesError
from quietlimb.engine.session.series import series_from_values
from quietlimb.exchange.errors import FileError
from quietlimb.exchange.readings_csv import COLUMNS, is_readings_file, read_readings, write_readings
from quietlimb.words.findings import says

SHORT = "minute,systolic_mmHg"
FULL = "minute,systolic_mmHg,mean_mmHg,diastolic_mmHg,pulse_rate_per_min"


def test_a_full_session_is_read(tmp_path: Path) -> None:
    """Minutes, pressures, rates and circumstances come out as typed; an empty cell is missing.

    Oracle: by construction.
    """
    above = "# species: cat\n# site: forelimb\n# method: oscillometric\n# place: carrier"
    rows = ["0,162,128,104,180", "1.5,158,,,", "", "3,155,122,101,", ",,,,"]
    series = read_readings(written(tmp_path / "a.csv", session_text(rows, FULL, above)))
    assert series.circumstances == Circumstances(species="cat", site="forelimb", place="carrier")
    assert series.origin == "typed"
    np.testing.assert_array_equal(series.minute, [0, 1.5, 3])
    np.testing.assert_array_equal(series.systolic, [162, 158, 155])
    np.testing.assert_array_equal(series.mean, [128, np.nan, 122])
    np.testing.assert_array_equal(series.diastolic, [104, np.nan, 101])
    np.testing.assert_array_equal(series.pulse_rate, [180, np.nan, np.nan])
    assert series.findings == ((), (), ())
    assert series.verdicts == ("keep", "keep", "keep")


def test_columns_may_come_in_any_order_and_unit(tmp_path: Path) -> None:
    """Semicolons, decimal commas, kPa, a column that nobody knows, and only two columns needed.

    Oracle: published. The conventional millimetre of mercury, 0.133322387415 kPa. Tolerance: last places of float64.
    """
    text = session_text(["21,6;0;calm", "20,0;2,5;growls"], "systolic_kPa;minute;mood", CAT)
    series = read_readings(written(tmp_path / "a.csv", text))
    np.testing.assert_allclose(series.systolic, np.array([21.6, 20.0]) / 0.133322387415, rtol=1e-14)
    np.testing.assert_array_equal(series.minute, [0, 2.5])
    assert np.isnan(series.mean).all()
    assert np.isnan(series.diastolic).all()


def test_a_session_saved_by_a_spreadsheet_is_read(tmp_path: Path) -> None:
    """A spreadsheet fills the lines above the table with separators and quotes a comma; nothing of that is told.

    Oracle: common practice, as spreadsheets save CSV.
    """
    rows = ["# species: cat,,", '"# animal: Juniper, the second",,', '"# cuff_width_cm: 2,5",,', ",,"]
    text = "\r\n".join([*rows, "minute,systolic_mmHg,mean_mmHg", "0,162,128", "1,158,", ",,", ""])
    series = read_readings(written(tmp_path / "a.csv", text))
    assert series.circumstances == Circumstances(species="cat", animal="Juniper, the second", cuff_width_cm=2.5)
    np.testing.assert_array_equal(series.systolic, [162, 158])


@pytest.mark.parametrize("first", ["sep=;", "SEP=;", '"sep=;"', "sep=;;", "\ufeffsep=;"])
@pytest.mark.parametrize("above", [[CAT], []])
def test_a_first_line_that_names_the_separator_is_no_header(tmp_path: Path, first: str, above: list[str]) -> None:
    """As spreadsheets want it, above remarks or without any; the lines below keep their numbers.

    Oracle: common practice, what spreadsheets write in the first line of a CSV file.
    """
    rows = [first, *above, "minute;systolic_mmHg", "0;150,5", "1;148"]
    path = written(tmp_path / "a.csv", "\n".join(rows))
    assert read_readings(path, species="cat").systolic.tolist() == [150.5, 148.0]
    path = written(tmp_path / "b.csv", "\n".join([*rows, "2;x"]))
    with pytest.raises(FileError) as caught:
        read_readings(path, species="cat")
    assert caught.value.line == len(rows) + 1


def test_a_separator_line_that_the_table_contradicts_is_not_believed(tmp_path: Path) -> None:
    """`sep=,` above semicolons, as when a file was saved again under other settings.

    Oracle: by construction.
    """
    path = written(tmp_path / "a.csv", "sep=,\n# species: cat\nminute;systolic_mmHg\n0;150,5\n")
    assert read_readings(path).systolic.tolist() == [150.5]


def test_a_remark_may_end_in_a_comma(tmp_path: Path) -> None:
    """Where not every line is filled up, a separator at the end belongs to the value.

    Oracle: by construction.
    """
    path = written(tmp_path / "a.csv", session_text(["0,162"], "minute,systolic_mmHg", f"{CAT}\n# remarks: calm,"))
    assert read_readings(path).circumstances.remarks == "calm,"


@pytest.mark.parametrize(
    ("row", "code", "words"),
    [
        ("1,16x,,,", "not-a-number", ("systolic is '16x'",)),
        ("1,1_60,,,", "not-a-number", ("systolic is '1_60'",)),
        ("10:30,160,,,", "not-a-number", ("minute is '10:30'",)),
        ("1,nan,,,", "not-finite", ("systolic is 'nan'",)),
        ("1,160,,,1e309", "not-finite", ("pulse rate is '1e309'",)),
        ("1,,120,100,180", "cell-empty", ("systolic is empty", "leave the row out")),
        (",160,,,", "cell-empty", ("minute is empty",)),
        ("1,160", "wrong-number-of-cells", ("2 cells under 5 columns",)),
        ("1,1600,,,", "out-of-range", ("systolic is 1600 mmHg", "40 to 320")),
        ("1,39,,,", "out-of-range", ("systolic is 39 mmHg", "40 to 320")),
        ("1,320.1,,,", "out-of-range", ("systolic is 320.1 mmHg", "40 to 320")),
        ("1,160,12,,", "out-of-range", ("mean is 12 mmHg", "30 to 260")),
        ("1,300,261,,", "out-of-range", ("mean is 261 mmHg", "30 to 260")),
        ("1,160,,19,", "out-of-range", ("diastolic is 19 mmHg", "20 to 220")),
        ("1,300,,221,", "out-of-range", ("diastolic is 221 mmHg", "20 to 220")),
        ("1,160,,,1800", "out-of-range", ("pulse rate is 1800 /min", "20 to 400")),
        ("1441,160,,,", "out-of-range", ("minute is 1441 min", "minutes since the first reading")),
        ("1,120,160,100,", "mean-above-systolic", ("mean 160 mmHg", "systolic 120 mmHg", "swapped")),
        ("1,160,100,120,", "diastolic-above-mean", ("diastolic 120 mmHg", "mean 100 mmHg", "swapped")),
        ("1,100,,160,", "diastolic-above-systolic", ("diastolic 160 mmHg", "systolic 100 mmHg", "swapped")),
        ("1,160,,160,", "diastolic-above-systolic", ("diastolic 160 mmHg", "systolic 160 mmHg")),
    ],
)
def test_an_impossible_reading_is_refused_with_its_line(
    tmp_path: Path, row: str, code: str, words: tuple[str, ...]
) -> None:
    """What cannot be is named with line and remedy, and nothing is charted.

    Oracle: common practice for the ranges (systolic 40 to 320, mean 30 to 260, diastolic 20 to 220 mmHg); invented for
    pulse rate and minute; otherwise by construction.
    """
    text = session_text(["0,160,125,105,180", row], FULL)
    refusal(read_readings, written(tmp_path / "a.csv", text), code, 4, *words)


@pytest.mark.parametrize(("cell", "code"), [("10:30", "not-a-number"), ("", "cell-empty"), ("-1", "out-of-range")])
def test_a_minute_that_is_none_is_explained(tmp_path: Path, cell: str, code: str) -> None:
    """A time of day, an empty cell or a negative number: the remedy says what a minute is.

    Oracle: by construction.
    """
    text = session_text([f"{cell},160,125,105,180"], FULL)
    refusal(read_readings, written(tmp_path / "a.csv", text), code, 3, "minutes since the first reading, as 0, 1.5, 3")


def test_readings_all_at_one_minute_are_refused(tmp_path: Path) -> None:
    """Nobody takes several readings within one moment: the minutes are asked for. One reading may stand alone, and
    two of three may share a minute.

    Oracle: by construction.
    """
    header = "minute,systolic_mmHg"
    path = written(tmp_path / "a.csv", session_text(["0,160", "0,158", "0,155"], header))
    refusal(read_readings, path, "minutes-missing", 4, "all 3 readings are at minute 0", "as 0, 1.5, 3")
    assert len(read_readings(written(tmp_path / "b.csv", session_text(["0,160"], header)))) == 1
    assert len(read_readings(written(tmp_path / "c.csv", session_text(["0,160", "0,158", "1,155"], header)))) == 3


def test_a_web_page_is_not_a_table(tmp_path: Path) -> None:
    """A page saved under the name of a table is named as such, not asked for its species.

    Oracle: published. HTML documents begin with <!DOCTYPE html> (WHATWG HTML, 13.1.1).
    """
    path = written(tmp_path / "a.csv", "\n<!DOCTYPE html>\n<html><body>minute,systolic_mmHg</body></html>\n")
    for read in (read_readings, is_readings_file):
        refusal(read, path, "not-a-table", 2, "<!DOCTYPE html>", "not a table", "as CSV")


def test_letters_with_accents_from_a_spreadsheet_are_read(tmp_path: Path) -> None:
    """A name with umlauts in a file saved as Windows-1252 arrives with its umlauts.

    Oracle: published. The Windows-1252 table of Unicode: 0xF6 is o with diaeresis, 0xDF sharp s.
    """
    above = "# species: cat\n# animal: L\u00f6we Gro\u00df"
    text = session_text(["0,160"], "minute,systolic_mmHg", above)
    found = read_readings(written(tmp_path / "a.csv", text.encode("cp1252")))
    assert found.circumstances.animal == "L\u00f6we Gro\u00df"


def test_readings_at_the_limits_are_read(tmp_path: Path) -> None:
    """The ends of the ranges belong to them, and a mean may equal the systolic or the diastolic pressure.

    Oracle: common practice, as above; by construction for equality.
    """
    rows = ["0,40,30,20,20", "0,320,260,220,400", "1440,160,160,,", "1440,160,100,100,"]
    series = read_readings(written(tmp_path / "a.csv", session_text(rows, FULL)))
    assert len(series) == 4


def test_a_set_under_40_is_suspected_to_be_kpa(tmp_path: Path) -> None:
    """No systolic pressure of a set over 40: kPa typed under mmHg. The header line holds the unit.

    Oracle: common practice for the limit.
    """
    path = written(tmp_path / "a.csv", session_text(["0,21.6,,,", "1,39.9,,,"], FULL))
    refusal(read_readings, path, "kpa-suspected", 2, "39.9 mmHg", "systolic_kPa")
    one = written(tmp_path / "b.csv", session_text(["0,160,,,", "1,21.6,,,"], FULL))
    refusal(read_readings, one, "out-of-range", 4, "21.6 mmHg")


def test_a_session_without_readings_is_refused(tmp_path: Path) -> None:
    """A header alone, or rows of nothing but separators, is no session.

    Oracle: by construction.
    """
    refusal(
        read_readings, written(tmp_path / "a.csv", session_text([], FULL)), "empty", 2, "no readings", "at least one"
    )
    refusal(read_readings, written(tmp_path / "b.csv", session_text([",,,,"], FULL)), "empty", 2, "no readings")
    refusal(read_readings, written(tmp_path / "c.csv", b""), "empty", None, "zero bytes")


@pytest.mark.parametrize(
    ("header", "row", "code", "words"),
    [
        ("minute,mean_mmHg", "0,120", "column-missing", ("systolic", "systolic_mmHg or systolic_kPa")),
        ("systolic_mmHg", "160", "column-missing", ("minute",)),
        ("minute,systolic", "0,160", "unit-missing", ("systolic", "systolic_mmHg or systolic_kPa")),
        ("minute,systolic_mmHg,mean_cmH2O", "0,160,1", "unit-unknown", ("mean_cmH2O", "mean_mmHg or mean_kPa")),
        ("minute,systolic_mmHg,systolic_kPa", "0,160,21", "column-twice", ("systolic_mmHg and systolic_kPa",)),
        ("minute,systolic_mmHg,pulse_rate", "0,160,180", "unit-missing", ("pulse_rate", "pulse_rate_per_min")),
        ("0,160", "1,158", "header-missing", ("header row",)),
    ],
)
def test_a_wrong_header_is_refused(tmp_path: Path, header: str, row: str, code: str, words: tuple[str, ...]) -> None:
    """Columns needed and units are asked for by name.

    Oracle: by construction.
    """
    refusal(read_readings, written(tmp_path / "a.csv", session_text([row], header)), code, 2, *words)


def test_the_species_must_be_told(tmp_path: Path) -> None:
    """As for a recording, by a line or by the caller.

    Oracle: by construction.
    """
    path = written(tmp_path / "a.csv", session_text(["0,160"], "minute,systolic_mmHg", "# site: tail"))
    refusal(read_readings, path, "species-missing", None, "# species: cat")
    assert read_readings(path, species="dog").circumstances.species == "dog"


def test_a_diastolic_by_doppler_is_remarked_upon(tmp_path: Path) -> None:
    """Doppler gives the systolic pressure; a diastolic beside it is noted, and the reading is kept.

    Oracle: common practice.
    """
    text = session_text(["0,160,100", "1,158,"], "minute,systolic_mmHg,diastolic_mmHg", f"{CAT}\n# method: Doppler")
    series = read_readings(written(tmp_path / "a.csv", text))
    assert [[finding.code for finding in found] for found in series.findings] == [["diastolic-by-doppler"], []]
    assert series.verdicts == ("keep", "keep")


def test_a_typed_session_is_told_from_a_recording(tmp_path: Path) -> None:
    """The header row decides, even where units are missing; a file without a table is refused.

    Oracle: by construction.
    """
    typed = written(tmp_path / "a.csv", session_text(["0,160"], "minute;Systolic;cat", ""))
    recorded = written(tmp_path / "b.csv", recording_text(), packed=True)
    both = written(tmp_path / "c.csv", recording_text([], header=f"minute,{HEADER}"))
    assert is_readings_file(typed)
    assert not is_readings_file(recorded)
    assert not is_readings_file(both)
    with pytest.raises(FileError):
        is_readings_file(written(tmp_path / "d.csv", b""))


PRESSURE = st.floats(0.0, 1.0)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=2000, max_examples=60)
@given(
    steps=st.lists(st.floats(0.0, 10.0), min_size=1, max_size=12),
    shares=st.lists(st.tuples(PRESSURE, PRESSURE, PRESSURE), min_size=12, max_size=12),
    present=st.lists(st.tuples(st.booleans(), st.booleans(), st.booleans()), min_size=12, max_size=12),
    packed=st.booleans(),
)
def test_writing_and_reading_keeps_every_bit(
    tmp_path: Path,
    steps: list[float],
    shares: list[tuple[float, float, float]],
    present: list[tuple[bool, bool, bool]],
    packed: bool,
) -> None:
    """A typed series has the same fingerprint when read again.

    Oracle: by construction; exact, because the shortest decimal that reads back is written.
    """
    n = len(steps)
    assume(n == 1 or sum(steps[1:]) > 0.0)  # readings all at one minute are refused
    diastolic = [20.0 + 180.0 * a for a, _, _ in shares[:n]]
    systolic = [max(40.0, low + 1.0 + (319.0 - low) * b) for low, (_, b, _) in zip(diastolic, shares, strict=False)]
    mean = [
        min(260.0, max(30.0, low, low + c * (high - low)), high)
        for low, high, (_, _, c) in zip(diastolic, systolic, shares, strict=False)
    ]
    original = series_from_values(
        circumstances=Circumstances(species="cat", site="tail", animal="Juniper"),
        minute=(np.cumsum(steps) + np.arange(n)).tolist(),
        systolic=systolic,
        mean=[value if there[0] else None for value, there in zip(mean, present, strict=False)],
        diastolic=[value if there[1] else None for value, there in zip(diastolic, present, strict=False)],
        pulse_rate=[180.5 if there[2] else None for there in present[:n]],
    )
    path = tmp_path / ("s.csv.gz" if packed else "s.csv")
    write_readings(original, path)
    found = read_readings(path)
    assert found.fingerprint_with({}) == original.fingerprint_with({})
    assert is_readings_file(path)


def test_the_written_session_looks_as_typed(tmp_path: Path) -> None:
    """Columns that hold nothing are left out; whole numbers have no decimals.

    Oracle: by construction.
    """
    series = series_from_values(
        circumstances=Circumstances(species="dog"), minute=[0, 1.5], systolic=[150, 148], pulse_rate=[None, 120]
    )
    path = tmp_path / "a.csv"
    write_readings(series, path)
    assert path.read_text(encoding="utf-8") == (
        "# species: dog\n# method: oscillometric\nminute,systolic_mmHg,pulse_rate_per_min\n0,150,\n1.5,148,120\n"
    )


def test_what_was_set_aside_is_read_and_written(tmp_path: Path) -> None:
    """A row with a reason is kept without counting, also without pressures; "no" and nothing are no reason.

    Oracle: by construction.
    """
    path = tmp_path / "a.csv"
    path.write_text("# species: cat\nminute,systolic_mmHg,set_aside\n0,,moved\n1,150,\n2,152,no\n3,190,cuff slipped\n")
    series = read_readings(path)
    assert series.set_aside == (1, 4)
    assert series.verdicts == ("discard", "keep", "keep", "discard")
    again = tmp_path / "b.csv"
    write_readings(series, again)
    assert again.read_text(encoding="utf-8").splitlines()[2:] == [
        "minute,systolic_mmHg,set_aside",
        "0,,moved",
        "1,150,",
        "2,152,",
        "3,190,cuff slipped",
    ]
    assert read_readings(again).fingerprint_with({}) == series.fingerprint_with({})
    assert says(series.findings[0][0]) == "Set aside by whoever took it: moved."
    path.write_text("# species: cat\nminute,systolic_mmHg,set_aside\n0,,\n1,150,\n")
    with pytest.raises(FileError, match="systolic"):
        read_readings(path)


@pytest.mark.parametrize("word", ["no", "NO", "0", "-", "ok", "kept", "false"])
def test_a_no_does_not_set_aside(tmp_path: Path, word: str) -> None:
    """Whoever fills every cell of the column says no in some way.

    Oracle: common practice, how people and spreadsheets say no.
    """
    path = written(tmp_path / "a.csv", session_text(["0,150,moved", f"1,151,{word}"], f"{SHORT},set_aside", CAT))
    assert read_readings(path).set_aside == (1,)


@pytest.mark.parametrize("reason", ["yes", "moved; then purred", 'said "no"', "moved, twice"])
def test_a_reason_comes_back_as_it_was_typed(tmp_path: Path, reason: str) -> None:
    """Also one with a separator or a quotation mark in it; a mere yes is no reason.

    Oracle: by construction.
    """
    cell = '"' + reason.replace('"', '""') + '"'
    rows = [f"0,150,{cell}", "1,151,"]
    series = read_readings(written(tmp_path / "a.csv", session_text(rows, f"{SHORT},set_aside", CAT)))
    assert series.findings[0][0].told == (None if reason == "yes" else reason)
    write_readings(series, tmp_path / "b.csv")
    assert read_readings(tmp_path / "b.csv").findings == series.findings


@pytest.mark.parametrize(
    ("column", "code", "words"),
    [
        ("setaside", "misspelt-column", "if you mean set_aside"),
        ("diastolc_mmHg", "misspelt-column", "if you mean diastolic_mmHg"),
        ("method", "belongs-above", "method is told of the whole session"),
        ("Cuff", "belongs-above", "one file a series"),
        ("cuff_width_cm", "belongs-above", "'# cuff_width_cm: ...' above the table"),
    ],
)
def test_a_column_that_would_be_left_out_unseen_is_refused(tmp_path: Path, column: str, code: str, words: str) -> None:
    """A reading that was set aside would count, and two methods would be pooled; other columns are left out.

    Oracle: by construction, `docs/file-formats.md`.
    """
    path = tmp_path / "a.csv"
    written(path, session_text(["0,150,", "1,151,moved"], f"{SHORT},{column}", CAT))
    refusal(read_readings, path, code, 2, words)
    for own in ("mood", "remarks", "time", ""):
        read_readings(written(path, session_text(["0,150,", "1,151,growls"], f"{SHORT},{own}", CAT)))


def test_the_described_columns_are_the_ones_read() -> None:
    """The header in the description names the first unit of every column.

    Oracle: by construction.
    """
    assert ",".join(next(iter(units)) for units in COLUMNS.values()) == FULL


def test_minutes_that_go_backwards_are_refused_with_their_line(tmp_path: Path) -> None:
    """A reading before the one above it is named with line and remedy.

    Oracle: by construction.
    """
    text = session_text(["1,160,125,105,180", "0.5,160,,,"], FULL)
    path = written(tmp_path / "a.csv", text)
    refusal(read_readings, path, "time-backwards", 4, "minute 0.5 follows minute 1", "order taken")


def test_a_recording_without_a_systolic_pressure_is_written_as_set_aside(tmp_path: Path) -> None:
    """Of three, the second has none: it reads back as set aside, the others as they were. Oracle: by construction."""
    mean, path = [120.0, 118.0, 119.0], tmp_path / "readings.csv"
    around = Circumstances(species="cat")
    write_readings(
        series_from_values(circumstances=around, minute=[0, 1, 2], systolic=[150.0, None, 148.0], mean=mean), path
    )
    again = read_readings(path)
    assert again.set_aside == (2,)
    assert again.mean.tolist() == mean
    assert again.systolic[[0, 2]].tolist() == [150.0, 148.0]


def test_a_series_without_minutes_is_not_written(tmp_path: Path) -> None:
    """What could not be read again is not written. Oracle: by construction."""
    series = series_from_values(circumstances=Circumstances(species="dog"), minute=[1, 1], systolic=[150, 148])
    with pytest.raises(SeriesError, match="minute 1; write minutes"):
        write_readings(series, tmp_path / "a.csv")
