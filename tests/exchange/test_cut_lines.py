"""The lines of a recording's file that tell where it was cut off."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from quietlimb.engine.reading import read
from quietlimb.engine.recording import Cut, Recording
from quietlimb.exchange.circumstance_lines import CUT_KEYS, likely_key
from quietlimb.exchange.errors import FileError
from quietlimb.exchange.recording_csv import read_recording, write_recording
from quietlimb.simulator.recordings import simulate_recording

CUTS = (
    Cut(at="start", by="sensor", pressure_mmhg=121.73),
    Cut(at="end", by="capture", pressure_mmhg=95.0000001),
)


@pytest.fixture(scope="module")
def whole() -> Recording:
    """A simulated recording that nothing cut off."""
    return simulate_recording(983_101, species="dog", sampling_hz=100.0).recording


def lines(path: Path) -> list[str]:
    """What stands above the samples."""
    return [line for line in path.read_text().splitlines() if line.startswith("#")]


@pytest.mark.parametrize("name", ["cut.csv", "cut.csv.gz"])
def test_what_is_written_is_read_to_the_last_digit(whole: Recording, tmp_path: Path, name: str):
    """Either end and either cause; the fingerprint is that of the samples, as it was.

    Oracle: by construction.
    """
    write_recording(replace(whole, cuts=CUTS), tmp_path / name)
    found = read_recording(tmp_path / name)
    assert found.cuts == CUTS
    assert found.fingerprint == whole.fingerprint
    assert {one.code for one in read(found).findings} >= {"cut-above", "capture-cut"}


def test_a_file_without_the_lines_reads_as_before(whole: Recording, tmp_path: Path):
    """No line is written where nothing was cut off, and none is missed.

    Oracle: by construction.
    """
    write_recording(whole, tmp_path / "whole.csv")
    assert not [line for line in lines(tmp_path / "whole.csv") if "cut" in line]
    found = read_recording(tmp_path / "whole.csv")
    assert found.cuts == ()
    assert not {one.code for one in read(found).findings} & {"cut-above", "cut-below", "capture-cut"}


def test_an_older_reader_takes_them_for_remarks_of_ones_own():
    """A key that no circumstance resembles was always left out, so that older versions read these files.

    Oracle: by construction: the rule of `likely_key`, which those versions have.
    """
    assert [likely_key(key) for key in CUT_KEYS] == [None] * len(CUT_KEYS)


@pytest.mark.parametrize(
    ("line", "code"),
    [
        ("# sensor_cut_end_mmhg: high", "not-a-number"),
        ("# sensor_cut_end_mmhg: 900", "impossible-circumstance"),
        ("# sensor_cut_end_mmhg: 95\n# capture_cut_end_mmhg: 95", "told-twice"),
    ],
)
def test_a_line_that_cannot_be_is_told_with_its_number(whole: Recording, tmp_path: Path, line: str, code: str):
    """What, where and what to do; nothing is half read.

    Oracle: by construction.
    """
    write_recording(whole, tmp_path / "whole.csv")
    text = (tmp_path / "whole.csv").read_text()
    (tmp_path / "wrong.csv").write_text(f"{line}\n{text}")
    with pytest.raises(FileError) as raised:
        read_recording(tmp_path / "wrong.csv")
    assert raised.value.code == code
    assert raised.value.line == line.count("\n") + 1


def test_an_empty_value_is_not_told(whole: Recording, tmp_path: Path):
    """As with every circumstance.

    Oracle: by construction.
    """
    write_recording(whole, tmp_path / "whole.csv")
    (tmp_path / "empty.csv").write_text("# sensor_cut_end_mmhg:\n" + (tmp_path / "whole.csv").read_text())
    assert read_recording(tmp_path / "empty.csv").cuts == ()
