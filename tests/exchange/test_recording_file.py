"""Recordings by the ending of the file's name."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

import quietlimb as ql
from exchange.invented_channels import edf_file, falling, tenths, wfdb_record
from exchange.invented_files import recording_text, refusal, written
from quietlimb.engine.recording import Recording
from quietlimb.exchange import recording_csv, recording_edf, recording_wfdb
from quietlimb.exchange.recording_file import RECORDING_NAMES, holds_channels, read_recording
from quietlimb.exchange.session_folder import read_session_folder


@pytest.fixture
def three(tmp_path: Path) -> Path:
    """A folder with a CSV, an EDF+ and a WFDB recording of one deflation, in tenths of mmHg."""
    rows = [f"{k / 100:.2f},{value / 10:.1f}" for k, value in enumerate(tenths(falling()))]
    written(tmp_path / "r2.csv", recording_text(rows))
    edf_file(tmp_path / "r10.EDF")
    wfdb_record(tmp_path, tenths(falling()))
    return tmp_path


def same(one: Recording, other: Recording) -> bool:
    """Whether two recordings hold the same numbers."""
    return one.fingerprint == other.fingerprint and one.circumstances == other.circumstances


def test_the_ending_chooses_the_reader(three: Path) -> None:
    """Each file is read as its own reader reads it, capitals or not, and so by the public name.

    Oracle: by construction, the readers.
    """
    assert same(read_recording(three / "r2.csv"), recording_csv.read_recording(three / "r2.csv"))
    assert same(read_recording(three / "r10.EDF"), recording_edf.read_recording(three / "r10.EDF"))
    assert same(ql.load_recording(three / "r1.hea"), recording_wfdb.read_recording(three / "r1.hea"))
    assert same(read_recording(three / "r1.hea"), read_recording(three / "r2.csv"))
    assert [holds_channels(three / name) for name in ("r2.csv", "r10.EDF", "r1.hea")] == [False, True, True]


def test_options_reach_every_reader(three: Path) -> None:
    """Channel, species and defaults are passed on; a CSV file has no channels and takes no notice.

    Oracle: by construction.
    """
    for name in ("r2.csv", "r10.EDF", "r1.hea"):
        found = read_recording(three / name, channel="1", species="cat", defaults={"site": "tail"})
        assert (found.circumstances.species, found.circumstances.site) == ("cat", "tail")
    for name in ("r10.EDF", "r1.hea"):
        refusal(lambda p: read_recording(p, channel="ECG"), three / name, "channel-missing", None, "Cuff pressure")


def test_the_signal_file_leads_to_its_header(three: Path) -> None:
    """Who names the file of samples is told to name the header.

    Oracle: by construction.
    """
    refusal(read_recording, three / "r1.dat", "signal-file", None, "not their scale", "ends in .hea")


def test_a_folder_may_mix_the_kinds(three: Path) -> None:
    """All three are found and read, in the order of their names; the file of samples is not a recording of its own.

    Oracle: by construction.
    """
    found = read_session_folder(three)
    assert [each.path.name for each in found.recordings] == ["r1.hea", "r2.csv", "r10.EDF"]
    assert (found.failures, found.differing) == ((), ())
    refused = read_session_folder(three, channel="ABP")
    assert [each.path.name for each in refused.recordings] == ["r2.csv"]
    assert {error.code for error in refused.failures} == {"channel-missing"}


def test_a_folder_names_every_ending(tmp_path: Path) -> None:
    """A folder without recordings says what it looked for.

    Oracle: by construction.
    """
    refusal(read_session_folder, tmp_path, "no-recordings", None, *RECORDING_NAMES)


def test_starts_in_headers_order_a_session(tmp_path: Path) -> None:
    """The start that a header tells gives order and minutes, as a line of a CSV file would.

    Oracle: by construction.
    """
    for name, clock in (("r1", "10:31:30"), ("r2", "10:30:00")):
        record_line = f"{name} 1 100 800 {clock} 25/11/2026"
        wfdb_record(tmp_path, tenths(falling()), name=name, record_line=record_line)
    found = read_session_folder(tmp_path)
    assert [(each.path.name, each.minute) for each in found.recordings] == [("r2.hea", 0.0), ("r1.hea", 1.5)]
    assert not found.minutes_assumed


def test_a_packed_or_renamed_file_is_told(three: Path) -> None:
    """An EDF file under the name of a CSV file, and the other way round, is refused, not misread.

    Oracle: by construction.
    """
    shutil.copy(three / "r10.EDF", three / "x.csv")
    shutil.copy(three / "r2.csv", three / "y.edf")
    shutil.copy(three / "r2.csv", three / "z.hea")
    assert read_session_folder(three).failures
    with pytest.raises(ql.QuietlimbError):
        read_recording(three / "x.csv")
    refusal(read_recording, three / "y.edf", "not-edf", None, "does not begin as an EDF file does")
    refusal(read_recording, three / "z.hea", "header-broken", 2, "WFDB header")
