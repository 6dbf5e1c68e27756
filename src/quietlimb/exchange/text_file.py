"""Bounded reading of text from a file that anybody may have made.

Plain or gzip, told apart by the first two bytes and not by the name; UTF-8 with or without byte order mark, or the
Windows-1252 in which a spreadsheet may save letters with accents; any line ends. Every limit below is a promise that
reading ends, within bounded time and memory. All are invented: generous against the largest file that makes sense (ten
minutes at 1000 Hz are 600,000 rows and about 12 MiB), small against the memory of a clinic's PC.
"""

from __future__ import annotations

import os
import stat
import zlib

import numpy as np

from quietlimb.exchange.errors import FileError

MAX_FILE_BYTES = 64 * 2**20  # on disk
MAX_TEXT_BYTES = 64 * 2**20  # after unpacking
MAX_LINE_BYTES = 4096
MAX_LINES = 2_000_000
MAX_GZIP_PARTS = 16  # gzip files may be joined end to end; each part costs a copy of the rest

GZIP_MAGIC = b"\x1f\x8b"
UTF8_MARK = b"\xef\xbb\xbf"
UTF16_MARKS = (b"\xff\xfe", b"\xfe\xff")
# In Windows-1252 these bytes are letters with accents and the like; signs and punctuation are left out, because they
# are what the pieces of a damaged UTF-8 file, or of no text at all, would look like.
_ACCENTED = bytes(sorted(set(range(0xC0, 0x100)) - {0xD7, 0xF7}))
_AS_UTF8 = "save it again with the file type 'CSV UTF-8'"
_CONTROL = bytes(sorted(set(range(32)) - set(b"\t\n\r"))) + b"\x7f"


def read_text(path: str | os.PathLike[str]) -> str:
    """The text of a file, its line ends as "\\n", without byte order mark.

    Raises
    ------
    FileError : `not-found`, `not-a-file`, `not-readable`, `empty`, `file-too-large`, `unpacks-too-large`,
                `gzip-broken`, `binary`, `not-utf8`, `line-too-long`, `too-many-lines`.
    """
    data = bytes_on_disk(path)
    if data.startswith(GZIP_MAGIC):
        data = _unpacked(data, path)
    if not data:
        raise FileError("empty", "the file has zero bytes", "export it again", path=path)
    if data.startswith(UTF16_MARKS):
        raise FileError("not-utf8", "this is UTF-16 text", _AS_UTF8, path=path, line=1)
    marked = data.startswith(UTF8_MARK)
    data = data.removeprefix(UTF8_MARK).replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    _refuse_binary(data, path)
    _refuse_endless(data, path)
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError as error:
        if not marked and data.translate(None, _ACCENTED).isascii():
            return data.decode("cp1252")
        raise FileError(
            "not-utf8",
            f"byte 0x{data[error.start]:02x} is not UTF-8 text",
            f"{_AS_UTF8}; if it is no text at all, export it as CSV",
            path=path,
            line=data.count(b"\n", 0, error.start) + 1,
        ) from None


def bytes_on_disk(path: str | os.PathLike[str]) -> bytes:
    """The bytes of an ordinary file.

    Raises
    ------
    FileError : `not-found`, `not-a-file`, `not-readable`, `file-too-large`.
    """
    try:
        # Looked at before opening: opening a pipe would wait for a writer that may never come.
        if not stat.S_ISREG(os.stat(path).st_mode):
            raise FileError(
                "not-a-file", "this is not an ordinary file", "name a file of a recording or of readings", path=path
            )
        with open(path, "rb") as file:
            data = file.read(MAX_FILE_BYTES + 1)
    except (FileNotFoundError, NotADirectoryError, ValueError):  # ValueError: a name that no file can have
        raise FileError("not-found", "there is no such file", "check the name and the folder", path=path) from None
    except OSError as error:
        reason = (error.strerror or type(error).__name__).lower()
        raise FileError(
            "not-readable", f"the file cannot be opened ({reason})", "check that you may read it", path=path
        ) from None
    if len(data) > MAX_FILE_BYTES:
        raise FileError(
            "file-too-large",
            f"the file has more than {MAX_FILE_BYTES // 2**20} MiB",
            "export one recording a file",
            path=path,
        )
    return data


def _unpacked(data: bytes, path: str | os.PathLike[str]) -> bytes:
    text = bytearray()
    for _ in range(MAX_GZIP_PARTS):
        part = zlib.decompressobj(wbits=16 + zlib.MAX_WBITS)
        try:
            text += part.decompress(data, MAX_TEXT_BYTES + 1 - len(text))
        except zlib.error:
            raise FileError("gzip-broken", "the gzip data are damaged", "copy the file again", path=path) from None
        if len(text) > MAX_TEXT_BYTES:
            raise FileError(
                "unpacks-too-large",
                f"the file unpacks to more than {MAX_TEXT_BYTES // 2**20} MiB",
                "export one recording a file; do not open this one if you do not know where it comes from",
                path=path,
            )
        if not part.eof:
            raise FileError("gzip-broken", "the gzip data end too early", "copy the file again", path=path)
        data = part.unused_data.lstrip(b"\0")  # tapes and some copies pad with zeros
        if not data:
            return bytes(text)
        if not data.startswith(GZIP_MAGIC):
            raise FileError(
                "gzip-broken", "something else follows the gzip data", "copy the file again", path=path
            ) from None
    raise FileError(
        "gzip-broken",
        f"the file is joined from more than {MAX_GZIP_PARTS} gzip parts",
        "unpack it and pack it as one",
        path=path,
    )


def _refuse_binary(data: bytes, path: str | os.PathLike[str]) -> None:
    if len(data.translate(None, _CONTROL)) == len(data):
        return
    codes = np.frombuffer(data, dtype=np.uint8)
    first = int(np.isin(codes, np.frombuffer(_CONTROL, dtype=np.uint8)).argmax())
    raise FileError(
        "binary",
        f"byte 0x{data[first]:02x} does not belong in text, so this is not a CSV file",
        "export the data as CSV",
        path=path,
        line=data.count(b"\n", 0, first) + 1,
    )


def _refuse_endless(data: bytes, path: str | os.PathLike[str]) -> None:
    if data.count(b"\n") > MAX_LINES:
        raise FileError(
            "too-many-lines",
            f"the file has more than {MAX_LINES:,} lines",
            "export one recording a file",
            path=path,
            line=MAX_LINES + 1,
        )
    ends = np.flatnonzero(np.frombuffer(data, dtype=np.uint8) == ord("\n"))
    lengths = np.diff(ends, prepend=-1, append=len(data)) - 1
    if lengths.max() > MAX_LINE_BYTES:
        raise FileError(
            "line-too-long",
            f"the line has more than {MAX_LINE_BYTES} bytes",
            "export as CSV with one sample a line",
            path=path,
            line=int((lengths > MAX_LINE_BYTES).argmax()) + 1,
        )
