"""`quietlimb report`."""

from __future__ import annotations

from pathlib import Path


def test_a_page_and_a_note_come_out(run, typed: Path, tmp_path: Path) -> None:
    """The PDF is written where asked, its name told on stderr, and the note is all of stdout.

    Oracle: by construction, the signature of a PDF file.
    """
    out = tmp_path / "page.pdf"
    result = run("report", typed, "--out", out, "--note", "--paper", "us-letter")
    assert result.exit_code == 0
    assert out.read_bytes().startswith(b"%PDF-")
    assert str(out) in result.stderr
    assert "Charted: systolic" in result.stdout


def test_a_page_that_cannot_be_written_is_one_line(run, typed: Path, tmp_path: Path) -> None:
    """A folder that does not exist is told, without traceback, and the exit code is 3.

    Oracle: by construction.
    """
    result = run("report", typed, "--out", tmp_path / "nowhere" / "page.pdf")
    assert result.exit_code == 3
    assert len(result.stderr.splitlines()) == 1
    assert "nowhere" in result.stderr


def test_the_page_needs_a_name(run, typed: Path) -> None:
    """Without --out the command is wrong use.

    Oracle: common practice, exit code 2 for wrong use.
    """
    assert run("report", typed).exit_code == 2
