"""`quietlimb read`."""

from __future__ import annotations

import json
import shutil
import subprocess
from dataclasses import replace
from pathlib import Path

import jsonschema
import pytest
from click.testing import Result
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from quietlimb.engine.circumstances import Circumstances
from quietlimb.engine.reading import METHODS, Method
from quietlimb.engine.reading import read as read_pressures
from quietlimb.exchange.recording_csv import read_recording, write_recording
from quietlimb.exchange.schemas import __path__ as schema_folders
from quietlimb.figures.invented import INVENTED_WORDS
from quietlimb.simulator.recordings import simulate_recording

SCHEMA = json.loads((Path(schema_folders[0]) / "read.json").read_text(encoding="utf-8"))


def objects(result: Result) -> list[dict[str, object]]:
    """The JSON lines of a result, each valid by the committed schema."""
    told = [json.loads(line) for line in result.stdout.splitlines()]
    for each in told:
        jsonschema.validate(each, SCHEMA)
    return told


def test_a_folder_gives_one_object_a_line_in_order(run, recordings: Path) -> None:
    """Each recording of a folder becomes one object with the path as it was found and the engine's own values.

    Oracle: by construction, the engine called directly on the same file; values are rounded to 3 decimals in JSON.
    """
    result = run("read", recordings, "--json")
    assert result.exit_code == 0
    assert result.stderr == ""
    told = objects(result)
    assert [Path(str(each["recording"])).name for each in told] == ["r2.csv", "r10.csv", "r11.csv"]
    reading = read_pressures(read_recording(recordings / "r2.csv"))
    assert reading.systolic is not None
    assert told[0]["systolic"]["value"] == pytest.approx(reading.systolic.value, abs=5.1e-4)
    assert told[2]["systolic"] is None
    assert told[2]["verdict"] == "discard"


@pytest.mark.parametrize("method", METHODS)
def test_the_method_is_passed_on(run, recordings: Path, method: Method) -> None:
    """Every method of the engine can be asked for, with a hyphen for the blank, and is the one that reads.

    Oracle: by construction.
    """
    told = objects(run("read", recordings / "r2.csv", "--json", "--method", method.replace(" ", "-")))
    assert told[0]["method"] == method


def test_text_names_verdict_values_and_findings(run, recordings: Path) -> None:
    """The text tells verdict, the three pressures with interval, and each finding, in lines of at most 80 columns.

    Oracle: by construction.
    """
    result = run("read", recordings / "r2.csv", recordings / "r11.csv")
    assert result.exit_code == 0
    assert "r11.csv (INVENTED - not a patient): discard (artery fit)" in result.stdout
    assert "95 % interval" in result.stdout
    assert "- spoils: " in result.stdout
    longest = max(len(line) for line in result.stdout.splitlines() if ".csv" not in line)
    assert longest <= 80


def test_a_bad_file_is_one_line_and_the_others_are_still_read(run, recordings: Path, tmp_path: Path) -> None:
    """A broken file, a missing one and a pattern without matches give a line each on stderr and exit code 3.

    Oracle: by construction; the line of the file that is at fault was put there.
    """
    bad = tmp_path / "bad.csv"
    bad.write_text("# species: cat\ntime_s,cuff_pressure_mmHg\n0,100\n0.01,x\n", encoding="utf-8")
    result = run("read", bad, recordings / "r2.csv", tmp_path / "none.csv", tmp_path / "q*.csv", "--json")
    assert result.exit_code == 3
    lines = result.stderr.splitlines()
    assert len(lines) == 3
    assert any(line.startswith(f"{bad}, line 4: ") for line in lines)
    assert "Traceback" not in result.output
    told = objects(result)
    assert sum("error" in each for each in told) == 3
    assert sum(each.get("verdict") is not None for each in told) == 1


@pytest.mark.parametrize(
    "arguments",
    [(), ("--species", "cow", "x.csv"), ("--method", "guess", "x.csv"), ("--picture", "x.gif", "x.csv")],
    ids=["no path", "species", "method", "picture"],
)
def test_wrong_use_exits_with_2(run, arguments: tuple[str, ...]) -> None:
    """Wrong options and missing arguments are refused before anything is read.

    Oracle: common practice, exit code 2 for wrong use.
    """
    result = run("read", *arguments)
    assert result.exit_code == 2
    assert result.stdout == ""


