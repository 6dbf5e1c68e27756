"""Whatever is in a file, the readers answer with a result or a FileError, soon."""

from __future__ import annotations

import gzip
import random
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from agreement.invented_rows import invented_rows
from exchange.invented_files import CAT, deflation_rows, recording_text, session_text
from quietlimb.agreement.synchrony import TwoChannels
from quietlimb.agreement.window_rule import Rule
from quietlimb.engine.recording import Recording
from quietlimb.engine.session.series import Series
from quietlimb.exchange.arterial_channel import read_two_channels
from quietlimb.exchange.conversion_json import ConversionFile, read_conversion
from quietlimb.exchange.errors import FileError
from quietlimb.exchange.pairs_csv import PairsFile, pairs_text, read_pairs
from quietlimb.exchange.plan_json import PlanFile, read_plan
from quietlimb.exchange.readings_csv import is_readings_file, read_readings
from quietlimb.exchange.recording_csv import read_recording
from quietlimb.exchange.session_folder import SessionFolder, read_session_folder

# The deadline is the oracle for "does not hang": such small files take a few milliseconds.
HOSTILE = settings(max_examples=150, deadline=2000, suppress_health_check=[HealthCheck.function_scoped_fixture])

SESSION = session_text(
    ["0,162,128,104,180", "1.5,158,,,", "3,155,122,101,176"],
    "minute,systolic_mmHg,mean_mmHg,diastolic_mmHg,pulse_rate_per_min",
    f"{CAT}\n# cuff_width_cm: 2.5\n# started_at: 2026-11-25T10:30:00+01:00",
)
SEMICOLONS = recording_text(
    [row.replace(",", ";").replace(".", ",") for row in deflation_rows()], header="time_s;cuff_pressure_kPa"
)
PAIRS = pairs_text(replace(invented_rows(1, animals=3, failed=1), rule=Rule(), taken_from="2031-02-04"))
TWO = recording_text(
    [f"{row},{90 + k % 30}" for k, row in enumerate(deflation_rows())],
    header="time_s,cuff_pressure_mmHg,arterial_pressure_mmHg",
)
VALID = {"recording": recording_text(), "semicolons": SEMICOLONS, "session": SESSION, "pairs": PAIRS, "two": TWO}

# What tends to break readers of numbers, dates and tables.
SIGNS = [
    "",
    ",",
    ";",
    "\t",
    "\n",
    "\r",
    '"',
    '""',
    "#",
    "# ",
    "-",
    "+",
    ".",
    "{}",
    "%s",
    "=cmd()",
    "9" * 400,
    "e" * 5000,
]
NUMBERS = ["nan", "inf", "-inf", "1e308", "-1e308", "1e309", "1e-400", "1_0", "0x1", "1,5", "1.5", "\u0661", "\u2212"]
INVISIBLE = ["\0", "\x0c", "\x1c", "\x85", "\u2028", "\u00a0", "\ufeff"]
NAMES = ["minute", "systolic_kPa", "time_s", "cuff_pressure_mmHg", "\U0001f408"]
LINES = ["# species: dog\n", "# started_at: 9999-12-31T23:59Z\n", "# cuff_width_cm: 1e999\n", '"# animal: a,b",\n']
NASTY = st.sampled_from([*SIGNS, *NUMBERS, *INVISIBLE, *NAMES, *LINES])


def outcome(read: Callable[[Path], object], path: Path) -> object:
    """What a reader gives: its result, or the FileError."""
    try:
        return read(path)
    except FileError as error:
        return error


def all_readers(path: Path) -> None:
    """Every reader gives what it promises, or a FileError that fits on one line."""
    for read, promised in (
        (read_recording, Recording),
        (read_readings, Series),
        (is_readings_file, bool),
        (lambda file: read_session_folder(file.parent), SessionFolder),
        (read_pairs, PairsFile),
        (read_two_channels, TwoChannels),
        (read_plan, PlanFile),
        (read_conversion, ConversionFile),
    ):
        found = outcome(read, path)
        assert isinstance(found, promised | FileError)
        if isinstance(found, FileError):
            assert str(found).isprintable()
            assert found.code
            assert found.remedy


