"""From the lines of a pressure sensor to time and pressure, with everything that went wrong counted.

A sensor's counters decide what is believed. In the ordinary case both go on: the number by one, the clock by about one
interval. A number that skips is a gap, a line seen before is a repeat. Where they do anything else the line is doubted;
if the next ones go on from it, the sensor has begun anew and time is carried over by the host's clock; if not, it
was a stray.

So does its unit. Told once, another one may be a damaged line; what follows waits until the unit is told again. Told
twice running it is meant: then what waited is in the new unit, and a pause in time parts it from what came before.
"""

from __future__ import annotations

import re
from collections import Counter, deque
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from quietlimb.engine.recording import HIGHEST_MMHG, LONGEST_GAP_S, LOWEST_MMHG
from quietlimb.exchange.errors import ProtocolError, quoted
from quietlimb.exchange.pressure_lines import (
    CLOCK_WRAPS_US,
    RECEIVED_ANEW,
    RECEIVED_BEGIN,
    RECEIVED_END,
    RECEIVED_NOTHING,
    RECEIVED_UNFINISHED,
    RECEIVED_UTC,
    VERSION,
    BadLine,
    HeaderLine,
    SampleLine,
    parse_line,
)
from quietlimb.exchange.pressure_units import MMHG_PER_UNIT, SensorUnit, sensor_unit

# kind -> what one count of it is
Trouble = Literal[
    "cut-line",  # the first line after opening, where it is the end of one
    "unfinished-line",  # in whose middle the source ended
    "long-line",  # longer than a line may be
    "unreadable-line",  # of no known form
    "wrong-check",  # damaged on its way, or without the check that its neighbours have
    "before-unit",  # a sample before the unit was told
    "other-unit",  # another unit, told once
    "unit-changed",  # told twice running, and believed
    "gap",  # a place where samples are missing
    "sample-missing",  # one sample that did not come
    "repeated",  # a sample that had come before
    "stray",  # a sample whose counters fit to nothing
    "began-anew",  # the sensor's counters started again
    "out-of-range",  # a pressure that no cuff has
    "jumped",  # a pressure to which no air gets from the one before so soon
    "went-away",  # the source stopped answering
    "came-back",  # and is there again
    "silent",  # a second without anything
]

# All invented: long enough for every sensor of the protocol, short enough that a mistake shows at once.
LINES_WITHOUT_UNIT: Final = 5000
# Invented: an opened valve empties the smallest cuff with a time constant of some 0.1 s, and noise is smaller.
JUMPS_MMHG_PER_S, JUMPS_MMHG = 5000.0, 30.0
REMEMBERED: Final = 4096  # lines in which a repeat is known for one
MOST_KEYS: Final = 32
_LONGEST_STEP_US: Final = 1_000_000  # from one sample to the very next
# What may be left of a line whose beginning was lost: of a sample, of its check, of a header.
_END_OF_A_LINE: Final = re.compile(rb"[-0-9,.]*(\*?[0-9A-Fa-f]{0,4})?\r?|[a-z0-9_]*=[\x20-\x7e]*\r?")
# Of the host, and of no line of a sensor: after them the next line may still be the end of one.
_BESIDE: Final = (RECEIVED_UTC, RECEIVED_NOTHING, RECEIVED_BEGIN, RECEIVED_END)
_PARTED_US: Final = round(1.2e6 * LONGEST_GAP_S)  # no recording reaches over so long a pause


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Samples:
    """(n,) times by the sensor's clock, from its first sample, strictly increasing [s], and (n,) pressures [mmHg]."""

    time_s: NDArray[np.float64]
    cuff_pressure_mmhg: NDArray[np.float64]


