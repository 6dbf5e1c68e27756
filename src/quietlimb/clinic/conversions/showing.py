"""A conversion as the lines of its page."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from django.utils.translation import gettext as _

from quietlimb.clinic.conversions.beside import FILE, told_in
from quietlimb.clinic.conversions.models import BroughtConversion
from quietlimb.exchange.conversion_json import ConversionFile, conversion_of
from quietlimb.exchange.errors import FileError


@dataclass(frozen=True, kw_only=True)
class Shown:
    """A row, and what its file says."""

    row: BroughtConversion

    @cached_property
    def _file(self) -> ConversionFile | FileError:
        try:
            return conversion_of(told_in(bytes(self.row.content)), path=FILE)
        except FileError as error:
            return error

    @property
    def trouble(self) -> str:
        """Why the engine of today cannot take it; empty where it can."""
        found = self._file
        return f"{found.says}; {found.remedy}." if isinstance(found, FileError) else ""

    @property
    def is_invented(self) -> bool:
        """Whether it rests on invented pairs."""
        return isinstance(self._file, ConversionFile) and self._file.invented

    @property
    def lines(self) -> list[tuple[str, str]]:
        """Name and value of what it converts, for what it holds, and on what it rests."""
        if isinstance(self._file, FileError):
            return []
        found = self._file.conversion
        instrument = self.row.instrument.name if self.row.instrument else _("any")
        if found.instrument and found.instrument != instrument:
            instrument = _("{ours} (the file calls it {theirs})").format(ours=instrument, theirs=found.instrument)
        shares = found.cuff_shares
        at_middle = _("{given:.0f} mmHg becomes {value:.0f} mmHg, for a new animal with SD {sd:.0f} mmHg")
        return [
            (_("From"), f"{_(found.quantity)}, {found.technique}, {found.site}, {found.species}, {found.sedation}"),
            (_("To"), found.converts_to),
            (_("Instrument"), instrument),
            (
                _("Cuff"),
                _("any")
                if shares is None
                else _("{low:.0%} to {high:.0%} of the limb").format(low=shares[0], high=shares[1]),
            ),
            (_("Range"), f"{found.low:.0f} - {found.high:.0f} mmHg"),
            (
                _("In the middle"),
                at_middle.format(given=found.middle, value=found.at_middle, sd=found.prediction_sd(found.middle)),
            ),
            (
                _("Rests on"),
                _("{animals} animals, {pairs} pairs").format(animals=found.animals, pairs=found.pairs),
            ),
        ]
