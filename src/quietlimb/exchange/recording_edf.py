"""Recordings as EDF or EDF+ files: signals in records of equal length, EDF+ with annotations.

Annotations "# key: value" tell circumstances as the lines of a CSV file do. Of the header are taken, where it follows
EDF+, only what has one meaning: the code of the patient as `animal`, the code of the equipment as `instrument`, the
start as `started_at`. Names of persons are never taken.

Written from the specification of EDF+ [from memory]; samples and annotations are read by edfio, which is imported only
when an EDF file is read.
"""

from __future__ import annotations

import os
import re
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, datetime
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from quietlimb.engine.circumstances import Species
from quietlimb.engine.recording import Recording
from quietlimb.exchange.channels import Channel, ChannelFile, ChannelSamples, Wanted, remarks_of_header
from quietlimb.exchange.errors import FileError, quoted
from quietlimb.exchange.table import remark_of
from quietlimb.exchange.text_file import bytes_on_disk

if TYPE_CHECKING:
    from edfio import Edf

ANNOTATIONS: Final = b"EDF Annotations"
_VERSION = b"0       "
_HEADER_BYTES = 256  # and as many for each signal
_BYTES_BEFORE_COUNTS = 216  # of a signal's header, before the number of its samples in a record
_TITLE_BYTES = 16
_NO_DATE = date(1985, 1, 1)  # stands for a date that was taken out
_MONTHS = ("JAN", "FEB", "MAR", "APR", "MAY", "JUN", "JUL", "AUG", "SEP", "OCT", "NOV", "DEC")
_ONSET = re.compile(rb"([+-][0-9]{1,12}(?:\.[0-9]{0,12})?)(?:\x15[0-9.]{0,24})?\x14")

# What edfio raises on fields and annotations that are no numbers, dates or text, or do not fit each other.
_BROKEN = (ValueError, ArithmeticError, LookupError, TypeError)


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """Where things stand in an EDF file.

    plus           : "EDF+C", "EDF+D", or "" for plain EDF
    record_s       : length of a record [s]
    onsets_at      : byte within a record of the annotations that begin with its onset; None where there are none
    recorded_on    : the date in the header; None where it is taken out or no date
    """

    plus: str
    header_bytes: int
    records: int
    record_bytes: int
    record_s: float
    onsets_at: int | None
    recorded_on: date | None


def read_recording(
    path: str | os.PathLike[str],
    *,
    channel: str | None = None,
    species: Species | None = None,
    defaults: Mapping[str, str | float] | None = None,
) -> Recording:
    """The recording in an EDF or EDF+ file. Interruptions (EDF+D) are judged as gaps between samples.

    Parameters
    ----------
    channel  : label of the cuff pressure, or its number counted from 1; None to find it by unit and label
    species  : needed where no annotation tells it; where one does, they must agree
    defaults : other circumstances, for where the file is silent

    Raises
    ------
    FileError : whatever is wrong with the file.
    """
    return read_channel(path, channel).recording(species=species, defaults=defaults)


def read_channel(path: str | os.PathLike[str], channel: str | None = None, *, of: Wanted = "cuff") -> ChannelSamples:
    """A channel of an EDF or EDF+ file with all its samples, of whatever pressure; interruptions are in the times.

    channel : its label, or its number counted from 1; None to find it by unit and label
    of      : whose pressure is looked for where no channel is named

    Raises
    ------
    FileError : whatever is wrong with the file; its samples may still be no cuff pressure.
    """
    data = bytes_on_disk(path)
    layout = _layout(data, path)
    from edfio import read_edf

    with _told_as_file_error(path):
        edf = read_edf(data)
        told = [remark_of(note.text, None) for note in edf.annotations if note.text.lstrip().startswith("#")]
        source = ChannelFile(
            path=path,
            channels=tuple(Channel(label=each.label, unit=each.physical_dimension) for each in edf.signals),
            remarks=remarks_of_header([remark for remark in told if remark is not None], _header(edf, layout)),
            remark_place="an annotation",
            unit_place="physical dimension",
        )
    chosen = source.cuff_channel(channel) if of == "cuff" else source.arterial_channel(channel)
    signal = edf.signals[chosen]
    with _told_as_file_error(path):
        if not signal.digital_min < signal.digital_max or signal.physical_min == signal.physical_max:
            raise source.error(
                "not-calibrated",
                f"{source.named(chosen)} has no range, so its numbers are no pressures",
                "write its digital and physical minimum and maximum into the header",
            )
        per_record = signal.samples_per_data_record
        pressure = np.asarray(signal.data, dtype=np.float64)
    within_s = np.arange(per_record) * (layout.record_s / per_record)
    time_s = (_onsets(data, layout, path)[:, np.newaxis] + within_s).reshape(-1)
    invalid = np.zeros(time_s.size, dtype=np.bool_)  # the format has no mark for it
    return ChannelSamples(file=source, index=chosen, time_s=time_s, pressure=pressure, invalid=invalid)


@contextmanager
def _told_as_file_error(path: str | os.PathLike[str]) -> Iterator[None]:
    try:
        yield
    except _BROKEN as error:
        raise FileError(
            "edf-broken", f"header or annotations are damaged ({quoted(str(error))})", "export it again", path=path
        ) from None


