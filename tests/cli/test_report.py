"""`quietlimb report`."""

from __future__ import annotations

from pathlib import Path

import pytest


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


@pytest.mark.parametrize("name", ["typed.csv", "page", "page.pdf.csv"])
def test_a_page_is_a_pdf_by_its_name_or_nothing_is_written(run, typed: Path, name: str) -> None:
    """Another ending is refused, and the readings stay what they were.

    Oracle: by construction; exit code 2 for wrong use is common practice.
    """
    before = {path.name: path.read_bytes() for path in typed.parent.iterdir()}
    result = run("report", typed, "--out", typed.parent / name)
    assert result.exit_code == 2
    assert "must end in .pdf" in result.stderr
    assert {path.name: path.read_bytes() for path in typed.parent.iterdir()} == before


def test_a_page_does_not_replace_its_own_input(run, typed: Path) -> None:
    """Readings in a file that is called .pdf are kept; an older page may be replaced.

    Oracle: by construction, the signature of a PDF file.
    """
    odd = typed.with_name("typed.csv.pdf")
    odd.write_bytes(typed.read_bytes())
    result = run("report", odd, "--out", odd)
    assert result.exit_code == 2
    assert "would be lost" in result.stderr
    assert odd.read_bytes() == typed.read_bytes()
    assert run("report", typed, "--out", odd.with_name("old.PDF")).exit_code == 0
    assert run("report", typed, "--out", odd.with_name("old.PDF")).exit_code == 0
    assert odd.with_name("old.PDF").read_bytes().startswith(b"%PDF-")
