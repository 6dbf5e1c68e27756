"""What can go wrong between an instrument and this program."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from quietlimb.engine.errors import QuietlimbError
from quietlimb.exchange.errors import ProtocolError
from quietlimb.exchange.line_decoder import Trouble

# What only lines that came can have.
_LINES: Final[tuple[Trouble, ...]] = (
    "cut-line",
    "unfinished-line",
    "long-line",
    "unreadable-line",
    "wrong-check",
    "out-of-range",
)


class CaptureError(QuietlimbError):
    """A source cannot be opened, or what it sends cannot be kept."""


def nothing_measured(troubles: Mapping[Trouble, int], *, interrupted: bool) -> QuietlimbError | None:
    """Why a source that has ended gave neither a sample nor a reading; None where it was stopped before anything came.

    troubles : of the source
    """
    if troubles.get("before-unit"):
        return ProtocolError(
            "unit-missing",
            "samples came, and no unit",
            "the sensor has to send a line such as #unit=mmHg, and again at least every 5 s",
        )
    if any(troubles.get(kind) for kind in _LINES):
        return ProtocolError(
            "no-sample",
            "lines came, and none was a sample that can be read",
            "is this the right sensor, at the right speed? Its lines are described in docs/live.md",
        )
    if interrupted:
        return None
    return CaptureError("nothing-came", "the source ended without a sample", "see that it is switched on and sends")