def test_pictures_of_several_recordings_are_numbered(run, recordings: Path, tmp_path: Path) -> None:
    """One picture a recording; the names are told on stderr.

    Oracle: by construction.
    """
    result = run("read", recordings / "r2.csv", recordings / "r10.csv", "--picture", tmp_path / "p.svg")
    assert result.exit_code == 0
    assert sorted(path.name for path in tmp_path.iterdir()) == ["p-1.svg", "p-2.svg"]
    assert "<svg" in (tmp_path / "p-1.svg").read_text(encoding="utf-8")[:200]
    assert "p-2.svg" in result.stderr


PATIENT = replace(
    simulate_recording(3, species="cat", systolic=150.0, diastolic=95.0).recording,
    circumstances=Circumstances(species="cat", animal="Bracken", instrument="bench sensor"),
)


@pytest.mark.parametrize(
    ("about", "extra", "invented"),
    [
        ({}, {}, False),
        ({"instrument": "simulator"}, {}, True),
        ({"animal": "invented: Pebble"}, {}, True),
        ({"animal": "Simulated cat 4"}, {}, True),
        ({}, {"invented": "made by the simulator, not a patient"}, True),
    ],
)
def test_what_is_no_patients_says_so_wherever_it_is_shown(
    run, tmp_path: Path, about: dict[str, str], extra: dict[str, str], invented: bool
) -> None:
    """By instrument, by the animal's name or by a line of the file: text, JSON, picture and PDF bear the mark, and
    those of a patient do not.

    Oracle: by construction: the same samples each time, only what is told of them differs. The text of the PDF is read
    by poppler's pdftotext, where that is installed.
    """
    path = tmp_path / "one.csv"
    write_recording(replace(PATIENT, circumstances=replace(PATIENT.circumstances, **about)), path, extra)
    told = run("read", path, "--picture", tmp_path / "one.svg")
    assert told.exit_code == 0, told.output
    first = told.stdout.splitlines()[0]
    assert first == f"{path}{' (INVENTED - not a patient)' if invented else ''}: keep (artery fit)"
    (found,) = objects(run("read", path, "--json", "--picture", tmp_path / "one.pdf"))
    assert found["invented"] is invented
    assert (INVENTED_WORDS in (tmp_path / "one.svg").read_text(encoding="utf-8")) is invented
    if shutil.which("pdftotext"):
        command = ["pdftotext", tmp_path / "one.pdf", "-"]
        printed = subprocess.run(command, capture_output=True, text=True, check=True).stdout
        assert (INVENTED_WORDS in " ".join(printed.split())) is invented


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(content=st.binary(max_size=400), table=st.booleans())
def test_any_bytes_cost_one_line_at_most(run, tmp_path: Path, content: bytes, table: bool) -> None:
    """Whatever a file holds, with or without a proper header on top, it is read or costs one line and exit code 3.

    Oracle: by construction; 400 bytes hold no recording of 3 s, so nothing is read.
    """
    path = tmp_path / "any.csv"
    path.write_bytes((b"# species: cat\ntime_s,cuff_pressure_mmHg\n" if table else b"") + content)
    result = run("read", path)
    assert result.exit_code == 3
    assert result.stdout == ""
    assert len(result.stderr.splitlines()) == 1


def test_the_species_can_be_told_as_an_option(run, recordings: Path, tmp_path: Path) -> None:
    """A file without species fails with a remedy, and is read with `--species`.

    Oracle: by construction.
    """
    text = (recordings / "r2.csv").read_text(encoding="utf-8")
    silent = tmp_path / "silent.csv"
    silent.write_text(text.replace("# species: cat\n", ""), encoding="utf-8")
    refused = run("read", silent)
    assert refused.exit_code == 3
    assert "species" in refused.stderr
    assert run("read", silent, "--species", "cat").exit_code == 0
