"""What an instrument tells by the Blood Pressure Service of Bluetooth: measurement, cuff pressure, feature.

The service is of 2022 (v1.1.1); the layout was read in its published v1.0 description. Only octets are looked at here,
so that nothing of this needs an adapter. What cannot be is asked about (`questions`) and never put right: an instrument
that says kPa and means mmHg is seen, not corrected.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Final, Literal

from quietlimb.engine.recording import HIGHEST_MMHG
from quietlimb.engine.units import mmhg_from_kpa
from quietlimb.exchange.errors import ProtocolError
from quietlimb.exchange.sfloat import Sfloat, is_doubtful, sfloat

SERVICE: Final = "00001810-0000-1000-8000-00805f9b34fb"
MEASUREMENT: Final = "00002a35-0000-1000-8000-00805f9b34fb"  # indicated
CUFF_PRESSURE: Final = "00002a36-0000-1000-8000-00805f9b34fb"  # notified
FEATURE: Final = "00002a49-0000-1000-8000-00805f9b34fb"  # read

ServiceUnit = Literal["mmHg", "kPa"]
Sign = Literal["movement", "loose cuff", "irregular pulse", "pulse too fast", "pulse too slow", "position"]
Seen = Literal["detected", "not detected", "not able to detect", "not known"]
Question = Literal[
    "pressure-impossible",  # no cuff has such a pressure: another unit than it says?
    "not-in-order",  # diastolic, mean, systolic do not rise
    "rate-impossible",
    "word-doubtful",  # senders disagree about what this word means
    "longer-than-told",  # more octets than its flags explain
    "flags-reserved",
    "status-reserved",
    "date-impossible",
]
# With a question of these the numbers are shown and not taken for a reading.
SPOILING: Final[frozenset[Question]] = frozenset(
    {"pressure-impossible", "not-in-order", "rate-impossible", "word-doubtful", "longer-than-told"}
)

_KPA, _DATED, _RATED, _USER, _STATUS = (1 << bit for bit in range(5))
_RESERVED_FLAGS: Final = 0xE0
_RESERVED_STATUS: Final = 0xFFC0
# sign -> bit of the feature, mask of the status, value under the mask. Position is bit 4 there and bit 5 here.
_SIGNS: Final[Mapping[Sign, tuple[int, int, int]]] = {
    "movement": (0, 0b1, 0b1),
    "loose cuff": (1, 0b10, 0b10),
    "irregular pulse": (2, 0b100, 0b100),
    "pulse too fast": (3, 0b11000, 0b01000),
    "pulse too slow": (3, 0b11000, 0b10000),
    "position": (4, 0b100000, 0b100000),
}
# Beyond these no cuff and no heart goes: invented limits, wider than any animal.
_LEAST_MMHG, _LEAST_RATE, _MOST_RATE = 10.0, 15.0, 450.0


@dataclass(frozen=True, slots=True, kw_only=True)
class DeviceDate:
    """The instrument's wall clock, verbatim: no zone, no fraction; 0 in year, month or day means not known."""

    year: int
    month: int
    day: int
    hour: int
    minute: int
    second: int

    def __str__(self) -> str:
        day = f"{self.year:04d}-{self.month:02d}-{self.day:02d}"
        return f"{day}T{self.hour:02d}:{self.minute:02d}:{self.second:02d}"


@dataclass(frozen=True, slots=True, kw_only=True)
class InstrumentReading:
    """One reading as an instrument sent it: like one typed from its display, but with what it says beside the numbers.

    systolic, mean, diastolic : in `unit`, with the precision that was sent; a word where it is no number
    pulse_rate  : /min; None where none was sent
    taken_at    : by the instrument's clock; None where none was sent
    user        : number of a person in the instrument's memory, never the animal's identity; None for unknown
    status      : 16 bits as sent; None where none was
    octets      : everything as sent
    questions   : what cannot be, or may mean two things
    """

    unit: ServiceUnit
    systolic: Sfloat
    mean: Sfloat
    diastolic: Sfloat
    pulse_rate: Sfloat | None
    taken_at: DeviceDate | None
    user: int | None
    status: int | None
    octets: bytes
    questions: tuple[Question, ...]

    @property
    def usable(self) -> bool:
        """Whether nothing about it has to be asked first, and it has a systolic pressure."""
        return self.systolic_mmhg is not None and not SPOILING.intersection(self.questions)

    @property
    def systolic_mmhg(self) -> float | None:
        """Systolic pressure [mmHg]; None where none was sent."""
        return _mmhg(self.systolic, self.unit)

    @property
    def mean_mmhg(self) -> float | None:
        """Mean pressure [mmHg]; None where none was sent."""
        return _mmhg(self.mean, self.unit)

    @property
    def diastolic_mmhg(self) -> float | None:
        """Diastolic pressure [mmHg]; None where none was sent."""
        return _mmhg(self.diastolic, self.unit)

    @property
    def pulse_rate_per_min(self) -> float | None:
        """Pulse rate [/min]; None where none was sent."""
        return float(self.pulse_rate) if isinstance(self.pulse_rate, Decimal) else None


