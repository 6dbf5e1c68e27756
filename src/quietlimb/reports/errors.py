"""What can go wrong in a report."""

from __future__ import annotations

from quietlimb.engine.errors import QuietlimbError


class ReportError(QuietlimbError):
    """This page cannot be printed as asked."""


class LetterNotPrintableError(ReportError):
    """No font has a letter; `letters` are those of the run that stopped the typesetter."""

    def __init__(self, letters: str, says: str, remedy: str) -> None:
        super().__init__("letter-not-printable", says, remedy)
        self.letters = letters
