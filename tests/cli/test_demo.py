"""The demo that the README names."""

from __future__ import annotations

from pathlib import Path

from click.testing import CliRunner

from quietlimb.cli.demo import SESSION, demo, invented_session
from quietlimb.exchange.session_folder import read_session_folder
from quietlimb.figures.invented import is_invented


def test_the_demo_runs_the_main_job_and_says_where_its_files_are(tmp_path: Path) -> None:
    """Every part of the main job is printed, the files are there, and everything says that it is invented.

    Oracle: by construction, the list of what the demo promises.
    """
    result = CliRunner().invoke(demo, ["--out", str(tmp_path / "out"), "--once"])
    assert result.exit_code == 0, result.output
    promised = ("keep", "discard", "weight", "Charted pressure", "Course: ", "Guideline average: ", "Risk category")
    for words in (*promised, "Next", "Cautions", "INVENTED", "The truth at the end", str(tmp_path / "out")):
        assert words in result.stdout
    assert (tmp_path / "out" / f"{SESSION}.pdf").read_bytes().startswith(b"%PDF-")
    assert (tmp_path / "out" / f"{SESSION}.png").read_bytes().startswith(b"\x89PNG")
    assert "INVENTED" in (tmp_path / "out" / f"{SESSION}.txt").read_text(encoding="utf-8")
    folder = read_session_folder(tmp_path / "out" / SESSION)
    assert len(folder.recordings) == 7
    assert all(is_invented(found.recording.circumstances) for found in folder.recordings)
    assert folder.differing == ()


def test_the_demo_spoils_one_reading_and_lets_the_pressure_fall() -> None:
    """One recording of the seven is lost to movement, and the pressure falls by 15 to 30 mmHg.

    Oracle: by construction, the simulator's own truth.
    """
    made = invented_session()
    assert int(made.spoiled.sum()) == 1
    assert 15.0 <= made.truth.fall_mmhg <= 30.0