def _layout(data: bytes, path: str | os.PathLike[str]) -> Layout:
    """The layout that the header tells, checked against the length of the file."""
    if not data.startswith(_VERSION):
        bdf = data.startswith(b"\xffBIOSEMI")
        raise FileError(
            "not-edf",
            "this is BDF, with samples of 24 bits" if bdf else "this does not begin as an EDF file does",
            "export it as EDF+ or CSV",
            path=path,
        )
    try:
        records, signals = int(data[236:244]), int(data[252:256])
        header_bytes, record_s = int(data[184:192]), float(data[244:252])
        counts_at = _HEADER_BYTES + _BYTES_BEFORE_COUNTS * signals
        counts = [int(data[counts_at + 8 * k : counts_at + 8 * k + 8]) for k in range(signals)]
    except ValueError:
        raise FileError("edf-broken", "a number in the header is none", "export it again", path=path) from None
    if not counts or min(counts) < 1 or header_bytes != _HEADER_BYTES * (signals + 1):
        raise FileError("edf-broken", "the header contradicts itself", "export it again", path=path)
    if not 0.0 < record_s < 1e6:
        raise FileError("edf-broken", "the records have no length in seconds", "export it again", path=path)
    _refuse_wrong_length(len(data) - header_bytes, 2 * sum(counts), records, path)
    titles = [data[_HEADER_BYTES + _TITLE_BYTES * k :][:_TITLE_BYTES].rstrip() for k in range(signals)]
    notes = titles.index(ANNOTATIONS) if ANNOTATIONS in titles else None
    plus = data[192:197].decode("ascii", errors="replace")
    return Layout(
        plus=plus if plus in ("EDF+C", "EDF+D") else "",
        header_bytes=header_bytes,
        records=records,
        record_bytes=2 * sum(counts),
        record_s=record_s,
        onsets_at=None if notes is None else 2 * sum(counts[:notes]),
        recorded_on=_legacy_date(data[168:176]),
    )


def _refuse_wrong_length(size: int, record_bytes: int, records: int, path: str | os.PathLike[str]) -> None:
    if records < 0:
        raise FileError(
            "recording-open",
            "the file was not closed by the program that recorded it, and its length is not told",
            "let that program open and save it, or export it again",
            path=path,
        )
    if size != records * record_bytes or records == 0:
        raise FileError(
            "wrong-length",
            f"the header tells {records} records and the file has {size / record_bytes:.4g}",
            "copy or export the file again",
            path=path,
        )


def _legacy_date(field: bytes) -> date | None:
    found = re.fullmatch(rb"([0-9]{2})\.([0-9]{2})\.([0-9]{2})", field)
    if found is None:
        return None
    day, month, year = map(int, found.groups())
    try:
        told = date(year + (1900 if year >= 85 else 2000), month, day)
    except ValueError:
        return None
    return None if told == _NO_DATE else told


def _header(edf: Edf, layout: Layout) -> dict[str, str | None]:
    """What the fields of the header say of circumstances; nothing where they do not follow EDF+."""
    patient = edf.local_patient_identification.split()
    recording = edf.local_recording_identification.split()
    found: dict[str, str | None] = {}
    if layout.plus and len(patient) >= 4 and patient[1] in ("F", "M", "X"):
        found["animal"] = None if patient[0] == "X" else patient[0]
    if layout.plus and len(recording) >= 5 and recording[0] == "Startdate":
        found["instrument"] = None if recording[4] == "X" else recording[4]
        if layout.recorded_on is not None and _date(recording[1]) == layout.recorded_on:
            found["started_at"] = datetime.combine(layout.recorded_on, edf.starttime).isoformat()
    return found


def _date(text: str) -> date | None:
    """The date in "25-NOV-2026", the English months whatever the language of the computer."""
    found = re.fullmatch(r"([0-9]{2})-([A-Z]{3})-([0-9]{4})", text)
    if found is None or found[2] not in _MONTHS:
        return None
    try:
        return date(int(found[3]), _MONTHS.index(found[2]) + 1, int(found[1]))
    except ValueError:
        return None


def _onsets(data: bytes, layout: Layout, path: str | os.PathLike[str]) -> NDArray[np.float64]:
    """(records,) seconds of each record's first sample after that of the first record."""
    if layout.plus != "EDF+D":
        return np.arange(layout.records, dtype=np.float64) * layout.record_s
    onsets: NDArray[np.float64] = np.empty(layout.records, dtype=np.float64)
    for k in range(layout.records):
        at = layout.header_bytes + k * layout.record_bytes + (layout.onsets_at or 0)
        found = _ONSET.match(data, at) if layout.onsets_at is not None else None
        if found is None:
            raise FileError(
                "edf-broken",
                f"record {k + 1} of this interrupted recording (EDF+D) does not tell when it begins",
                "export it again, or export the longest piece as continuous EDF+ (EDF+C)",
                path=path,
            )
        onsets[k] = float(found[1])
    onsets -= onsets[0]
    return onsets
