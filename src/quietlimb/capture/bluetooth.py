"""An instrument with a mind of its own that speaks the Blood Pressure Service of Bluetooth LE.

It sends its final readings, and while it measures now and then the pressure in the cuff: something to show, nothing to
read pulses from. Many instruments send what they remember as soon as somebody listens, and hang up; that is no
trouble. The radio itself stands behind `Connect`, so that nothing here needs an adapter.
"""

from __future__ import annotations

import asyncio
import queue
import threading
import time
from collections import deque
from collections.abc import Awaitable, Callable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass
from typing import Final, Literal, Protocol

import numpy as np

from quietlimb.capture.errors import CaptureError
from quietlimb.capture.line_stream import stopped_without_a_word
from quietlimb.capture.source import MEASUREMENT_KEY, Frame
from quietlimb.engine.circumstances import Circumstances
from quietlimb.engine.recording import CutBy
from quietlimb.exchange.blood_pressure_service import (
    CUFF_PRESSURE,
    FEATURE,
    MEASUREMENT,
    InstrumentReading,
    decode_cuff_pressure,
    decode_feature,
    decode_measurement,
)
from quietlimb.exchange.errors import ProtocolError
from quietlimb.exchange.line_decoder import Trouble
from quietlimb.exchange.pressure_lines import RECEIVED_UTC, VERSION, clock_line, header_line

BEAT_S: Final = 0.2
RETRY_S: Final = 1.0
_REMEMBERED: Final = 512  # readings in which one that is sent again is known

Kind = Literal["measurement", "cuff_pressure", "feature"]


class LinkError(Exception):
    """The instrument does not answer just now, or has no such characteristic."""


@dataclass(frozen=True, slots=True, kw_only=True)
class InReach:
    """An instrument that says of itself that it offers the Blood Pressure Service.

    address      : by which it is called, as its system names it
    name         : as it tells it; empty where it tells none
    strength_dbm : of its signal, nearer to 0 is stronger [dBm]
    """

    address: str
    name: str
    strength_dbm: int


class Link(Protocol):
    """One connection to an instrument."""

    async def listen(self, characteristic: str, heard: Callable[[bytes], None]) -> None:
        """Have `heard` called with each value that is indicated or notified. LinkError: it has none."""

    async def read(self, characteristic: str) -> bytes:
        """Its value. LinkError: it has none."""

    async def until_gone(self) -> None:
        """Return when the instrument has hung up."""

    async def leave(self) -> None:
        """Hang up."""


# By address. LinkError: it does not answer now, as an instrument that sleeps; CaptureError: there is no use in waiting.
Connect = Callable[[str], Awaitable[Link]]


@dataclass(frozen=True, slots=True)
class _Heard:
    received_utc_s: float
    at_s: float
    kind: Kind
    octets: bytes


@dataclass(frozen=True, slots=True)
class _Happened:
    trouble: Trouble


@dataclass(frozen=True, slots=True)
class _Answered:
    """For the first time."""


@dataclass(frozen=True, slots=True)
class _Asked:
    """For its features, whether or not it told them."""


@dataclass(frozen=True, slots=True)
class _End:
    error: CaptureError | None


