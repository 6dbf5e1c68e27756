"""The lines of the protocol on standard input, as from another program."""

from __future__ import annotations

import os
from typing import BinaryIO

from quietlimb.capture.line_stream import LineStream

_MOST_OCTETS = 65_536


def standard_input(stream: BinaryIO) -> LineStream:
    """A source that reads a pipe or a file that is open, until its end."""
    return LineStream(lambda: _PipeOctets(stream), comes_back=False)


class _PipeOctets:
    def __init__(self, stream: BinaryIO) -> None:
        self._file = stream.fileno()

    def read(self) -> bytes | None:
        """What is there; None at the end."""
        return os.read(self._file, _MOST_OCTETS) or None

    def close(self) -> None:
        """Nothing: whoever opened it closes it."""
