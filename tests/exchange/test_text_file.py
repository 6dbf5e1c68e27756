"""Reading text within bounds."""

from __future__ import annotations

import gzip
import os
import sys
import time
import tracemalloc
import zlib
from pathlib import Path

import pytest

from exchange.invented_files import refusal, written
from quietlimb.exchange import text_file
from quietlimb.exchange.text_file import MAX_LINE_BYTES, MAX_LINES, MAX_TEXT_BYTES, read_text


@pytest.mark.parametrize("packed", [False, True])
@pytest.mark.parametrize("mark", ["", "\ufeff"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_every_common_form_gives_the_same_text(tmp_path: Path, end: str, mark: str, packed: bool) -> None:
    """Line ends, byte order mark and gzip leave no trace; gzip is told by its first bytes, not by the name.

    Oracle: by construction.
    """
    path = written(tmp_path / "a.csv", (mark + end.join(["# animal: Möhre", "b", ""])).encode(), packed=packed)
    assert read_text(path) == "# animal: Möhre\nb\n"


def test_joined_and_padded_gzip_is_read_whole(tmp_path: Path) -> None:
    """Gzip parts end to end are one text, zeros after them are padding.

    Oracle: published. RFC 1952, section 2.2: a gzip file is a series of members. The padding: common practice.
    """
    data = gzip.compress(b"first\n") + gzip.compress(b"second\n") + b"\0" * 512
    assert read_text(written(tmp_path / "a.gz", data)) == "first\nsecond\n"


def test_zero_bytes_are_refused(tmp_path: Path) -> None:
    """An empty file is named as such, also when packed.

    Oracle: by construction.
    """
    refusal(read_text, written(tmp_path / "a.csv", b""), "empty", None, "zero bytes", "export")
    refusal(read_text, written(tmp_path / "b.csv", b"", packed=True), "empty", None, "zero bytes")


@pytest.mark.parametrize("byte", [b"\0", b"\x01", b"\x1b", b"\x7f"])
def test_a_control_byte_is_binary_rubbish_with_its_line(tmp_path: Path, byte: bytes) -> None:
    """NUL and the other control bytes do not occur in a CSV file.

    Oracle: by construction.
    """
    refusal(read_text, written(tmp_path / "a.csv", b"a\nb\nc" + byte + b"\n"), "binary", 3, "0x", "export")


def test_undecodable_bytes_are_refused_with_their_line(tmp_path: Path) -> None:
    """A byte that is neither UTF-8 nor a letter of Windows-1252 is named, with the line.

    Oracle: published. RFC 3629: 0x81 cannot begin a character; Windows-1252 leaves it without one.
    """
    refusal(read_text, written(tmp_path / "a.csv", b"a\r\nM\x81\r\n"), "not-utf8", 2, "0x81", "UTF-8")


def test_windows_1252_is_read(tmp_path: Path) -> None:
    """A name with an umlaut, as a German spreadsheet saves it, is read.

    Oracle: published. 0xE4 is a-umlaut in Windows-1252 and cannot stand before a line end in UTF-8 (RFC 3629).
    """
    assert read_text(written(tmp_path / "a.csv", b"a\r\nM\xe4\r\n")).splitlines() == ["a", "M\u00e4"]


def test_only_letters_pass_for_windows_1252(tmp_path: Path) -> None:
    """All its accented letters are read; its signs, letters beside whole UTF-8, or beside a byte order mark are not.

    Oracle: published. The Windows-1252 table of Unicode: 0xC0 to 0xFF are the code points of the same number; 0x95 is
    a bullet and 0xD7 the sign of multiplication. RFC 3629: 0xC3 0xB6 is one character.
    """
    codes = [code for code in range(0xC0, 0x100) if code not in (0xD7, 0xF7)]
    path = written(tmp_path / "a.csv", b"a " + bytes(codes) + b"\r\n")
    assert read_text(path) == "a " + "".join(map(chr, codes)) + "\n"
    for data, byte in (
        (b"a\nM\x95\n", "0x95"),
        (b"a\nM\xd7\n", "0xd7"),
        (b"a\n\xc3\xb6\xf6\n", "0xf6"),
        (b"\xef\xbb\xbfa\nM\xf6\n", "0xf6"),
    ):
        refusal(read_text, written(tmp_path / "b.csv", data), "not-utf8", 2, byte, "'CSV UTF-8'")
    refusal(read_text, written(tmp_path / "c.csv", b"M\xf6\0\n"), "binary", 1, "0x00", "export")


def test_utf16_is_told_to_be_saved_as_utf8(tmp_path: Path) -> None:
    """The Unicode export of spreadsheets is recognised.

    Oracle: published. The Unicode byte order mark.
    """
    refusal(read_text, written(tmp_path / "a.csv", "time_s".encode("utf-16")), "not-utf8", 1, "UTF-16", "UTF-8")


def test_gzip_in_gzip_is_not_unpacked_twice(tmp_path: Path) -> None:
    """The inner gzip is no text; nothing unpacks it, however deep it goes.

    Oracle: by construction.
    """
    data = b"a\n"
    for _ in range(30):
        data = gzip.compress(data)
    with pytest.raises(text_file.FileError) as caught:
        read_text(written(tmp_path / "a.csv.gz", data))
    assert caught.value.code in ("binary", "not-utf8")


def test_damaged_gzip_is_refused(tmp_path: Path) -> None:
    """Cut off, altered, or followed by something else: each is named, none is read in part.

    Oracle: by construction.
    """
    data = gzip.compress(b"time_s,cuff_pressure_mmHg\n" * 50)
    altered = data[:-6] + bytes([data[-6] ^ 1]) + data[-5:]
    refusal(read_text, written(tmp_path / "cut.csv", data[:-12]), "gzip-broken", None, "too early", "copy")
    refusal(read_text, written(tmp_path / "altered.csv", altered), "gzip-broken", None, "damaged", "copy")
    refusal(read_text, written(tmp_path / "more.csv", data + b"more"), "gzip-broken", None, "follows", "copy")


def test_thousands_of_gzip_parts_are_refused(tmp_path: Path) -> None:
    """A file of very many empty parts does not keep the reader busy.

    Oracle: by construction.
    """
    refusal(read_text, written(tmp_path / "a.gz", gzip.compress(b"") * 5000), "gzip-broken", None, "parts", "pack")


def bomb(path: Path, megabytes: int, block: bytes = b"\0") -> Path:
    """A gzip file of `megabytes` MiB of one repeated byte, made without holding it in memory."""
    packer = zlib.compressobj(9, zlib.DEFLATED, 31)
    chunk = block * 2**20
    with path.open("wb") as file:
        for _ in range(megabytes):
            file.write(packer.compress(chunk))
        file.write(packer.flush())
    return path


@pytest.mark.parametrize("block", [b"\0", b"1"])
def test_a_gzip_bomb_is_cut_off(tmp_path: Path, block: bytes) -> None:
    """300 MiB of one byte in 300 KiB are refused at the limit, quickly and without being held in memory.

    Oracle: by construction. Memory: the limit, once as text and once in the unpacker's hands, plus what is small. Time:
    0.2 to 0.5 s measured on a small machine that had other work; 2 s leaves room for a busier one.
    """
    path = bomb(tmp_path / "bomb.csv.gz", 300, block)
    assert path.stat().st_size < 2**20
    tracemalloc.start()
    start = time.perf_counter()
    refusal(read_text, path, "unpacks-too-large", None, "64 MiB", "one recording a file")
    seconds = time.perf_counter() - start
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert seconds < 2.0
    assert peak < 2.5 * MAX_TEXT_BYTES


def test_a_large_plain_file_is_refused(tmp_path: Path) -> None:
    """One byte over the limit is too large.

    Oracle: by construction; the file is sparse.
    """
    path = tmp_path / "large.csv"
    with path.open("wb") as file:
        file.truncate(text_file.MAX_FILE_BYTES + 1)
    refusal(read_text, path, "file-too-large", None, "64 MiB", "one recording a file")


def test_an_endless_line_is_refused_with_its_number(tmp_path: Path) -> None:
    """A line over the limit is named; one at the limit is read.

    Oracle: by construction.
    """
    at_limit = "1" * MAX_LINE_BYTES
    assert read_text(written(tmp_path / "a.csv", f"a\n{at_limit}\nb\n")) == f"a\n{at_limit}\nb\n"
    over = written(tmp_path / "b.csv", f"a\n{at_limit}1\nb\n")
    refusal(read_text, over, "line-too-long", 2, str(MAX_LINE_BYTES), "one sample a line")


def test_endlessly_many_lines_are_refused(tmp_path: Path) -> None:
    """More lines than any recording has are refused before they are taken apart.

    Oracle: by construction.
    """
    path = written(tmp_path / "a.csv", b"1\n" * (MAX_LINES + 1))
    refusal(read_text, path, "too-many-lines", MAX_LINES + 1, "lines", "one recording a file")


def test_what_is_not_there_or_no_file_is_refused(tmp_path: Path) -> None:
    """A missing file, a folder and an impossible name are told apart from bad content.

    Oracle: by construction.
    """
    refusal(read_text, tmp_path / "none.csv", "not-found", None, "no such file", "check the name")
    refusal(read_text, tmp_path, "not-a-file", None, "not an ordinary file", "name a file of a recording")
    with pytest.raises(text_file.FileError) as caught:
        read_text("a\0b")
    assert caught.value.code == "not-found"


@pytest.mark.skipif(sys.platform == "win32", reason="named pipes and /dev are found on POSIX systems")
def test_a_pipe_or_device_does_not_hang_the_reader(tmp_path: Path) -> None:
    """A pipe without a writer would block for ever when opened; an endless device would never end.

    Oracle: by construction.
    """
    pipe = tmp_path / "pipe.csv"
    os.mkfifo(pipe)
    refusal(read_text, pipe, "not-a-file", None, "not an ordinary file")
    refusal(read_text, Path("/dev/zero"), "not-a-file", None, "not an ordinary file")


@pytest.mark.skipif(
    sys.platform == "win32" or not hasattr(os, "geteuid") or os.geteuid() == 0,
    reason="the superuser may read everything, and Windows has other rights",
)
def test_a_file_without_the_right_to_read_is_refused(tmp_path: Path) -> None:
    """A forbidden file gives its reason.

    Oracle: by construction.
    """
    path = written(tmp_path / "a.csv", b"a\n")
    path.chmod(0)
    refusal(read_text, path, "not-readable", None, "permission denied", "may read")
