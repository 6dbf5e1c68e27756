"""What can go wrong in the engine.

QuietlimbError                 everything this package raises on purpose
├── RecordingError             these samples cannot be a recording
├── SeriesError                these readings cannot be a series
├── CircumstancesError         a circumstance is unknown or impossible
├── PairsError                 these values cannot be compared
├── ConversionError            this estimate cannot be converted
└── ParameterError             an option has a value that means nothing

Each error says what was found and where, then what to do about it. `code` is for programs.
"""

from __future__ import annotations


class QuietlimbError(Exception):
    """An error with a code for programs, a sentence for people and a remedy."""

    def __init__(self, code: str, says: str, remedy: str) -> None:
        super().__init__(f"{says}; {remedy}")
        self.code = code
        self.says = says
        self.remedy = remedy

    def __reduce__(self) -> tuple[object, ...]:
        # Exception would be rebuilt from its one line alone; errors cross process borders when many files are read.
        return type(self), (self.code, self.says, self.remedy)


class RecordingError(QuietlimbError):
    """These samples cannot be a recording."""


class SeriesError(QuietlimbError):
    """These readings cannot be a series."""


class CircumstancesError(QuietlimbError):
    """A circumstance is unknown or impossible."""


class PairsError(QuietlimbError):
    """These values of a method and a reference cannot be compared."""


class ConversionError(QuietlimbError):
    """This estimate cannot be converted, or no conversion can be had from these pairs."""


class ParameterError(QuietlimbError):
    """An option has a value that means nothing."""