class LineDecoder:
    """Reads lines in the order in which they came, and remembers what it needs to judge the next.

    header          : what the sensor told last, by key
    troubles        : how often each thing went wrong
    failed          : after which nothing more is read: `protocol-unknown`, `unit-unknown`, `unit-changed` to one that
                      is not known, `unit-missing`; None while all is well
    first_utc_s     : host clock when the first sample arrived, seconds since 1970; None without one
    received_utc_s  : host clock of the newest lines
    began_cut       : before the first sample nothing had come for a while
    ended           : whether a capture that tells its end was ended, in good order; None where it does not tell
    """

    def __init__(self) -> None:
        self.header: dict[str, str] = {}
        self.troubles: Counter[Trouble] = Counter()
        self.first_utc_s: float | None = None
        self.received_utc_s: float | None = None
        self.failed: ProtocolError | None = None
        self.began_cut = self._silent = False
        self.ended: bool | None = None
        self._unit: SensorUnit | None = None
        self._other_unit: str | None = None
        self._waiting: list[tuple[int, float]] = []  # samples since it was told: time [us], pressure as sent
        self._newest_given_us = self._not_before_us = 0
        self._newest_given: float | None = None  # [mmHg]
        self._interval_us: float | None = None
        self._checks = False
        self._opened = True
        self._first: SampleLine | None = None  # after opening, until the next one tells whether it was cut
        self._last: SampleLine | None = None
        self._last_us = 0  # time of `_last`, unwrapped, from the first sample
        self._last_utc_s: float | None = None
        self._doubted: SampleLine | None = None
        self._seen: dict[int, SampleLine] = {}
        self._order: deque[int] = deque()

    @property
    def unit(self) -> SensorUnit | None:
        """The unit that the sensor told; None before."""
        return self._unit

    @property
    def was_cut(self) -> bool:
        """Whether the sensor, and no hand, ended what came so far: since the newest sample it went away, fell silent,
        or told nothing that can be read."""
        unread_us = self._last_us - self._newest_given_us
        return self._silent or self.failed is not None or unread_us > 1e6 * LONGEST_GAP_S

    def feed(self, lines: Iterable[bytes]) -> Samples:
        """The samples of these lines, without their ends; up to the line that set `failed`, if one did."""
        time_us: list[int] = []
        pressure: list[float] = []
        if self.failed is None:
            try:
                for octets in lines:
                    self._read(octets, time_us, pressure)
            except ProtocolError as error:
                self.failed = error
        return Samples(time_s=np.array(time_us, dtype=np.float64) / 1e6, cuff_pressure_mmhg=np.array(pressure))

    def _read(self, octets: bytes, time_us: list[int], pressure: list[float]) -> None:
        line = parse_line(octets)
        if self._opened and not (isinstance(line, HeaderLine) and line.key == RECEIVED_ANEW):
            if isinstance(line, HeaderLine) and line.key in _BESIDE:
                self._tell(line, time_us, pressure)
                return
            self._opened = False
            # The end of a sample can pass for a shorter one: the next one tells. Where a check holds it is whole, and
            # the end of a header cannot pass for one, for its sign.
            if isinstance(line, SampleLine) and not line.checked:
                self._first = line
                return
            if isinstance(line, BadLine) and octets.strip() and (line.wrong_check or _END_OF_A_LINE.fullmatch(octets)):
                self.troubles["cut-line"] += 1
                return
        if isinstance(line, SampleLine):
            self._see_the_first(line, time_us, pressure)
            if self._checks and not line.checked:
                self.troubles["wrong-check"] += 1
                return
            self._checks = self._checks or line.checked
            self._take(line, time_us, pressure)
        elif isinstance(line, HeaderLine):
            self._tell(line, time_us, pressure)
        else:
            self._count_bad(line, octets)

    def _see_the_first(self, following: SampleLine, time_us: list[int], pressure: list[float]) -> None:
        """By the line after it: the first line was whole where its number is the one before, and is a sample then."""
        first, self._first = self._first, None
        if first is None:
            return
        if following.seq == first.seq + 1 and not following.checked:
            self._take(first, time_us, pressure)
        else:
            self.troubles["cut-line"] += 1

    def _count_bad(self, line: BadLine, octets: bytes) -> None:
        if octets.strip():
            self.troubles["wrong-check" if line.wrong_check else "unreadable-line"] += 1

    def _tell(self, line: HeaderLine, time_us: list[int], pressure: list[float]) -> None:
        key, value = line.key, line.value
        if key == RECEIVED_UNFINISHED:
            self.troubles["unfinished-line"] += 1
            return
        if key in (RECEIVED_BEGIN, RECEIVED_END):
            self.ended = key == RECEIVED_END
            return
        if key in (RECEIVED_UTC, RECEIVED_ANEW, RECEIVED_NOTHING):
            self._silent = self._silent or key == RECEIVED_NOTHING
            try:
                self.received_utc_s = float(value)
            except ValueError:
                self.troubles["unreadable-line"] += 1
            if key == RECEIVED_ANEW:
                self._opened, self._doubted, self._first = True, None, None
                # A sensor that was switched on again counts as it did the first time: no repeat.
                self._forget()
            return
        if key == "proto" and value != VERSION:
            raise ProtocolError(
                "protocol-unknown",
                f"the sensor speaks version {quoted(value)} of the lines",
                f"this program understands version {VERSION}",
            )
        if key == "unit":
            self._set_unit(value, time_us, pressure)
        if key == "rate_hz":
            self._set_rate(value)
        if key in self.header or len(self.header) < MOST_KEYS:
            self.header[key] = value

    def _set_unit(self, name: str, time_us: list[int], pressure: list[float]) -> None:
        unit = sensor_unit(name)
        if self._unit is None:
            if unit is None:
                raise ProtocolError(
                    "unit-unknown",
                    f"the sensor measures in {quoted(name)}",
                    f"it has to tell one of {', '.join(MMHG_PER_UNIT)}, spelt so",
                )
            self._unit = unit
        elif name == self._unit:
            self._other_unit = None
            self._release(time_us, pressure)
        elif name != self._other_unit:
            self._other_unit = name
            self.troubles["other-unit"] += 1
        elif unit is None:
            raise ProtocolError(
                "unit-changed",
                f"the sensor measured in {self._unit} and now tells {quoted(name)}",
                "what came before is kept; set the sensor to one unit and begin again",
            )
        else:
            self.troubles["unit-changed"] += 1
            self._unit, self._other_unit = unit, None
            self._not_before_us = self._newest_given_us + _PARTED_US
            self._release(time_us, pressure)

    def _release(self, time_us: list[int], pressure: list[float]) -> None:
        """What waited for the unit is in the one that stands now."""
        waited, self._waiting = self._waiting, []
        for at_us, sent in waited:
            self._give(at_us, sent, time_us, pressure)

    def _set_rate(self, value: str) -> None:
        try:
            rate = float(value)
        except ValueError:
            rate = 0.0
        if 1.0 <= rate <= 1e5:
            self._interval_us = 1e6 / rate
        else:
            self.troubles["unreadable-line"] += 1

    def _take(self, line: SampleLine, time_us: list[int], pressure: list[float]) -> None:
        if self._unit is None:
            self.troubles["before-unit"] += 1
            if self.troubles["before-unit"] > LINES_WITHOUT_UNIT:
                raise ProtocolError(
                    "unit-missing",
                    f"{LINES_WITHOUT_UNIT} samples and still no unit",
                    "the sensor has to send a line such as #unit=mmHg, and again at least every 5 s",
                )
            return
        last = self._last
        if last is None:
            self.first_utc_s, self.began_cut = self.received_utc_s, self._silent
            self._accept(line, 0, time_us, pressure)
            return
        skipped = line.seq - last.seq
        step_us = (line.device_us - last.device_us) % CLOCK_WRAPS_US
        if skipped == 1 and 0 < step_us <= _LONGEST_STEP_US:
            if self._interval_us is None:
                self._interval_us = float(step_us)
        elif self._seen.get(line.seq) == line:
            self.troubles["repeated"] += 1
            return
        elif self._goes_on(skipped, step_us):
            self.troubles["gap"] += 1
            self.troubles["sample-missing"] += skipped - 1
        else:
            self._doubt(line, time_us, pressure)
            return
        if self._doubted is not None:
            self.troubles["stray"] += 1
            self._doubted = None
        self._accept(line, self._last_us + step_us, time_us, pressure)

    def _goes_on(self, skipped: int, step_us: int) -> bool:
        """Whether a number that skipped and a clock that ran on tell of the same pause."""
        if skipped < 2 or step_us == 0:
            return False
        expected = skipped * self._interval_us if self._interval_us is not None else float(skipped * _LONGEST_STEP_US)
        slack = max(0.5 * expected, float(_LONGEST_STEP_US))
        return step_us <= expected + slack and (self._interval_us is None or step_us >= expected - slack)

    def _doubt(self, line: SampleLine, time_us: list[int], pressure: list[float]) -> None:
        """Keep a line back until the next one tells whether the sensor began anew there."""
        before = self._doubted
        if before is not None:
            step_us = (line.device_us - before.device_us) % CLOCK_WRAPS_US
            if line.seq == before.seq + 1 and 0 < step_us <= _LONGEST_STEP_US:
                self._count_the_leap(before)
                self._doubted = None
                self._forget()
                start_us = self._last_us + self._pause_us()
                self._accept(before, start_us, time_us, pressure)
                self._accept(line, start_us + step_us, time_us, pressure)
                return
            self.troubles["stray"] += 1
        self._doubted = line

    def _count_the_leap(self, to: SampleLine) -> None:
        """Ahead, with a clock that ran on: samples are missing. Anything else is a sensor that began anew."""
        last = self._last
        assert last is not None
        skipped, step_us = to.seq - last.seq, (to.device_us - last.device_us) % CLOCK_WRAPS_US
        # nothing is remembered where the port was opened anew
        if self._seen and 1 < skipped <= REMEMBERED and step_us < CLOCK_WRAPS_US // 2:
            self.troubles["gap"] += 1
            self.troubles["sample-missing"] += skipped - 1
        else:
            self.troubles["began-anew"] += 1

    def _forget(self) -> None:
        self._seen.clear()
        self._order.clear()

    def _pause_us(self) -> int:
        """How long the sensor was away, by the host's clock; a second where that was not told, so that nothing on one
        side is taken for the continuation of the other."""
        if self.received_utc_s is None or self._last_utc_s is None:
            return _LONGEST_STEP_US
        least = self._interval_us or 1.0
        return round(max(1e6 * (self.received_utc_s - self._last_utc_s), least))

    def _accept(self, line: SampleLine, at_us: int, time_us: list[int], pressure: list[float]) -> None:
        self._last, self._last_us, self._last_utc_s = line, at_us, self.received_utc_s
        self._silent = False
        if len(self._order) == REMEMBERED:
            self._seen.pop(self._order.popleft(), None)
        self._order.append(line.seq)
        self._seen[line.seq] = line
        if self._other_unit is None:
            self._give(at_us, line.pressure, time_us, pressure)
            return
        self._waiting.append((at_us, line.pressure))
        if len(self._waiting) > LINES_WITHOUT_UNIT:
            raise ProtocolError(
                "unit-missing",
                f"{LINES_WITHOUT_UNIT} samples since the sensor told {quoted(self._other_unit)} after {self._unit}, "
                "and no unit since",
                "what came before is kept; the sensor has to tell its unit again at least every 5 s",
            )

    def _give(self, at_us: int, sent: float, time_us: list[int], pressure: list[float]) -> None:
        if at_us < self._not_before_us:
            return
        assert self._unit is not None
        mmhg = sent * MMHG_PER_UNIT[self._unit]
        if LOWEST_MMHG <= mmhg <= HIGHEST_MMHG:
            self._see_whether_it_jumped(at_us, mmhg)
            time_us.append(at_us)
            pressure.append(mmhg)
            self._newest_given_us, self._newest_given = at_us, mmhg
        else:
            self.troubles["out-of-range"] += 1

    def _see_whether_it_jumped(self, at_us: int, mmhg: float) -> None:
        """Count a leap of the pressure from one sample to the next; the samples stay, for nobody knows which is right.

        A change of the unit that was told parts the recording, and is no leap.
        """
        passed_us = at_us - self._newest_given_us
        if self._newest_given is None or passed_us > _LONGEST_STEP_US or self._newest_given_us < self._not_before_us:
            return
        if abs(mmhg - self._newest_given) > max(JUMPS_MMHG, JUMPS_MMHG_PER_S * 1e-6 * passed_us):
            self.troubles["jumped"] += 1
