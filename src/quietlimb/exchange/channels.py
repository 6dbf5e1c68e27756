"""What EDF+ and WFDB have in common: several channels in a file, of which one is the cuff pressure.

The cuff pressure is the channel that is asked for, or else, among the channels in mmHg or kPa,

1. the only one whose label says "cuff" and "pressure", or the only one that says "cuff";
2. the only one there is, if its label says "pressure", or says nothing, and does not name another pressure.

Everything else is ambiguous and refused: a pressure inside an artery, read as a cuff's, would give numbers.

The pressure of an artery is the channel that is asked for, or the only one in mmHg or kPa whose label names an artery
and no cuff.
"""

from __future__ import annotations

import os
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from quietlimb.engine.circumstances import Species
from quietlimb.engine.recording import Recording
from quietlimb.exchange.circumstance_lines import circumstances_of, cuts_of
from quietlimb.exchange.errors import FileError, quoted
from quietlimb.exchange.samples import PressureUnit, checked_recording
from quietlimb.exchange.table import Remark

MAX_CHANNELS_LISTED = 12
PRESSURE_UNITS: Final[Mapping[str, PressureUnit]] = {"mmhg": "mmHg", "kpa": "kPa"}

# [common practice] words and abbreviations under which other pressures are recorded
_ANOTHER_PRESSURE = re.compile(
    r"arter|ven(?:ous|tr)|aort|airway|invasive|catheter|blood|intracran|\b(?:abp|art|bp|cvp|ibp|icp|pap|paw)\b"
)
_AN_ARTERY = re.compile(r"arter|aort|invasive|catheter|\b(?:abp|art|ibp)\b")
Wanted = Literal["cuff", "artery"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Channel:
    """Label and unit of a channel, as the file writes them."""

    label: str
    unit: str

    @property
    def pressure_unit(self) -> PressureUnit | None:
        """None for a unit that is neither mmHg nor kPa."""
        return PRESSURE_UNITS.get(re.sub(r"[\s_]", "", self.unit).lower())


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ChannelFile:
    """A file of channels, and how to speak of it.

    remark_place : where one would write "# key: value", as in "an annotation"
    unit_place   : where the unit of a channel stands
    left_out     : sentences about what the file says and cannot be taken; it is read without
    """

    path: str | os.PathLike[str]
    channels: tuple[Channel, ...]
    remarks: tuple[Remark, ...]
    remark_place: str
    unit_place: str
    left_out: tuple[str, ...] = ()

    def error(self, code: str, says: str, remedy: str, line: int | None = None) -> FileError:
        """An error in this file."""
        return FileError(code, says, remedy, path=self.path, line=line)

    def cuff_channel(self, wanted: str | None = None) -> int:
        """Index of the channel of cuff pressure.

        wanted : its label, in any case, or its number counted from 1; None to find it by the rule above

        Raises
        ------
        FileError : `channel-missing`, `channel-ambiguous`, `unit-unknown`, with a list of the channels.
        """
        return self._in_pressure(self._by_rule() if wanted is None else self._asked_for(wanted))

    def arterial_channel(self, wanted: str | None = None) -> int:
        """Index of the channel of the pressure inside an artery; as `cuff_channel`."""
        return self._in_pressure(self._artery_by_rule() if wanted is None else self._asked_for(wanted))

    def _in_pressure(self, found: int) -> int:
        if self.channels[found].pressure_unit is None:
            raise self.error(
                "unit-unknown",
                f"{self.named(found)} is neither in mmHg nor in kPa",
                f"if it is one of them, write the unit as its {self.unit_place}; otherwise choose another channel: "
                f"{self._list()}",
            )
        return found

    def _artery_by_rule(self) -> int:
        labels = [_word(channel.label) for channel in self.channels]
        found = [
            k
            for k, channel in enumerate(self.channels)
            if channel.pressure_unit and _AN_ARTERY.search(labels[k]) and "cuff" not in labels[k]
        ]
        if len(found) != 1:
            raise self.error(
                "channel-ambiguous" if found else "channel-missing",
                f"which channel is the pressure inside an artery is not told: {self._list()}",
                "name it with --artery, by its label or its number, or label it 'Arterial pressure'",
            )
        return found[0]

    def _asked_for(self, wanted: str) -> int:
        found = [k for k, channel in enumerate(self.channels) if _word(channel.label) == _word(wanted)]
        if not found and re.fullmatch(r"0*[1-9][0-9]{0,3}", wanted.strip()) and int(wanted) <= len(self.channels):
            found = [int(wanted) - 1]
        if not found:
            raise self.error(
                "channel-missing", f"there is no channel {quoted(wanted)}", f"choose one of: {self._list()}"
            )
        if len(found) > 1:
            raise self.error(
                "channel-ambiguous",
                f"{len(found)} channels are labelled {quoted(wanted)}",
                f"choose one by its number: {self._list()}",
            )
        return found[0]

    def _by_rule(self) -> int:
        in_pressure = [k for k, channel in enumerate(self.channels) if channel.pressure_unit]
        labels = [_word(channel.label) for channel in self.channels]
        says_cuff = [k for k in in_pressure if "cuff" in labels[k]]
        for found in ([k for k in says_cuff if "press" in labels[k]], says_cuff):
            if len(found) == 1:
                return found[0]
        if len(in_pressure) == 1 and not says_cuff:
            label = labels[in_pressure[0]]
            if not label or ("press" in label and not _ANOTHER_PRESSURE.search(label)):
                return in_pressure[0]
        if not in_pressure:
            raise self.error(
                "channel-missing",
                f"no channel is in mmHg or kPa: {self._list()}",
                f"write the unit of the cuff pressure as its {self.unit_place}",
            )
        raise self.error(
            "channel-ambiguous",
            f"which channel is the cuff pressure is not told: {self._list()}",
            f"name it with --channel, as --channel {in_pressure[0] + 1}, or label it 'Cuff pressure'",
        )

    def named(self, k: int) -> str:
        """Number, counted from 1, and label of a channel, as in a sentence."""
        return " ".join(["channel", str(k + 1), *self._label(k)])

    def _label(self, k: int) -> list[str]:
        """In quotation marks; nothing for a channel without one, which its number names."""
        label = self.channels[k].label
        return [quoted(label)] if label.strip() else []

    def _list(self) -> str:
        shown = [
            " ".join([str(k + 1), *self._label(k), "in", quoted(channel.unit) if channel.unit.strip() else "no unit"])
            for k, channel in enumerate(self.channels[:MAX_CHANNELS_LISTED])
        ]
        more = len(self.channels) - len(shown)
        return ", ".join(shown) + (f" and {more} more" if more else "") if shown else "none"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ChannelSamples:
    """One channel of pressure, whole.

    file     : where it stands
    index    : which of the file's channels it is
    time_s   : (n,) seconds from the first sample
    pressure : (n,) in the unit of the channel
    invalid  : (n,) True for samples that the file marks as not measured
    """

    file: ChannelFile
    index: int
    time_s: NDArray[np.float64]
    pressure: NDArray[np.float64]
    invalid: NDArray[np.bool_]

    @property
    def channel(self) -> Channel:
        """Its label and unit."""
        return self.file.channels[self.index]

    def recording(self, *, species: Species | None, defaults: Mapping[str, str | float] | None) -> Recording:
        """The samples as a recording of cuff pressure.

        Samples marked as not measured are left out, as the rows of a CSV file would be, and what is missing is judged
        as a gap.

        Raises
        ------
        FileError : those of `circumstances_of` and `checked_recording`, naming channel, sample and time.
        """
        unit = self.channel.pressure_unit
        assert unit is not None
        valid = ~self.invalid
        numbers = np.flatnonzero(valid) + 1
        time_s, pressure = self.time_s[valid], self.pressure[valid]
        marked = ""
        if not valid.all():
            marked = f" ({np.count_nonzero(self.invalid)} of {valid.size} samples are marked as invalid)"

        def objection(code: str, says: str, remedy: str, sample: int | None) -> FileError:
            where = self.file.named(self.index)
            if sample is not None:
                where += f", sample {numbers[sample]} at {time_s[sample]:.2f} s"
            return self.file.error(code, f"{where}: {says}{marked}", self._remedy(code, unit) or remedy)

        circumstances = circumstances_of(self.file, species=species, defaults=defaults)
        return checked_recording(time_s, pressure, unit, circumstances, objection, cuts_of(self.file))

    def _remedy(self, code: str, unit: PressureUnit) -> str | None:
        """What to do about samples, where it is not what one would do about rows; None where it is the same."""
        place = self.file.unit_place
        if code == "kpa-suspected":
            return f"if these numbers are kPa, write kPa as the {place} of the channel"
        if code == "out-of-range" and unit == "kPa":
            return f"if these numbers are mmHg, write mmHg as the {place}; otherwise check the sensor's zero"
        return {
            "time-backwards": "export the recording as one continuous piece",
            "not-finite": "check the scaling of the channel and export again",
            "gap": "record again without interruptions",
        }.get(code)


def _word(label: str) -> str:
    return " ".join(label.lower().split())


def remarks_of_header(told: Sequence[Remark], header: Mapping[str, str | None]) -> tuple[Remark, ...]:
    """`told`, and what fields of a header say of circumstances that `told` does not mention."""
    keys = {remark.key for remark in told if remark.value}
    fields = (Remark(key=key, value=value, line=None) for key, value in header.items() if value and key not in keys)
    return (*told, *fields)
