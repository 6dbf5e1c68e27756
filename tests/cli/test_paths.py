"""Paths, folders and patterns on the command line."""

from __future__ import annotations

from pathlib import Path

import pytest

from quietlimb.cli.paths import PathError, matches, recording_files


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Two recordings, one packed, and two files that are none."""
    for name in ("r10.csv", "r9.csv.gz", "r9.truth.json", "photo.png"):
        (tmp_path / name).touch()
    (tmp_path / "older").mkdir()
    return tmp_path


def test_a_folder_stands_for_its_recordings_in_the_order_of_numbers(folder: Path) -> None:
    """r9 comes before r10; truth files, pictures and inner folders are left out.

    Oracle: by construction.
    """
    assert [Path(path).name for path in recording_files(str(folder))] == ["r9.csv.gz", "r10.csv"]


def test_a_pattern_is_expanded_without_a_shell(folder: Path) -> None:
    """A pattern that the shell left alone is expanded, in the order of numbers.

    Oracle: by construction; the Windows shell does not expand patterns.
    """
    assert [Path(path).name for path in matches(str(folder / "r*.c*"))] == ["r9.csv.gz", "r10.csv"]


def test_a_name_that_exists_is_no_pattern(folder: Path) -> None:
    """A file whose name looks like a pattern is that file.

    Oracle: by construction.
    """
    odd = folder / "r[9].csv"
    odd.touch()
    assert matches(str(odd)) == [str(odd)]


def test_a_pattern_without_matches_is_told(folder: Path) -> None:
    """A pattern that matches nothing is an error, not an empty batch.

    Oracle: by construction.
    """
    with pytest.raises(PathError, match="no file matches"):
        matches(str(folder / "q*.csv"))


def test_a_folder_without_recordings_is_told(folder: Path) -> None:
    """A folder that holds no recording is an error.

    Oracle: by construction.
    """
    with pytest.raises(PathError, match="holds no file"):
        list(recording_files(str(folder / "older")))