@HOSTILE
@given(data=st.binary(max_size=4000), packed=st.booleans())
@example(data=b"\x1f\x8b", packed=False)
@example(data=b"\xef\xbb\xbf", packed=False)
@example(data=b"\xff\xfet\0i\0", packed=True)
@example(data=b"\n" * 4000, packed=False)
@example(data=b"#" * 4000, packed=False)
def test_arbitrary_bytes(tmp_path: Path, data: bytes, packed: bool) -> None:
    """Any bytes, packed or not, under a recording's name.

    Oracle: by construction.
    """
    path = tmp_path / "a.csv"
    path.write_bytes(gzip.compress(data) if packed else data)
    all_readers(path)


@HOSTILE
@given(
    text=st.text(max_size=2000), above=st.sampled_from(["", CAT + "\n", "# species: dog\ntime_s,cuff_pressure_mmHg\n"])
)
def test_arbitrary_text(tmp_path: Path, text: str, above: str) -> None:
    """Any letters, after a beginning that looks right.

    Oracle: by construction. Lone surrogates are written as the bytes that they would be.
    """
    path = tmp_path / "a.csv"
    path.write_bytes((above + text).encode("utf-8", "surrogatepass"))
    all_readers(path)


@HOSTILE
@given(
    name=st.sampled_from(sorted(VALID)),
    places=st.lists(st.tuples(st.floats(0, 1), st.integers(0, 12), NASTY), min_size=1, max_size=6),
    packed=st.booleans(),
)
def test_valid_files_with_pieces_replaced(
    tmp_path: Path, name: str, places: list[tuple[float, int, str]], packed: bool
) -> None:
    """A good file in which a few pieces were exchanged for nasty ones.

    Oracle: by construction.
    """
    text = VALID[name]
    for share, length, piece in places:
        at = int(share * len(text))
        text = text[:at] + piece + text[at + length :]
    path = tmp_path / "a.csv"
    data = text.encode()
    path.write_bytes(gzip.compress(data) if packed else data)
    all_readers(path)


@HOSTILE
@given(
    name=st.sampled_from(sorted(VALID)),
    seed=st.integers(0, 2**32 - 1),
    flips=st.integers(1, 8),
    cut=st.floats(0, 1),
    packed=st.booleans(),
)
def test_valid_files_with_bytes_altered_or_cut(
    tmp_path: Path, name: str, seed: int, flips: int, cut: float, packed: bool
) -> None:
    """Bits flipped by a bad disk, and copies that ended early, inside the gzip too.

    Oracle: by construction.
    """
    data = bytearray(gzip.compress(VALID[name].encode()) if packed else VALID[name].encode())
    chance = random.Random(seed)
    for _ in range(flips):
        data[chance.randrange(len(data))] ^= 1 << chance.randrange(8)
    path = tmp_path / "a.csv"
    path.write_bytes(bytes(data[: max(1, int(cut * len(data) * 2))]))
    all_readers(path)


@HOSTILE
@given(cells=st.lists(st.tuples(NASTY | st.floats().map(repr), NASTY | st.floats().map(repr)), max_size=30))
def test_cells_of_any_kind(tmp_path: Path, cells: list[tuple[str, str]]) -> None:
    """Every float that Python can print, and worse, as time and pressure, or minute and systolic.

    Oracle: by construction.
    """
    rows = [f"{a},{b}" for a, b in cells]
    for header in ("time_s,cuff_pressure_mmHg", "time_ms,cuff_pressure_kPa", "minute,systolic_kPa"):
        path = tmp_path / "a.csv"
        path.write_bytes(recording_text(rows, header=header).encode())
        all_readers(path)


@pytest.mark.parametrize("depth", [1, 2, 5, 200])
def test_gzip_within_gzip(tmp_path: Path, depth: int) -> None:
    """One layer of gzip is read; what hides deeper is refused, not unpacked.

    Oracle: by construction.
    """
    data = recording_text().encode()
    for _ in range(depth):
        data = gzip.compress(data, compresslevel=1)
    path = tmp_path / "a.csv"
    path.write_bytes(data)
    if depth == 1:
        assert read_recording(path).time_s.size == 400
    else:
        with pytest.raises(FileError):
            read_recording(path)


def test_a_very_wide_table_is_refused(tmp_path: Path) -> None:
    """Columns without end are a line without end.

    Oracle: by construction.
    """
    path = tmp_path / "a.csv"
    path.write_text(recording_text(header="time_s,cuff_pressure_mmHg" + ",x" * 10_000))
    with pytest.raises(FileError, match="4096"):
        read_recording(path)
