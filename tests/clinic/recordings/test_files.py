"""A recording as bytes to keep and files to read."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from quietlimb.clinic.recordings.files import bare, packed, recording_of, unpacked
from quietlimb.clinic.recordings.limits import MOST_BYTES, MOST_FILES
from quietlimb.clinic.sessions.entry import EntryError
from quietlimb.exchange.errors import FileError

HEADER = b"visit 1 100 4\nvisit.dat 16 100/mmHg 16 0 0 0 0 cuff\n"


def test_one_file_is_kept_as_it_came() -> None:
    """Name and bytes are the file's. Oracle: by construction."""
    assert packed({"r1.csv": b"x"}) == ("r1.csv", b"x")


def test_the_same_files_are_the_same_bytes_in_whatever_order(tmp_path: Path) -> None:
    """A header with its signals becomes one archive that depends on names and bytes alone, and comes out as it went in.

    Oracle: by construction.
    """
    files = {"visit.hea": HEADER, "visit.dat": bytes(range(200))}
    name, content = packed(files)
    assert name == "visit.hea.zip"
    assert packed(dict(reversed(files.items()))) == (name, content)
    with unpacked(name, content) as main:
        assert main.name == "visit.hea"
        assert {path.name: path.read_bytes() for path in main.parent.iterdir()} == files
    assert not main.parent.exists()


@pytest.mark.parametrize(
    ("files", "code"),
    [
        ({}, "no-file"),
        ({"r.csv": b"x" * (MOST_BYTES + 1)}, "too-much"),
        ({f"{k}.dat": b"" for k in range(MOST_FILES + 1)}, "too-much"),
        ({"r1.csv": b"x", "r2.csv": b"x"}, "not-one-recording"),
        ({"visit.dat": b"x"}, "no-recording"),
        ({"setup.exe": b"x"}, "no-recording"),
        ({"../r.csv": b"x"}, "bad-name"),
        ({"..": b"x"}, "bad-name"),
        ({"": b"x"}, "bad-name"),
        ({"r\0.csv": b"x"}, "bad-name"),
        ({"x" * 200 + ".csv": b"x"}, "bad-name"),
    ],
)
def test_what_is_not_one_recording_is_refused(files: dict[str, bytes], code: str) -> None:
    """Nothing, too much, two at once, signals alone, and names that lead elsewhere. Oracle: by construction."""
    with pytest.raises(EntryError) as caught:
        packed(files)
    assert caught.value.code == code


def test_a_name_is_bare_by_the_rules_of_either_system() -> None:
    """No folder is left of it. Oracle: by construction."""
    assert [bare(name) for name in ("a/b.csv", r"c:\a\b.csv", "b.csv", r"..\..", "/")] == ["b.csv"] * 3 + ["..", ""]


@pytest.mark.parametrize("seed", range(40))
def test_whatever_the_bytes_only_an_error_of_ours_comes(seed: int) -> None:
    """Random bytes and cut or changed files of every kind give a FileError that shows no folder of this machine.

    Oracle: by construction, the pieces are made here; the seed is the test's number.
    """
    chance = random.Random(seed)
    text = b"# species: cat\ntime_s,cuff_pressure_mmHg\n" + b"".join(b"%d,%d\n" % (k, 200 - k) for k in range(50))
    content = bytearray(chance.choice([text, HEADER, chance.randbytes(500), b"0       " + chance.randbytes(600)]))
    for _ in range(chance.randrange(1, 20)):
        content[chance.randrange(len(content))] = chance.randrange(256)
    name = chance.choice(["r.csv", "r.csv.gz", "r.edf", "r.hea"])
    with pytest.raises(FileError) as caught:
        recording_of(name, bytes(content), "cat")
    assert "quietlimb-recording-" not in str(caught.value)
