"""What can go wrong between an instrument and this program."""

from __future__ import annotations

from quietlimb.engine.errors import QuietlimbError


class CaptureError(QuietlimbError):
    """A source cannot be opened, or what it sends cannot be kept."""
