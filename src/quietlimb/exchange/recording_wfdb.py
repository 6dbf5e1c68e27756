"""Recordings as WFDB records: a text header NAME.hea and a file of samples beside it.

    reading-1 1 200 12000 10:30:00 25/11/2026
    reading-1.dat 16 100(0)/mmHg 16 0 40 -1234 0 Cuff pressure
    # species: cat
    # cuff_width_cm: 2.5

Read are records of one segment in the signal formats 16, 24, 32, 80 and 212. Written from the description of the format
in the WFDB Applications Guide, header(5) and signal(5) [from memory]; the tests compare it with the `wfdb` package.
"""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from math import isfinite
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from quietlimb.engine.circumstances import Species
from quietlimb.engine.recording import Recording
from quietlimb.exchange.channels import Channel, ChannelFile, ChannelSamples, Wanted, remarks_of_header
from quietlimb.exchange.circumstance_lines import YEARS
from quietlimb.exchange.errors import FileError, quoted
from quietlimb.exchange.table import Remark, remark_of
from quietlimb.exchange.text_file import MAX_LINE_BYTES, UTF8_MARK, bytes_on_disk

MAX_HEADER_BYTES = 2**20
DEFAULT_UNIT = "mV"  # of the format, where a header tells none

Digital = NDArray[np.int64]

_COUNT = r"[0-9]{1,9}"
_WHOLE = r"[+-]?[0-9]{1,12}"
_DECIMAL = r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?"

