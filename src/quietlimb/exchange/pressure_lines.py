"""The lines in which a pressure sensor speaks, version 1.

    #proto=1
    #unit=mmHg
    #rate_hz=200
    0,1000,0.4
    1,6000,0.6
    2,11000,1.1

ASCII, each line ended by LF or CR LF, 256 octets at most. `#key=value` tells something of the sensor; `unit` must be
told before the first pressure counts. Every other line is `seq,device_us,pressure`: a number that counts up by one
with each sample, the sensor's own clock in microseconds (it wraps at 2^32), and the pressure with a decimal point. A
line may end in `*` and four hexadecimal digits, the CRC-16 of all octets before the `*`; from the first such line on,
a line without is not believed.

The same lines are what a capture keeps on disk. There, keys that begin with `received` are the host's: when the lines
after it arrived, that the port was opened anew, that the sensor went away or fell silent, that the capture began and
that it ended in good order, and a line that was begun and never ended. A sensor must not use them, and a reader passes
over those that it does not know.
"""

from __future__ import annotations

import binascii
import re
from dataclasses import dataclass
from typing import Final

from quietlimb.exchange.errors import one_line

VERSION: Final = "1"
LONGEST_LINE_OCTETS: Final = 256
CLOCK_WRAPS_US: Final = 2**32
# Host clock, seconds since 1970 in UTC, at which the lines below it arrived; and the same when a port was opened anew.
RECEIVED_UTC: Final = "received_utc"
RECEIVED_ANEW: Final = "received_anew"
# The same when the source had gone, had ended by itself, or had been silent for a second: what stands above it was cut
# off there unless samples follow whose clock goes on.
RECEIVED_NOTHING: Final = "received_nothing"
# The same when the capture began, and when it was ended in good order: one that began and did not end broke off.
RECEIVED_BEGIN: Final = "received_begin"
RECEIVED_END: Final = "received_end"
# A line in whose middle the stream ended, as "number: what had come of it"; nothing is read from it.
RECEIVED_UNFINISHED: Final = "received_unfinished"
RESERVED: Final = b"#received"

_HEADER = re.compile(rb"#([a-z][a-z0-9_]{0,31})=([\x20-\x7e]*)")
_SAMPLE = re.compile(rb"(\d{1,10}),(\d{1,10}),([+-]?\d{1,6}(?:\.\d{1,9})?)")
_CHECKED = re.compile(rb"(.*)\*([0-9A-Fa-f]{4})", re.DOTALL)


@dataclass(frozen=True, slots=True)
class HeaderLine:
    """What a sensor, or the host, tells beside the samples."""

    key: str
    value: str
    checked: bool


@dataclass(frozen=True, slots=True)
class SampleLine:
    """One sample as it was sent.

    seq       : 0..2^32 - 1, counts up by one
    device_us : the sensor's clock, 0..2^32 - 1 [us]
    pressure  : in the unit of the header
    checked   : whether it carried a check that held
    """

    seq: int
    device_us: int
    pressure: float
    checked: bool


@dataclass(frozen=True, slots=True)
class UnfinishedLine:
    """A line in whose middle a stream ended: it may be the beginning of a longer one, so nothing is read from it.

    number : of the line, from 1, since the stream was opened
    octets : what had come of it
    """

    number: int
    octets: bytes

    @property
    def text(self) -> str:
        """What had come of it, fit to be shown."""
        return one_line(self.octets.decode("ascii", "backslashreplace"))

    @property
    def kept(self) -> bytes:
        """As it is kept on disk."""
        return header_line(RECEIVED_UNFINISHED, f"{self.number}: {self.text}")


@dataclass(frozen=True, slots=True)
class BadLine:
    """A line that says nothing.

    wrong_check : it had a check that did not hold, so that the line was damaged on its way; else it is of no known form
    """

    wrong_check: bool


Line = HeaderLine | SampleLine | BadLine


def crc16(octets: bytes) -> int:
    """CRC-16 with polynomial 0x1021, first value 0xFFFF, no reflection, nothing added: "123456789" gives 0x29B1."""
    return binascii.crc_hqx(octets, 0xFFFF)


def parse_line(octets: bytes) -> Line:
    """What a line says; `octets` without its line end."""
    checked = False
    if b"*" in octets:
        parts = _CHECKED.fullmatch(octets)
        if parts is not None:
            if crc16(parts[1]) != int(parts[2], 16):
                return BadLine(wrong_check=True)
            octets, checked = parts[1], True
    sample = _SAMPLE.fullmatch(octets)
    if sample is not None:
        seq, device_us = int(sample[1]), int(sample[2])
        if seq < CLOCK_WRAPS_US and device_us < CLOCK_WRAPS_US:
            return SampleLine(seq, device_us, float(sample[3]), checked)
        return BadLine(wrong_check=False)
    header = _HEADER.fullmatch(octets)
    if header is not None:
        return HeaderLine(header[1].decode("ascii"), header[2].decode("ascii").strip(), checked)
    return BadLine(wrong_check=False)


def sample_line(seq: int, device_us: int, pressure: float, *, check: bool = False) -> bytes:
    """A sample as a sensor sends it, with its LF.

    Both counters wrap at 2^32. The pressure has as many decimals as it needs, nine at most.
    """
    text = (b"%d,%d,%.9f" % (seq % CLOCK_WRAPS_US, device_us % CLOCK_WRAPS_US, pressure)).rstrip(b"0")
    return _ended(text + b"0" if text.endswith(b".") else text, check)


def header_line(key: str, value: object, *, check: bool = False) -> bytes:
    """Something told beside the samples, with its LF; signs outside ASCII and those that do not print become "?"."""
    told = "".join(c if " " <= c <= "~" else "?" for c in str(value))
    text = f"#{key}={told}".encode("ascii")[: LONGEST_LINE_OCTETS - 6]
    return _ended(text, check)


def clock_line(key: str, utc_s: float) -> bytes:
    """A line of the host that tells its clock [s since 1970, UTC], with its end."""
    return header_line(key, f"{utc_s:.6f}")


def _ended(text: bytes, check: bool) -> bytes:
    return text + (b"*%04X" % crc16(text) if check else b"") + b"\n"


class LineBuffer:
    """Octets as they arrive, cut into whole lines. Memory stays bounded whatever is sent.

    too_long : lines of more than `LONGEST_LINE_OCTETS`, left out whole
    ended    : lines that were ended since the last `clear`, those too that were left out
    """

    def __init__(self) -> None:
        self.too_long = self.ended = 0
        self._begun = b""
        self._skipping = False

    def add(self, octets: bytes) -> list[bytes]:
        """The lines that these octets complete, without their ends; what is not yet ended waits for the next call."""
        *whole, rest = (self._begun + octets).split(b"\n")
        self.ended += len(whole)
        if whole and self._skipping:
            whole, self._skipping = whole[1:], False
        self._begun = b"" if self._skipping else rest
        if len(self._begun) > LONGEST_LINE_OCTETS:
            self._begun, self._skipping = b"", True
            self.too_long += 1
        lines = [line.removesuffix(b"\r") for line in whole]
        kept = [line for line in lines if len(line) <= LONGEST_LINE_OCTETS]
        self.too_long += len(lines) - len(kept)
        return kept

    def clear(self) -> None:
        """Forget a line that was begun: its rest will not come, as after a port has gone."""
        self._begun, self._skipping, self.ended = b"", False, 0

    @property
    def unfinished(self) -> UnfinishedLine | None:
        """The line that was begun and waits for its end; None where there is none, or it is too long to be one."""
        return UnfinishedLine(self.ended + 1, self._begun) if self._begun else None