def decode_measurement(octets: bytes) -> InstrumentReading:
    """The final reading of characteristic 0x2A35.

    Raises
    ------
    ProtocolError : `too-few-octets`: it ends before what its flags promise.
    """
    flags = octets[0] if octets else 0
    wanted = 7 + sum(size for bit, size in ((_DATED, 7), (_RATED, 2), (_USER, 1), (_STATUS, 2)) if flags & bit)
    if len(octets) < wanted:
        raise ProtocolError(
            "too-few-octets",
            f"the instrument sent {len(octets)} octets of the {wanted} that it announced",
            "take the reading from its display, and measure again",
        )
    at = 7
    taken_at = pulse_rate = user = status = None
    words = [_word(octets, place) for place in (1, 3, 5)]
    if flags & _DATED:
        taken_at = DeviceDate(
            year=_word(octets, at),
            **dict(zip(("month", "day", "hour", "minute", "second"), octets[at + 2 : at + 7], strict=True)),
        )
        at += 7
    if flags & _RATED:
        words.append(_word(octets, at))
        pulse_rate = sfloat(words[-1])
        at += 2
    if flags & _USER:
        user = octets[at] if octets[at] != 255 else None
        at += 1
    if flags & _STATUS:
        status = _word(octets, at)
    unit: ServiceUnit = "kPa" if flags & _KPA else "mmHg"
    systolic, diastolic, mean = (sfloat(word) for word in words[:3])
    asked: dict[Question, bool] = {
        "pressure-impossible": any(
            value is not None and not _LEAST_MMHG <= value <= HIGHEST_MMHG
            for value in (_mmhg(number, unit) for number in (systolic, diastolic, mean))
        ),
        "not-in-order": not _in_order([n for n in (diastolic, mean, systolic) if isinstance(n, Decimal)]),
        "rate-impossible": isinstance(pulse_rate, Decimal) and not _LEAST_RATE <= pulse_rate <= _MOST_RATE,
        "word-doubtful": any(is_doubtful(word) for word in words),
        "longer-than-told": len(octets) > wanted,
        "flags-reserved": bool(flags & _RESERVED_FLAGS),
        "status-reserved": status is not None and bool(status & _RESERVED_STATUS or status & 0b11000 == 0b11000),
        "date-impossible": taken_at is not None and not _possible(taken_at),
    }
    return InstrumentReading(
        unit=unit,
        systolic=systolic,
        mean=mean,
        diastolic=diastolic,
        pulse_rate=pulse_rate,
        taken_at=taken_at,
        user=user,
        status=status,
        octets=bytes(octets),
        questions=tuple(question for question, yes in asked.items() if yes),
    )


def decode_cuff_pressure(octets: bytes) -> float | None:
    """The pressure now in the cuff, of characteristic 0x2A36 [mmHg]; None where it is no number.

    It stands in the place of the systolic pressure; the other two are no numbers by definition. A few values a second:
    something to show, nothing to read pulses from.

    Raises
    ------
    ProtocolError : `too-few-octets`.
    """
    found = decode_measurement(octets)
    return found.systolic_mmhg


def decode_feature(octets: bytes) -> int:
    """The 16 bits of characteristic 0x2A49, of which an instrument with a check of its own sends more.

    Raises
    ------
    ProtocolError : `too-few-octets`.
    """
    if len(octets) < 2:
        raise ProtocolError(
            "too-few-octets",
            f"the instrument told its features in {len(octets)} octets of 2",
            "go on without: what it can detect is then not known",
        )
    return _word(octets, 0)


def signs(status: int | None, feature: int | None) -> dict[Sign, Seen]:
    """What an instrument saw beside the pressures, each kept apart from what it cannot see.

    status  : of a reading; None where none was sent
    feature : what it says that it can detect; None where it could not be read

    A bit that is set is believed whatever the feature says; one that is not set means "not detected" only where the
    instrument says that it could.
    """
    found: dict[Sign, Seen] = {}
    for sign, (bit, mask, value) in _SIGNS.items():
        if status is not None and status & mask == value:
            found[sign] = "detected"
        elif feature is None:
            found[sign] = "not known"
        elif not feature >> bit & 1:
            found[sign] = "not able to detect"
        else:
            found[sign] = "not known" if status is None or status & mask == mask != value else "not detected"
    return found


def _word(octets: bytes, at: int) -> int:
    return octets[at] | octets[at + 1] << 8


def _mmhg(number: Sfloat, unit: ServiceUnit) -> float | None:
    if not isinstance(number, Decimal):
        return None
    return mmhg_from_kpa(float(number)) if unit == "kPa" else float(number)


def _in_order(rising: list[Decimal]) -> bool:
    return rising == sorted(rising)


def _possible(date: DeviceDate) -> bool:
    return (
        (date.year == 0 or 1582 <= date.year <= 9999)
        and date.month <= 12
        and date.day <= 31
        and date.hour <= 23
        and date.minute <= 59
        and date.second <= 59
    )
