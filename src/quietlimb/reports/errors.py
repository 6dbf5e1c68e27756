"""What can go wrong in a report."""

from __future__ import annotations

from quietlimb.engine.errors import QuietlimbError


class ReportError(QuietlimbError):
    """This page cannot be printed as asked."""