class Bluetooth:
    """A source of readings and of the pressure now.

    address : of the instrument, as its system names it
    connect : the radio
    retry_s : between two calls of an instrument that does not answer
    """

    is_waveform = began_cut = False
    cut_by: CutBy | None = None
    circumstances: Circumstances | None = None

    def __init__(self, address: str, connect: Connect, *, retry_s: float = RETRY_S) -> None:
        self._address, self._connect, self._retry_s = address, connect, retry_s
        self._events: queue.Queue[_Heard | _Happened | _Answered | _Asked | _End] = queue.Queue()
        self._closing = threading.Event()
        self._troubles: dict[Trouble, int] = {}
        self._header: dict[str, str] = {}
        self._known: deque[bytes] = deque(maxlen=_REMEMBERED)
        self._feature: int | None = None
        # Readings that came before the features were known, without which it cannot be said what was not detected.
        self._held: list[InstrumentReading] = []
        self._asked = False

    @property
    def header(self) -> Mapping[str, str]:
        """Its features, once they are known. Not its address, which would tell whose it is."""
        return dict(self._header)

    @property
    def feature(self) -> int | None:
        """What it says that it can detect; None as long as that is not known."""
        return self._feature

    @property
    def troubles(self) -> Mapping[Trouble, int]:
        """Readings sent again, octets that say nothing, and when it was away."""
        return dict(self._troubles)

    def close(self) -> None:
        """Let `frames` end."""
        self._closing.set()

    def frames(self) -> Iterator[Frame]:
        """Frames as something is heard; empty ones while nothing is."""
        thread = threading.Thread(target=lambda: asyncio.run(self._run()), name="quietlimb bluetooth", daemon=True)
        thread.start()
        try:
            while True:
                try:
                    event = self._events.get(timeout=BEAT_S)
                except queue.Empty:
                    if not thread.is_alive():
                        raise stopped_without_a_word() from None
                    yield Frame(received_utc_s=time.time())
                    continue
                if isinstance(event, _End):
                    yield self._released()
                    if event.error is not None:
                        raise event.error
                    return
                if isinstance(event, _Happened):
                    self._count(event.trouble)
                    yield self._released()
                elif isinstance(event, _Asked):
                    self._asked = True
                    yield self._released()
                elif isinstance(event, _Answered):
                    head = header_line("proto", VERSION) + header_line("source", "bluetooth blood pressure service")
                    yield Frame(received_utc_s=time.time(), lines=head)
                else:
                    yield self._frame(event)
        finally:
            self.close()

    def _frame(self, heard: _Heard) -> Frame:
        key = MEASUREMENT_KEY if heard.kind == "measurement" else heard.kind
        lines = clock_line(RECEIVED_UTC, heard.received_utc_s) + header_line(key, heard.octets.hex())
        readings: tuple[InstrumentReading, ...] = ()
        pressure: float | None = None
        try:
            if heard.kind == "feature":
                self._feature = decode_feature(heard.octets)
                self._header["feature"] = f"{self._feature:04x}"
            elif heard.kind == "cuff_pressure":
                pressure = decode_cuff_pressure(heard.octets)
            elif heard.octets in self._known:
                self._count("repeated")
            else:
                self._held.append(decode_measurement(heard.octets))
                self._known.append(heard.octets)
                if self._asked:
                    readings, self._held = tuple(self._held), []
        except ProtocolError:
            self._count("unreadable-line")
        if pressure is None:
            return Frame(received_utc_s=heard.received_utc_s, lines=lines, readings=readings)
        return Frame(
            time_s=np.array([heard.at_s]),
            cuff_pressure_mmhg=np.array([pressure]),
            received_utc_s=heard.received_utc_s,
            lines=lines,
        )

    def _released(self) -> Frame:
        held, self._held = tuple(self._held), []
        return Frame(received_utc_s=time.time(), readings=held)

    def _count(self, trouble: Trouble) -> None:
        self._troubles[trouble] = self._troubles.get(trouble, 0) + 1

    async def _run(self) -> None:
        """The thread: call, listen, and call again."""
        began, answered = time.monotonic(), False

        def hears(kind: Kind) -> Callable[[bytes], None]:
            return lambda octets: self._events.put(_Heard(time.time(), time.monotonic() - began, kind, bytes(octets)))

        while not self._closing.is_set():
            try:
                link = await self._connect(self._address)
            except CaptureError as error:
                self._events.put(_End(error))
                return
            except LinkError:
                await self._pause()
                continue
            self._events.put(_Happened("came-back") if answered else _Answered())
            answered = True
            try:
                with suppress(LinkError):  # it hung up while it was asked, which is its right
                    await self._attend(link, hears)
            finally:
                await link.leave()
            if not self._closing.is_set():
                self._events.put(_Happened("went-away"))
                await self._pause()
        self._events.put(_End(None))

    async def _attend(self, link: Link, hears: Callable[[Kind], Callable[[bytes], None]]) -> None:
        # What it remembers is sent at once and never again: listen for readings before anything else.
        await link.listen(MEASUREMENT, hears("measurement"))
        # Many instruments lack the first of these, and some the second.
        with suppress(LinkError):
            await link.listen(CUFF_PRESSURE, hears("cuff_pressure"))
        if self._feature is None:
            with suppress(LinkError):
                hears("feature")(await link.read(FEATURE))
        self._events.put(_Asked())
        gone = asyncio.ensure_future(link.until_gone())
        try:
            while not gone.done() and not self._closing.is_set():
                await asyncio.wait([gone], timeout=BEAT_S)
        finally:
            gone.cancel()

    async def _pause(self) -> None:
        until = time.monotonic() + self._retry_s
        while not self._closing.is_set() and time.monotonic() < until:
            await asyncio.sleep(min(BEAT_S, self._retry_s))
