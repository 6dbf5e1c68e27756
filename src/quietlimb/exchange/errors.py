"""What can go wrong between bytes and vocabulary.

QuietlimbError
├── FileError      this file cannot be read, or says something impossible
├── BundleError    this bundle cannot be read, or says something impossible
└── ProtocolError  what a sensor or an instrument says cannot be used
"""

from __future__ import annotations

import os

from quietlimb.engine.errors import QuietlimbError

LONGEST_QUOTE = 40


class FileError(QuietlimbError):
    """A file cannot be read, or says something impossible.

    path : the file, as given
    line : 1-based line at fault, counted in the unpacked text; None where no line is to blame

    `str()` is one line: "file.csv, line 12: what was found; what to do".
    """

    def __init__(
        self, code: str, says: str, remedy: str, *, path: str | os.PathLike[str], line: int | None = None
    ) -> None:
        super().__init__(code, says, remedy)
        self.path = os.fspath(path)
        self.line = line

    def __str__(self) -> str:
        where = one_line(self.path) if self.line is None else f"{one_line(self.path)}, line {self.line}"
        return f"{where}: {self.says}; {self.remedy}"

    def __reduce__(self) -> tuple[object, ...]:
        # Errors cross process borders when many files are read at once; the default would lose path and line.
        return _rebuilt, (type(self), self.code, self.says, self.remedy, self.path, self.line)


def _rebuilt(kind: type[FileError], code: str, says: str, remedy: str, path: str, line: int | None) -> FileError:
    return kind(code, says, remedy, path=path, line=line)


class BundleError(QuietlimbError):
    """A bundle cannot be read, or says something impossible.

    entry : 1-based entry at fault; None where none is to blame
    kind  : what the entry says it is; empty where that is not known

    `str()` is one line: "entry 12 (Observation): what was found; what to do".
    """

    def __init__(self, code: str, says: str, remedy: str, *, entry: int | None = None, kind: str = "") -> None:
        super().__init__(code, says, remedy)
        self.entry, self.kind = entry, kind

    def __str__(self) -> str:
        if self.entry is None:
            return f"{self.says}; {self.remedy}"
        of = f" ({one_line(self.kind)})" if self.kind else ""
        return f"entry {self.entry}{of}: {self.says}; {self.remedy}"

    def __reduce__(self) -> tuple[object, ...]:
        return _bundle_error, (self.code, self.says, self.remedy, self.entry, self.kind)


def _bundle_error(code: str, says: str, remedy: str, entry: int | None, kind: str) -> BundleError:
    return BundleError(code, says, remedy, entry=entry, kind=kind)


class ProtocolError(QuietlimbError):
    """What a sensor or an instrument says cannot be used: an unknown version or unit, octets that are too few."""


def one_line(text: str) -> str:
    """`text` with everything that does not print (line ends, lone surrogates, ...) as an escape."""
    if text.isprintable():
        return text
    return "".join(c if c.isprintable() else c.encode("unicode_escape").decode("ascii") for c in text)


def quoted(text: str) -> str:
    """What a file said, fit for a sentence: on one line, in quotation marks, cut to a readable length."""
    text = text.strip()
    return f"'{one_line(text[:LONGEST_QUOTE])}{'...' if len(text) > LONGEST_QUOTE else ''}'"
