"""Invented recordings and sessions, written as any hand or program might write them."""

from __future__ import annotations

import gzip
from collections.abc import Callable, Sequence
from pathlib import Path

import pytest

from quietlimb.exchange.errors import FileError

HEADER = "time_s,cuff_pressure_mmHg"
CAT = "# species: cat"


def deflation_rows(n: int = 400) -> list[str]:
    """A straight fall from 180 mmHg at 100 samples a second; row k (from 0) is line k + 3 below CAT and HEADER."""
    return [f"{k / 100:.2f},{180 - 100 * k / n:.2f}" for k in range(n)]


def recording_text(rows: Sequence[str] | None = None, header: str = HEADER, above: str = CAT) -> str:
    """A recording file; `above` may be empty."""
    lines = [above] if above else []
    return "\n".join([*lines, header, *(deflation_rows() if rows is None else rows)]) + "\n"


def session_text(rows: Sequence[str], header: str, above: str = CAT) -> str:
    """A typed session."""
    return "\n".join([above, header, *rows]) + "\n"


def written(path: Path, content: str | bytes, *, packed: bool = False) -> Path:
    """`path` with this content."""
    data = content.encode() if isinstance(content, str) else content
    path.write_bytes(gzip.compress(data, mtime=0) if packed else data)
    return path


def refusal(read: Callable[[Path], object], path: Path, code: str, line: int | None, *words: str) -> FileError:
    """The error with which `read` refuses the file: checked for code, line, and one line of text that begins with the
    file and the line, says what was found and ends with what to do."""
    with pytest.raises(FileError) as caught:
        read(path)
    error = caught.value
    where = str(path) if line is None else f"{path}, line {line}"
    assert (error.code, error.line) == (code, line), str(error)
    assert str(error) == f"{where}: {error.says}; {error.remedy}"
    assert str(error).isprintable()
    assert error.says
    assert error.remedy
    for word in words:
        assert word in f"{error.says}; {error.remedy}"
    return error
