"""WFDB records as recordings. The comparison with the `wfdb` package is in test_wfdb_package.py."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from exchange.invented_channels import checksum, falling, packed_samples, tenths, wfdb_record
from exchange.invented_files import refusal, written
from quietlimb.engine.circumstances import Circumstances
from quietlimb.engine.recording import Recording
from quietlimb.exchange.errors import FileError
from quietlimb.exchange.recording_wfdb import FORMATS, read_channel, read_recording

VALUES = tenths(falling())
# Digital units a mmHg that fit 60 to 180 mmHg into each format; that of 8 bits is zeroed at 120 mmHg.
GAINS = {16: 10, 24: 40_000, 32: 10_000_000, 80: 2, 212: 10}
ZEROS = {80: 120}


def test_the_example_of_the_docstring_is_read(tmp_path: Path) -> None:
    """Time from the sampling frequency, pressure from gain and baseline, circumstances from the comments.

    Oracle: by construction; tenths of mmHg are exact to the last bit of one division.
    """
    comments = ["# species: cat", "# cuff_width_cm: 2.5", "# site: left forelimb", "#", "# made by hand"]
    header = wfdb_record(
        tmp_path, [v - 300 for v in VALUES], gain="10.0(-300)/mmHg", comments=comments, record_line="r1 1 200/50 800"
    )
    found = read_recording(header)
    np.testing.assert_allclose(found.cuff_pressure_mmhg, np.array(VALUES) / 10, rtol=1e-15)
    np.testing.assert_allclose(found.time_s, np.arange(800) / 200, rtol=1e-15)
    assert found.circumstances == Circumstances(species="cat", cuff_width_cm=2.5, site="forelimb", side="left")


@pytest.mark.parametrize("kind", FORMATS)
@pytest.mark.parametrize("length", [800, 801])
def test_every_format_is_read(tmp_path: Path, kind: int, length: int) -> None:
    """Samples packed one by one come back, an odd one at the end too.

    Oracle: by construction, the format's description in a plain loop. Tolerance: half a digital unit, from rounding.
    """
    zero = ZEROS.get(kind, 0)
    values = [round(GAINS[kind] * (float(p) - zero)) for p in falling(length)]
    header = wfdb_record(tmp_path, values, kind=kind, gain=f"{GAINS[kind]}({-GAINS[kind] * zero})/mmHg")
    found = read_recording(header)
    np.testing.assert_allclose(found.cuff_pressure_mmhg, falling(length), atol=0.5 / GAINS[kind] + 1e-12)


@pytest.mark.parametrize("kind", FORMATS)
@given(data=st.data())
def test_any_samples_are_decoded(kind: int, data: st.DataObject) -> None:
    """Every value that a format can hold survives, the extremes included.

    Oracle: by construction, the plain loop.
    """
    bits = {212: 12, 80: 8}.get(kind, kind)
    numbers = st.integers(-(2 ** (bits - 1)), 2 ** (bits - 1) - 1)
    values = data.draw(st.lists(numbers, max_size=25))
    packed = packed_samples(values, kind)
    assert FORMATS[kind].bytes_needed(len(values)) == len(packed)
    assert FORMATS[kind].decode(packed, len(values)).tolist() == values


def test_kilopascals_are_converted(tmp_path: Path) -> None:
    """A unit of kPa becomes mmHg.

    Oracle: published. The conventional millimetre of mercury: 13 595.1 kg/m3, standard gravity 9.80665 m/s2.
    Tolerance: float64.
    """
    hundredths = [round(100 * float(p)) for p in falling(top=24.0, bottom=8.0)]
    found = read_recording(wfdb_record(tmp_path, hundredths, gain="100(0)/kPa"))
    np.testing.assert_allclose(found.cuff_pressure_mmhg, np.array(hundredths) * 10 / 133.322387415, rtol=1e-14)


def test_one_of_many_signals_is_read(tmp_path: Path) -> None:
    """Frames of three signals, one with four samples a frame; a fourth signal in another file and format.

    Oracle: by construction. Tolerance: float64.
    """
    frames = 200
    cuff = tenths(falling(4 * frames))
    interleaved = []
    for k in range(frames):
        interleaved += [k, *cuff[4 * k : 4 * k + 4], -k]
    (tmp_path / "r.dat").write_bytes(b"HEAD" + packed_samples(interleaved, 16))
    (tmp_path / "other.dat").write_bytes(packed_samples([1] * frames, 80))
    lines = [
        f"r 4 25/25 {frames}",
        "r.dat 16+4 200/mV",
        f"r.dat 16x4:3+4 10(0)/mmHg 12 0 {cuff[0]} {checksum(cuff)} 0 Cuff pressure, raw",
        "r.dat 16+4 1/mmHg 12 0 0 0 0 ABP",
        "other.dat 80",
        "#species: dog",
    ]
    found = read_recording(written(tmp_path / "r.hea", "\r\n".join(lines)))
    np.testing.assert_allclose(found.cuff_pressure_mmhg, np.array(cuff) / 10, rtol=1e-15)
    np.testing.assert_allclose(found.time_s, np.arange(4 * frames) / 100, rtol=1e-15)
    other = read_recording(tmp_path / "r.hea", channel="cuff pressure, RAW")
    assert other.fingerprint == found.fingerprint
    refusal(lambda p: read_recording(p, channel="4"), tmp_path / "r.hea", "unit-unknown", None, "channel 4 is neither")


def test_the_length_may_be_left_to_the_file(tmp_path: Path) -> None:
    """Without a number of samples, the signal file tells it.

    Oracle: by construction.
    """
    for record_line in ("r1 1 100", "r1 1 100 0"):
        assert read_recording(wfdb_record(tmp_path, VALUES, record_line=record_line)).time_s.size == len(VALUES)


@pytest.mark.parametrize("kind", FORMATS)
def test_invalid_samples_are_left_out(tmp_path: Path, kind: int) -> None:
    """The lowest value of a format marks what was not measured: no pressure comes of it, and time goes on.

    Oracle: by construction, the mark from the description of the format.
    """
    mark = {16: -32768, 24: -8388608, 32: -2147483648, 80: -128, 212: -2048}[kind]
    zero = ZEROS.get(kind, 0)
    values = [round(GAINS[kind] * (float(p) - zero)) for p in falling()]
    values[100:110] = [mark] * 10
    header = wfdb_record(tmp_path, values, kind=kind, gain=f"{GAINS[kind]}({-GAINS[kind] * zero})/mmHg")
    found = read_recording(header)
    assert found.time_s.size == 790
    assert found.time_s[100] == pytest.approx(1.10)
    assert found.cuff_pressure_mmhg.min() > 59.0


def test_invalid_samples_are_judged_as_the_gaps_of_a_csv_file_are(tmp_path: Path) -> None:
    """More than half a second, or more than a tenth of the time in gaps, is refused, with the number of marked samples.

    Oracle: by construction, the limits of docs/limits.md.
    """
    long = [-32768 if 300 <= k < 351 else v for k, v in enumerate(VALUES)]
    header = wfdb_record(tmp_path, long)
    refusal(read_recording, header, "gap", None, "sample 352 at 3.51 s", "0.52 s", "51 of 800", "without interruptions")
    many = [-32768 if k % 40 >= 30 else v for k, v in enumerate(VALUES)]
    refusal(read_recording, wfdb_record(tmp_path, many), "gap", None, "sample 41 at 0.40 s", "gaps", "200 of 800")
    none = wfdb_record(tmp_path, [-32768] * 800)
    refusal(read_recording, none, "too-short", None, "only 0 samples", "800 of 800")


def test_samples_out_of_range_are_told_with_their_time(tmp_path: Path) -> None:
    """The objection names channel, sample and time; a wrong unit is thought of.

    Oracle: by construction.
    """
    high = [4000 if k == 100 else v for k, v in enumerate(VALUES)]
    refusal(
        read_recording,
        wfdb_record(tmp_path, high),
        "out-of-range",
        None,
        "'Cuff pressure', sample 101 at 1.00 s",
        "400",
    )
    low = wfdb_record(tmp_path, VALUES, gain="100/mmHg")
    refusal(read_recording, low, "kpa-suspected", None, "18.0 mmHg", "kPa as the unit")
    high_kpa = wfdb_record(tmp_path, VALUES, gain="10/kPa")
    refusal(read_recording, high_kpa, "out-of-range", None, "1350", "mmHg as the unit")


def test_the_start_of_the_record_is_told(tmp_path: Path) -> None:
    """Time and date of the record line are `started_at`, unless a comment tells it.

    Oracle: by construction.
    """
    timed = {"record_line": "r1 1 100 800 10:30:15.5 25/11/2026"}
    assert (
        read_recording(wfdb_record(tmp_path, VALUES, **timed)).circumstances.started_at == "2026-11-25T10:30:15.500000"
    )
    zoned = ["# species: cat", "# started_at: 2026-11-25T10:30:15+01:00"]
    header = wfdb_record(tmp_path, VALUES, **timed, comments=zoned)
    assert read_recording(header).circumstances.started_at == "2026-11-25T10:30:15+01:00"
    for line in ("r1 1 100 800 10:30:15", "r1 1 100 800 99:30:15 25/11/2026", "r1 1 100 800 10:30:15 31/11/2026"):
        assert read_recording(wfdb_record(tmp_path, VALUES, record_line=line)).circumstances.started_at is None


def test_circumstances_follow_the_rules_of_csv(tmp_path: Path) -> None:
    """Species by option, defaults where the file is silent, misspelt and contradicting lines told with their line.

    Oracle: by construction.
    """
    bare = wfdb_record(tmp_path, VALUES, comments=())
    refusal(read_recording, bare, "species-missing", None, "--species cat", "# species: cat", "end of the header")
    found = read_recording(bare, species="dog", defaults={"site": "tail"})
    assert found.circumstances == Circumstances(species="dog", site="tail")
    cat = wfdb_record(tmp_path, VALUES)
    refusal(lambda p: read_recording(p, species="dog"), cat, "species-conflict", 3, "'cat'", "'dog'")
    misspelt = wfdb_record(tmp_path, VALUES, comments=("# species: cat", "# positon: standing"))
    refusal(read_recording, misspelt, "misspelt-key", 4, "position")


@pytest.mark.parametrize("kind", [8, 61, 160, 310, 311, 516, 0])
def test_other_formats_are_refused(tmp_path: Path, kind: int) -> None:
    """Format 8, 310, 311 and others are named, with those that are read.

    Oracle: by construction.
    """
    header = wfdb_record(tmp_path, VALUES, signal_line=f"r1.dat {kind} 10/mmHg 12 0 0 0 0 Cuff")
    refusal(read_recording, header, "format-unknown", 2, f"signal format {kind} ", "16, 24, 32, 80, 212", "again")


def test_several_segments_are_refused(tmp_path: Path) -> None:
    """A record of segments is named as such.

    Oracle: by construction.
    """
    header = written(tmp_path / "m.hea", "m/2 1 100 1600\nm_1 800\nm_2 800\n")
    refusal(read_recording, header, "several-segments", 1, "several segments", "single segment")


def test_damaged_samples_are_found(tmp_path: Path) -> None:
    """A changed sample breaks the checksum, a missing or added one the length; a missing file is named.

    Oracle: by construction.
    """
    header = wfdb_record(tmp_path, VALUES)
    data = tmp_path / "r1.dat"
    whole = data.read_bytes()
    data.write_bytes(whole[:500] + bytes([whole[500] ^ 1]) + whole[501:])
    refusal(read_recording, header, "wrong-checksum", 2, "checksum", "both files")
    data.write_bytes(whole[:-1])
    refusal(read_recording, header, "wrong-length", 2, "799 frames, not 800", "both files")
    data.write_bytes(whole + b"\0\0")
    refusal(read_recording, header, "wrong-length", 2, "801 frames, not 800")
    data.unlink()
    refusal(read_recording, header, "signal-file-missing", 2, "'r1.dat'", "one folder")


@pytest.mark.parametrize("elsewhere", ["../r1.dat", "/etc/hostname", "a\\b.dat", "C:r1.dat", "-", "~", ".."])
def test_a_header_does_not_lead_elsewhere(tmp_path: Path, elsewhere: str) -> None:
    """A header opens no file but one beside it.

    Oracle: by construction; a header may come from anybody.
    """
    header = wfdb_record(tmp_path, VALUES, signal_line=f"{elsewhere} 16 10/mmHg 12 0 0 0 0 Cuff")
    refusal(read_recording, header, "signal-file-elsewhere", 2, "beside the header", "one folder")


@pytest.mark.parametrize(
    ("record_line", "signal_line", "code", "line"),
    [
        ("r1 1", None, "rate-missing", 1),
        ("r1 1 0 800", None, "rate-missing", 1),
        ("r1 2 100 800", None, "wrong-number-of-signals", 1),
        ("r1", None, "header-broken", 1),
        ("PK\x03\x04", None, "header-broken", 1),
        (None, "r1.dat", "header-broken", 2),
        (None, "r1.dat 16 abc/mmHg", "header-broken", 2),
        (None, "r1.dat 16x0 10/mmHg 12 0 0 0 0 Cuff", "header-broken", 2),
        (None, "r1.dat 16 0/mmHg 12 0 0 0 0 Cuff", "not-calibrated", 2),
        (None, "r1.dat 16 1e4000/mmHg 12 0 0 0 0 Cuff", "header-broken", 2),
        (None, "r1.dat 16 1e399/mmHg 12 0 0 0 0 Cuff", "not-calibrated", 2),
    ],
)
def test_a_broken_header_is_told_with_its_line(
    tmp_path: Path, record_line: str | None, signal_line: str | None, code: str, line: int
) -> None:
    """What cannot be a header of this format, or scales nothing, names the line at fault.

    Oracle: by construction.
    """
    refusal(read_recording, wfdb_record(tmp_path, VALUES, record_line=record_line, signal_line=signal_line), code, line)


def test_what_is_no_header_is_refused(tmp_path: Path) -> None:
    """Bytes, letters of another encoding, endless lines and nothing at all.

    Oracle: by construction.
    """
    for content in (b"\0\1\2", b"r1 1 100\n# Gr\xfc\xdfe", b"a" * 5000, b"# a: b\n" * 200_000):
        refusal(read_recording, written(tmp_path / "a.hea", content), "not-a-header", None, "NAME.hea")
    refusal(read_recording, written(tmp_path / "a.hea", b"# only: this\n"), "empty", None, "no record line")
    refusal(read_recording, tmp_path / "none.hea", "not-found", None, "no such file")


def test_signals_of_one_file_share_a_format(tmp_path: Path) -> None:
    """A header that gives two formats to one file is refused.

    Oracle: by construction.
    """
    text = "r1 2 100 800\nr1.dat 16 10/mmHg 12 0 0 0 0 Cuff\nr1.dat 80\n# species: cat\n"
    wfdb_record(tmp_path, VALUES)
    refusal(read_recording, written(tmp_path / "r1.hea", text), "header-broken", 2, "differ in format")


NASTY = [
    "",
    " ",
    "\n",
    "#",
    "#:",
    "/",
    "x",
    "x999999999",
    ":",
    "+999999999",
    "(",
    "-",
    "0",
    "1e308",
    "9" * 400,
    "\0",
    "²",
    "..",
    "212",
]


@settings(max_examples=200, deadline=2000, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_a_damaged_header_gives_a_result_or_an_error(tmp_path: Path, data: st.DataObject) -> None:
    """Whatever stands in the header, reading ends with a recording or a FileError, soon.

    Oracle: by construction; the deadline is the oracle for "does not hang".
    """
    text = wfdb_record(tmp_path, VALUES).read_text(encoding="utf-8")
    for _ in range(data.draw(st.integers(1, 3))):
        start = data.draw(st.integers(0, len(text)))
        after = min(len(text), start + data.draw(st.integers(0, 4)))
        text = text[:start] + data.draw(st.sampled_from(NASTY)) + text[after:]
    found: Recording | FileError
    try:
        found = read_recording(written(tmp_path / "r1.hea", text))
    except FileError as error:
        found = error
    assert isinstance(found, Recording) or str(found).isprintable()


@pytest.mark.parametrize("date", ["25/11/1899", "25/11/2200", "01/01/0001", "31/02/2026", "00/00/0000"])
def test_a_date_that_no_recording_has_is_left_out_and_told(tmp_path: Path, date: str) -> None:
    """Beside the years 1900 to 2199, or no date at all: the record is read without a start, and one sentence says so.

    A comment that tells the start makes the date of no account.

    Oracle: by construction; the years are the project's.
    """
    told: list[str] = []
    line = f"r1 1 100 {len(VALUES)} 10:30:15 {date}"
    found = read_recording(wfdb_record(tmp_path, VALUES, record_line=line), tell=told.append)
    assert found.circumstances.started_at is None
    assert len(found.time_s) == len(VALUES)
    assert len(told) == 1
    for words in (f"'10:30:15 {date}'", "left out", "1900 to 2199", "# started_at: "):
        assert words in told[0]
    comments = ["# species: cat", "# started_at: 2026-11-25T10:30:15"]
    header = wfdb_record(tmp_path, VALUES, record_line=line, comments=comments)
    assert read_recording(header, tell=told.append).circumstances.started_at == "2026-11-25T10:30:15"
    assert len(told) == 1


@pytest.mark.parametrize("date", ["01/01/1900", "31/12/2199"])
def test_the_first_and_the_last_date_are_taken(tmp_path: Path, date: str) -> None:
    """The ends of those years are a start like any other, and nothing is told.

    Oracle: by construction.
    """
    told: list[str] = []
    header = wfdb_record(tmp_path, VALUES, record_line=f"r1 1 100 {len(VALUES)} 10:30:15 {date}")
    day, month, year = date.split("/")
    found = read_recording(header, tell=told.append)
    assert (found.circumstances.started_at, told) == (f"{year}-{month}-{day}T10:30:15", [])


@pytest.mark.parametrize("asked", ["abp", "2"])
def test_a_channel_is_read_whole_whatever_its_pressure(tmp_path: Path, asked: str) -> None:
    """Of an artery's pressure beside a cuff's: every sample with its time, the two that are marked as not measured too.

    No species is asked for, and nothing is refused as no pressure of a cuff.

    Oracle: by construction, 100 samples a second in tenths of mmHg. Tolerance: rounding.
    """
    artery = [1200 + k % 7 for k in range(50)]
    artery[3] = artery[9] = FORMATS[16].invalid
    both = [value for pair in zip([900] * 50, artery, strict=True) for value in pair]
    (tmp_path / "r1.dat").write_bytes(packed_samples(both, 16))
    header = written(
        tmp_path / "r1.hea",
        "r1 2 100 50\n"
        f"r1.dat 16 10(0)/mmHg 16 0 900 {checksum([900] * 50)} 0 Cuff\n"
        f"r1.dat 16 10(0)/mmHg 16 0 {artery[0]} {checksum(artery)} 0 ABP\n",
    )
    found = read_channel(header, asked)
    assert (found.index, found.channel.label, found.channel.pressure_unit) == (1, "ABP", "mmHg")
    assert np.flatnonzero(found.invalid).tolist() == [3, 9]
    np.testing.assert_allclose(found.time_s, [k / 100.0 for k in range(50)])
    measured = [value / 10.0 for value in artery if value != FORMATS[16].invalid]
    np.testing.assert_allclose(found.pressure[~found.invalid], measured)
