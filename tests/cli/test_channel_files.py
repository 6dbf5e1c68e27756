"""EDF+ and WFDB files on the command line."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

import quietlimb as ql
from cli.conftest import Run
from exchange.invented_channels import edf_file, wfdb_record
from quietlimb.engine.circumstances import Circumstances
from quietlimb.engine.recording import recording
from quietlimb.exchange.recording_csv import read_recording, write_recording

RATE_HZ = 100


@pytest.fixture
def channels(recordings: Path, tmp_path: Path) -> Path:
    """The simulated deflation `r2.csv`, cut to whole seconds at 100 a second: as CSV, EDF+ and WFDB."""
    simulated = read_recording(recordings / "r2.csv")
    seconds = int(simulated.time_s[-1] - simulated.time_s[0])
    time_s = np.arange(seconds * RATE_HZ) / RATE_HZ
    pressure = np.interp(simulated.time_s[0] + time_s, simulated.time_s, simulated.cuff_pressure_mmhg)
    write_recording(recording(time_s, pressure, Circumstances(species="cat")), tmp_path / "r0.csv")
    edf_file(tmp_path / "r1.edf", [("Cuff pressure", "mmHg", pressure), ("ABP", "mmHg", np.full(pressure.size, 90.0))])
    wfdb_record(tmp_path, [round(100 * float(value)) for value in pressure], gain="100(0)/mmHg", name="r2")
    return tmp_path


def test_read_takes_them_from_a_folder_and_by_name(run: Run, channels: Path) -> None:
    """A folder stands for the EDF file and the header too; what is told of each is what the library reads from it.

    Oracle: by construction, the library; that the files hold the pressures of the CSV file, within half of their steps
    of 0.007 and 0.01 mmHg. Tolerance of the told values: half of their last digit.
    """
    result = run("read", channels, "--json")
    assert result.exit_code == 0, result.output
    told = [json.loads(line) for line in result.stdout.splitlines()]
    assert [Path(each["recording"]).name for each in told] == ["r0.csv", "r1.edf", "r2.hea"]
    as_csv = ql.load_recording(told[0]["recording"])
    for each in told:
        found = ql.load_recording(each["recording"])
        np.testing.assert_allclose(found.cuff_pressure_mmhg, as_csv.cuff_pressure_mmhg, atol=0.00501)
        systolic = ql.read(found).systolic
        assert systolic is not None
        assert each["systolic"]["value"] == pytest.approx(systolic.value, abs=0.0005)
    by_pattern = run("read", channels / "r*.hea")
    assert by_pattern.exit_code == 0
    assert "r2.hea: keep" in by_pattern.stdout


def test_chart_and_report_take_them(run: Run, channels: Path, tmp_path: Path) -> None:
    """A folder of all three is a session of three readings, and a single file one of one.

    Oracle: by construction.
    """
    for path, readings in ((channels, 3), (channels / "r1.edf", 1), (channels / "r2.hea", 1)):
        result = run("chart", path, "--json")
        assert result.exit_code == 0, result.output
        assert len(json.loads(result.stdout)["readings"]) == readings
    result = run("report", channels, "--channel", "cuff pressure", "--out", tmp_path / "page.pdf")
    assert result.exit_code == 0, result.output
    assert (tmp_path / "page.pdf").read_bytes().startswith(b"%PDF")


def test_a_channel_can_be_named(run: Run, channels: Path) -> None:
    """--channel reads another channel, here one that is flat; one that is not there costs a line and exit code 3.

    Oracle: by construction.
    """
    flat = run("read", channels / "r1.edf", "--channel", "ABP")
    assert flat.exit_code == 3
    assert "channel 2 'ABP'" in flat.stderr
    assert "stays within" in flat.stderr
    missing = run("read", channels / "r1.edf", "--channel", "P9")
    assert missing.exit_code == 3
    assert missing.stderr.count("\n") == 1
    assert "1 'Cuff pressure' in 'mmHg', 2 'ABP' in 'mmHg'" in missing.stderr


def test_a_channel_of_a_table_is_told_to_be_unused(run: Run, channels: Path, typed: Path) -> None:
    """`--channel` with a CSV file: one line on stderr for the file, in a folder one for all; the result is the same.

    Oracle: by construction.
    """
    table = channels / "r0.csv"
    plain, asked = run("read", table), run("read", table, "--channel", "1")
    assert (asked.exit_code, asked.stdout) == (0, plain.stdout)
    assert plain.stderr == ""
    assert asked.stderr.startswith(f"{table}: --channel is not used")
    display = typed.rename(typed.with_suffix(".txt"))  # out of the folder's recordings
    for path in (table, display):
        assert f"{path}: --channel is not used" in run("chart", path, "--channel", "1").stderr
    assert "--channel" not in run("read", channels / "r1.edf", "--channel", "1").stderr
    folder = run("chart", channels, "--channel", "1")
    assert folder.exit_code == 0, folder.output
    assert f"{channels}: r0.csv: --channel is not used" in folder.stderr
    (channels / "r3.csv").write_bytes(table.read_bytes())
    assert f"{channels}: r0.csv and 1 more: --channel is not used" in run("chart", channels, "--channel", "1").stderr


def test_an_impossible_date_of_a_header_is_told(run: Run, tmp_path: Path) -> None:
    """A record of the year 1 is read, and stderr says that its date was left out.

    Oracle: by construction.
    """
    wfdb_record(tmp_path, [2000 - k for k in range(1600)], record_line="r1 1 100 1600 10:30:00 01/01/0001")
    for command, path in (("read", tmp_path / "r1.hea"), ("chart", tmp_path)):
        result = run(command, path)
        assert result.exit_code == 0, result.output
        assert "'10:30:00 01/01/0001', are left out" in result.stderr
