"""`quietlimb simulate`."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from quietlimb import simulator
from quietlimb.cli.simulate import FAMILIES, SCENARIOS
from quietlimb.exchange.arterial_channel import read_arterial, read_two_channels
from quietlimb.exchange.recording_csv import read_recording
from quietlimb.figures.invented import is_invented
from quietlimb.simulator.recordings import simulate_recording


def test_a_recording_is_written_with_its_truth_beside_it(run, tmp_path: Path) -> None:
    """CSV and truth are those of the simulator for this seed, and the recording says that it is no patient's.

    Oracle: by construction, the simulator called directly; CSV keeps every digit, so the fingerprints are equal.
    """
    out = tmp_path / "one.csv.gz"
    result = run("simulate", "recording", out, "--seed", "9", "--species", "dog", "--systolic", "150")
    assert result.exit_code == 0
    assert result.stdout == f"{out}\n"
    made = simulate_recording(9, species="dog", systolic=150.0)
    told = read_recording(out)
    truth = json.loads((tmp_path / "one.truth.json").read_text(encoding="utf-8"))
    assert told.fingerprint == made.recording.fingerprint == truth["fingerprint"]
    assert truth["systolic"] == made.truth.systolic
    assert is_invented(told.circumstances)
    assert "not a patient" in truth["invented"]


def test_many_recordings_count_their_seeds_up(run, tmp_path: Path) -> None:
    """Three recordings in a folder are those of three seeds in a row.

    Oracle: by construction.
    """
    folder = tmp_path / "three"
    assert run("simulate", "recording", folder, "--count", "3", "--seed", "5").exit_code == 0
    told = [read_recording(folder / f"recording-{k}.csv").fingerprint for k in (1, 2, 3)]
    assert told == [simulate_recording(seed).recording.fingerprint for seed in (5, 6, 7)]


def test_a_session_is_written_with_its_truth_beside_the_folder(run, tmp_path: Path) -> None:
    """As many recordings as asked for, each with its truth, and the level that the pressure had reached.

    Oracle: by construction.
    """
    folder = tmp_path / "session"
    result = run("simulate", "session", folder, "--count", "4", "--course", "falling", "--spoiled", "1")
    assert result.exit_code == 0
    assert len(list(folder.glob("*.csv"))) == len(list(folder.glob("*.truth.json"))) == 4
    truth = json.loads((tmp_path / "session.truth.json").read_text(encoding="utf-8"))
    assert truth["course"]["course"] == "falling"
    assert sum(truth["spoiled"]) == 1


def test_a_folder_in_use_is_not_mixed_with_another_session(run, tmp_path: Path) -> None:
    """Recordings are not written among others.

    Oracle: by construction.
    """
    (tmp_path / "old.csv").touch()
    assert run("simulate", "session", tmp_path).exit_code == 2
    assert [path.name for path in tmp_path.iterdir()] == ["old.csv"]


@pytest.mark.parametrize(
    "arguments",
    [
        ("recording", "x.csv", "--count", "2"),
        ("recording", "x.csv", "--scenario", "earthquake"),
        ("recording", "x.csv", "--family", "garden hose"),
        ("recording", "x.csv", "--systolic", "nan"),
        ("recording", "x.csv", "--species", "dog", "--scenario", "purring"),
        ("session", "x", "--spoiled", "9"),
    ],
    ids=" ".join,
)
def test_impossible_wishes_are_wrong_use(run, arguments: tuple[str, ...], tmp_path: Path, monkeypatch) -> None:
    """What cannot be simulated is refused, and nothing is written.

    Oracle: common practice, exit code 2 for wrong use.
    """
    monkeypatch.chdir(tmp_path)
    assert run("simulate", *arguments).exit_code == 2
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("there", ["mine.csv", "mine.truth.json"])
def test_a_file_in_use_is_not_overwritten(run, tmp_path: Path, there: str) -> None:
    """Neither a recording nor the truth about another one is lost.

    Oracle: by construction; exit code 2 for wrong use is common practice.
    """
    (tmp_path / there).write_bytes(b"mine")
    result = run("simulate", "recording", tmp_path / "mine.csv")
    assert result.exit_code == 2
    assert f"{there} exists" in result.stderr
    assert [path.name for path in tmp_path.iterdir()] == [there]
    assert (tmp_path / there).read_bytes() == b"mine"


def test_the_truth_about_an_older_session_is_not_overwritten(run, tmp_path: Path) -> None:
    """It lies beside the folder and outlives it; another session of that name does not take its place.

    Oracle: by construction; exit code 2 for wrong use is common practice.
    """
    older = tmp_path / "mine.truth.json"
    older.write_bytes(b"mine")
    result = run("simulate", "session", tmp_path / "mine")
    assert result.exit_code == 2
    assert "mine.truth.json exists and would be lost; name a new file" in " ".join(result.stderr.split())
    assert [path.name for path in tmp_path.iterdir()] == ["mine.truth.json"]
    assert older.read_bytes() == b"mine"


@pytest.mark.parametrize("kind", ["recording", "session"])
def test_help_lists_what_can_be_chosen(run, kind: str) -> None:
    """The families and scenarios of the simulator, all of them and no others.

    Oracle: by construction, the simulator's own tables.
    """
    assert set(FAMILIES.values()) == set(simulator.FAMILIES)
    assert set(SCENARIOS) == set(simulator.SCENARIOS)
    told = "".join(run("simulate", kind, "--help").stdout.split())
    for name in (*FAMILIES, *SCENARIOS):
        assert name in told


def test_a_family_may_be_written_with_hyphen_or_blank(run, tmp_path: Path) -> None:
    """Both give the same recording, that of the simulator's family; a decimal comma is a point.

    Oracle: by construction, the simulator called directly.
    """
    for name, family in (("a.csv", "double-exponential"), ("b.csv", "double exponential")):
        assert run("simulate", "recording", tmp_path / name, "--family", family, "--systolic", "150,5").exit_code == 0
    made = simulate_recording(1, family="double exponential", systolic=150.5)
    told = [read_recording(tmp_path / name).fingerprint for name in ("a.csv", "b.csv")]
    assert told == [made.recording.fingerprint] * 2


def test_a_comparison_has_a_cuff_and_an_artery(run, tmp_path: Path) -> None:
    """Two-channel recordings with their truth in a folder, a flush beside it, nothing overwritten.

    Oracle: by construction, the engine's readers; the truth that is written beside each.
    """
    out = tmp_path / "study"
    result = run("simulate", "comparison", out, "--animals", "2", "--readings", "2", "--species", "cat", "--seed", "7")
    assert result.exit_code == 0, result.stderr
    files = sorted(out.glob("*.csv"))
    assert len(files) == 4
    animals = {read_two_channels(file).recording.circumstances.animal for file in files}
    assert animals == {"simulated cat 1", "simulated cat 2"}
    truth = json.loads(files[0].with_name(f"{files[0].stem}.truth.json").read_text(encoding="utf-8"))
    told = read_two_channels(files[0]).artery
    inside = told.between(*truth["deflation_s"])
    assert inside.pressure_mmhg.mean() == pytest.approx(truth["mean"], abs=1.5)
    assert read_arterial(tmp_path / "study.flush.csv").pressure_mmhg.max() > 290.0
    assert run("simulate", "comparison", out).exit_code == 2
