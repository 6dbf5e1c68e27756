"""No command writes over what it reads."""

from __future__ import annotations

from pathlib import Path

import click
import pytest

from quietlimb.cli.outputs import refuse_to_overwrite_inputs

BYTES = b"what was measured"


@pytest.fixture
def recording(tmp_path: Path) -> Path:
    """A recording in a folder of its own, with an older picture beside it."""
    folder = tmp_path / "visit"
    folder.mkdir()
    (folder / "older.png").write_bytes(b"picture")
    (folder / "r1.csv").write_bytes(BYTES)
    return folder / "r1.csv"


def test_an_input_is_refused_under_any_name(recording: Path, tmp_path: Path) -> None:
    """The file itself, a link to it, a roundabout path, and a file of a folder that is read.

    Oracle: by construction.
    """
    link = tmp_path / "link.png"
    link.hardlink_to(recording)
    roundabout = recording.parent / ".." / "visit" / "r1.csv"
    for output in (recording, link, roundabout):
        for given in (recording, recording.parent):
            with pytest.raises(click.UsageError, match="would be lost"):
                refuse_to_overwrite_inputs([output], [str(given)])


def test_new_files_and_older_pictures_may_be_written(recording: Path, tmp_path: Path) -> None:
    """Neither a new name nor an older picture inside the folder is an input; nor is a path that does not exist.

    Oracle: by construction; the second call shows that the same inputs can be refused.
    """
    given = [str(recording.parent), str(tmp_path / "nowhere"), "a\0b"]
    refuse_to_overwrite_inputs([tmp_path / "new.png", recording.parent / "older.png"], given)
    with pytest.raises(click.UsageError):
        refuse_to_overwrite_inputs([tmp_path / "new.png", recording], given)


@pytest.mark.parametrize("command", ["chart", "read"])
def test_a_picture_does_not_replace_the_file_it_shows(run, typed: Path, command: str) -> None:
    """A file of data whose name ends like a picture is kept, byte for byte.

    Oracle: by construction; exit code 2 for wrong use is common practice.
    """
    odd = typed.rename(typed.with_name("typed.csv.png"))
    before = odd.read_bytes()
    result = run(command, odd, "--picture", odd)
    assert result.exit_code == 2
    assert odd.read_bytes() == before
    assert result.stdout == ""


def test_a_numbered_picture_does_not_replace_an_input_either(run, typed: Path) -> None:
    """With two inputs the pictures are x-1 and x-2, and x-2 is one of the inputs.

    Oracle: by construction.
    """
    second = typed.with_name("x-2.png")
    second.write_bytes(typed.read_bytes())
    result = run("chart", typed, second, "--picture", typed.with_name("x.png"))
    assert result.exit_code == 2
    assert second.read_bytes() == typed.read_bytes()
    assert not typed.with_name("x-1.png").exists()