# name[/segments] signals [rate[/counter rate[(counter)]] [frames [time [date]]]]
_RECORD = re.compile(
    rf"[^\s/]+(?P<segments>/\S*)?\s+(?P<signals>{_COUNT})"
    rf"(?:\s+(?P<rate>{_DECIMAL})(?:/\S*)?(?:\s+(?P<frames>{_COUNT})(?:\s+(?P<time>[0-9:.]+)(?:\s+(?P<date>[0-9/]+))?)?)?)?"
)
# file format[xsamples][:skew][+offset] [gain[(baseline)][/unit] [bits [zero [first [checksum [block [description]]]]]]]
_SIGNAL = re.compile(
    rf"(?P<file>\S+)\s+(?P<format>{_COUNT})(?:x(?P<samples>{_COUNT}))?(?::{_COUNT})?(?:\+(?P<offset>{_COUNT}))?"
    rf"(?:\s+(?P<gain>{_DECIMAL})(?:\((?P<baseline>{_WHOLE})\))?(?:/(?P<unit>\S+))?"
    rf"(?:\s+{_COUNT}(?:\s+(?P<zero>{_WHOLE})(?:\s+{_WHOLE}(?:\s+(?P<checksum>{_WHOLE})(?:\s+{_WHOLE}"
    rf"(?:\s+(?P<label>\S.*))?)?)?)?)?)?)?"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Format:
    """How samples lie in a signal file.

    invalid      : the value that marks a sample as not measured
    bytes_needed : for a number of samples
    decode       : exactly those bytes and their number of samples -> (n,) values
    padding      : bytes by which a writer may have filled up the end
    """

    invalid: int
    bytes_needed: Callable[[int], int]
    decode: Callable[[bytes, int], Digital]
    padding: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Signal:
    """A signal line of a header.

    per_frame : samples in a frame
    offset    : bytes before the first sample of the file
    checksum  : 16-bit sum of all samples; None where not told
    """

    line: int
    file: str
    format: int
    per_frame: int
    offset: int
    gain: float
    baseline: int
    unit: str
    checksum: int | None
    label: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Header:
    """A header.

    rate_hz : frames a second
    frames  : None where not told
    odd_start : date and time as written, where they are no moment that a recording can have
    """

    rate_hz: float
    frames: int | None
    started_at: str | None
    odd_start: str | None
    signals: tuple[Signal, ...]
    remarks: tuple[Remark, ...]


def read_recording(
    path: str | os.PathLike[str],
    *,
    channel: str | None = None,
    species: Species | None = None,
    defaults: Mapping[str, str | float] | None = None,
    tell: Callable[[str], None] | None = None,
) -> Recording:
    """The recording in a WFDB record.

    Parameters
    ----------
    path     : the header, NAME.hea; the signal file lies in the same folder
    channel  : label of the cuff pressure, or its number counted from 1; None to find it by unit and label
    species  : needed where the comments of the header do not tell it; where they do, they must agree
    defaults : other circumstances, for where the header is silent
    tell     : called with a sentence on each thing that the header says and that cannot be taken, such as an
               impossible date; the record is read without it

    Raises
    ------
    FileError : whatever is wrong with the record.
    """
    found = read_channel(path, channel)
    recording = found.recording(species=species, defaults=defaults)
    if tell is not None:
        for sentence in found.file.left_out:
            tell(sentence)
    return recording


def read_channel(path: str | os.PathLike[str], channel: str | None = None, *, of: Wanted = "cuff") -> ChannelSamples:
    """A channel of a WFDB record with all its samples, of whatever pressure.

    channel : its label, or its number counted from 1; None to find it by unit and label
    of      : whose pressure is looked for where no channel is named

    Raises
    ------
    FileError : whatever is wrong with the record; its samples may still be no cuff pressure.
    """
    header = _header(path)
    source = ChannelFile(
        path=path,
        channels=tuple(Channel(label=signal.label, unit=signal.unit) for signal in header.signals),
        remarks=remarks_of_header(header.remarks, {"started_at": header.started_at}),
        left_out=_left_out(header),
        remark_place="a line at the end of the header",
        unit_place="unit (after the gain, as 100/mmHg)",
    )
    chosen = source.cuff_channel(channel) if of == "cuff" else source.arterial_channel(channel)
    signal = header.signals[chosen]
    if signal.gain == 0.0:
        raise source.error(
            "not-calibrated",
            f"{source.named(chosen)} has no gain, so its numbers are no pressures",
            "write the gain in digital units per mmHg into the header",
            signal.line,
        )
    digital = _samples(source, header, chosen)
    # The skew of a signal shifts it as a whole, which means nothing where only one is read.
    return ChannelSamples(
        file=source,
        index=chosen,
        time_s=np.arange(digital.size) / (header.rate_hz * signal.per_frame),
        pressure=(digital - signal.baseline) / signal.gain,
        invalid=digital == FORMATS[signal.format].invalid,
    )


def _header(path: str | os.PathLike[str]) -> Header:
    lines = _lines(path)
    remarks = tuple(remark for k, line in lines if line.startswith("#") and (remark := remark_of(line, k)) is not None)
    content = [(k, line) for k, line in lines if line and not line.startswith("#")]
    if not content:
        raise FileError("empty", "the header has no record line", "export the record again", path=path)
    k, text = content[0]
    record = _RECORD.fullmatch(text)
    if record is None:
        raise _broken(path, k, text, "name, number of signals, sampling frequency and number of samples")
    if record["segments"] is not None:
        raise FileError(
            "several-segments",
            "the record is put together from several segments",
            "name the header of the segment that holds the deflation, or write the record as a single segment",
            path=path,
            line=k,
        )
    if record["rate"] is None or not 0.0 < float(record["rate"]) < 1e9:
        raise FileError(
            "rate-missing",
            "the sampling frequency is not told" if record["rate"] is None else "this is no sampling frequency",
            "write it in samples a second after the number of signals",
            path=path,
            line=k,
        )
    signals = []
    for line, description in content[1:]:
        found = _SIGNAL.fullmatch(description)
        if found is None:
            raise _broken(path, line, description, "file, format, gain(baseline)/unit, ..., label")
        signals.append(_signal(found, line))
    if len(signals) != int(record["signals"]):
        raise FileError(
            "wrong-number-of-signals",
            f"{record['signals']} signals are announced and {len(signals)} described",
            "copy or export the header again",
            path=path,
            line=k,
        )
    started_at = _started_at(record["time"], record["date"])
    return Header(
        rate_hz=float(record["rate"]),
        frames=int(record["frames"] or 0) or None,
        started_at=started_at,
        odd_start=None if started_at or not record["date"] else f"{record['time']} {record['date']}",
        signals=tuple(signals),
        remarks=remarks,
    )


def _lines(path: str | os.PathLike[str]) -> list[tuple[int, str]]:
    """(1-based number, text) of each line of the header."""
    data = bytes_on_disk(path)
    longest = max(map(len, data.splitlines()), default=0)
    try:
        text = data.removeprefix(UTF8_MARK).decode("utf-8")
    except UnicodeDecodeError:
        text = "\0"
    if len(data) > MAX_HEADER_BYTES or longest > MAX_LINE_BYTES or "\0" in text:
        raise FileError("not-a-header", "this is not the text of a WFDB header", "name the file NAME.hea", path=path)
    return [(k, line.strip()) for k, line in enumerate(re.split(r"\r\n|\r|\n", text), start=1)]


def _broken(path: str | os.PathLike[str], line: int, text: str, wanted: str) -> FileError:
    return FileError(
        "header-broken",
        f"{quoted(text)} is not such a line of a WFDB header",
        f"it holds {wanted}; copy or export the header again",
        path=path,
        line=line,
    )


def _signal(found: re.Match[str], line: int) -> Signal:
    gain = float(found["gain"] or 0.0)
    return Signal(
        line=line,
        file=found["file"],
        format=int(found["format"]),
        per_frame=int(found["samples"] or 1),
        offset=int(found["offset"] or 0),
        gain=gain if isfinite(gain) else 0.0,
        baseline=int(found["baseline"] or found["zero"] or 0),
        unit=found["unit"] or DEFAULT_UNIT,
        checksum=None if found["checksum"] is None else int(found["checksum"]),
        label=(found["label"] or "").strip(),
    )


def _started_at(time: str | None, date: str | None) -> str | None:
    """Date and time in ISO 8601; None unless both are told in full, in a year that a recording can be of."""
    if time is None or date is None:
        return None
    for form in ("%H:%M:%S.%f", "%H:%M:%S"):
        try:
            moment = datetime.strptime(f"{date} {time}", f"%d/%m/%Y {form}")
        except ValueError:
            continue
        return moment.isoformat() if moment.year in YEARS else None
    return None


def _left_out(header: Header) -> tuple[str, ...]:
    """A sentence on the start, where it is no moment and no comment tells another."""
    if header.odd_start is None or any(remark.key == "started_at" and remark.value for remark in header.remarks):
        return ()
    return (
        f"time and date of the header, {quoted(header.odd_start)}, are left out: no moment from {YEARS[0]} to "
        f"{YEARS[-1]}; "
        "a line '# started_at: 2026-11-25T10:30:00' at its end tells another",
    )


def _samples(source: ChannelFile, header: Header, chosen: int) -> Digital:
    """(n,) digital values of one signal, checked against length and checksum."""
    signal = header.signals[chosen]
    if signal.format not in FORMATS:
        raise source.error(
            "format-unknown",
            f"signal format {signal.format} is not read",
            f"write the record again in format {', '.join(map(str, FORMATS))}, of which 16 is the plainest",
            signal.line,
        )
    group = [other for other in header.signals if other.file == signal.file]
    if any((other.format, other.offset) != (signal.format, signal.offset) for other in group):
        raise source.error(
            "header-broken",
            f"the signals in {quoted(signal.file)} differ in format or offset",
            "copy or export the header again",
            signal.line,
        )
    width = sum(other.per_frame for other in group)
    if not all(other.per_frame for other in group):
        raise source.error("header-broken", "a signal has no sample in a frame", "export again", signal.line)
    data = _signal_bytes(source, signal)
    how = FORMATS[signal.format]
    frames = header.frames if header.frames is not None else _frames_in(len(data), how, width)
    one_more = how.bytes_needed((frames + 1) * width) + how.padding
    if how.bytes_needed(frames * width) > len(data) or (header.frames is not None and one_more <= len(data)):
        raise source.error(
            "wrong-length",
            f"{quoted(signal.file)} has {_frames_in(len(data), how, width)} frames, not {frames} as the header tells",
            "copy both files of the record again",
            signal.line,
        )
    samples = how.decode(data[: how.bytes_needed(frames * width)], frames * width)
    before = sum(other.per_frame for other in header.signals[:chosen] if other.file == signal.file)
    digital = samples.reshape(frames, width)[:, before : before + signal.per_frame].reshape(-1)
    if signal.checksum is not None and (int(digital.sum()) - signal.checksum) % 2**16:
        raise source.error(
            "wrong-checksum",
            f"the samples in {quoted(signal.file)} do not have the checksum {signal.checksum} that the header tells",
            "copy both files of the record again; one of them was changed",
            signal.line,
        )
    return digital


def _signal_bytes(source: ChannelFile, signal: Signal) -> bytes:
    # A header that anybody may have written must not lead to files elsewhere.
    if signal.file != Path(signal.file).name or "\\" in signal.file or ":" in signal.file or signal.file[0] in "~-.":
        raise source.error(
            "signal-file-elsewhere",
            f"the samples are said to be in {quoted(signal.file)}, which is no name of a file beside the header",
            "put header and signal file into one folder and write the plain name",
            signal.line,
        )
    beside = Path(source.path).parent / signal.file
    try:
        data = bytes_on_disk(beside)
    except FileError as error:
        if error.code != "not-found":
            raise
        raise source.error(
            "signal-file-missing",
            f"the file {quoted(signal.file)} with the samples is not beside the header",
            "copy both files of the record into one folder",
            signal.line,
        ) from None
    return data[signal.offset :]


def _frames_in(size: int, how: Format, width: int) -> int:
    """Whole frames in so many bytes."""
    low, high = 0, size
    while low < high:
        middle = (low + high + 1) // 2
        low, high = (middle, high) if how.bytes_needed(middle * width) <= size else (low, middle - 1)
    return low


def _decode_80(data: bytes, _samples: int) -> Digital:
    return np.frombuffer(data, dtype=np.uint8).astype(np.int64) - 128


def _decode_16(data: bytes, _samples: int) -> Digital:
    return np.frombuffer(data, dtype="<i2").astype(np.int64)


def _decode_24(data: bytes, _samples: int) -> Digital:
    low, middle, high = np.frombuffer(data, dtype=np.uint8).reshape(-1, 3).astype(np.int64).T
    return _signed(low + (middle << 8) + (high << 16), 24)


def _decode_32(data: bytes, _samples: int) -> Digital:
    return np.frombuffer(data, dtype="<i4").astype(np.int64)


def _decode_212(data: bytes, samples: int) -> Digital:
    # Two samples of 12 bits in three bytes: the middle one holds the upper four bits of both, the first one's below.
    padded = np.frombuffer(data + bytes(-len(data) % 3), dtype=np.uint8).reshape(-1, 3).astype(np.int64)
    low, middle, high = padded.T
    pairs = np.stack([low + ((middle & 0x0F) << 8), high + ((middle & 0xF0) << 4)], axis=1)
    return _signed(pairs.reshape(-1)[:samples], 12)


def _signed(values: Digital, bits: int) -> Digital:
    """Two's complement of so many bits."""
    return np.where(values >= 1 << (bits - 1), values - (1 << bits), values)


FORMATS: Final[Mapping[int, Format]] = {
    16: Format(invalid=-(2**15), bytes_needed=lambda n: 2 * n, decode=_decode_16),
    24: Format(invalid=-(2**23), bytes_needed=lambda n: 3 * n, decode=_decode_24),
    32: Format(invalid=-(2**31), bytes_needed=lambda n: 4 * n, decode=_decode_32),
    80: Format(invalid=-(2**7), bytes_needed=lambda n: n, decode=_decode_80),
    212: Format(invalid=-(2**11), bytes_needed=lambda n: 3 * (n // 2) + 2 * (n % 2), decode=_decode_212, padding=1),
}
