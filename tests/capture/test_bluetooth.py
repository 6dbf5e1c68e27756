"""An instrument with Bluetooth, played by a fake behind the port of the radio."""

from __future__ import annotations

import asyncio
import time
from collections.abc import Callable
from dataclasses import dataclass, field

import pytest

from capture.listening import Heard, listen
from quietlimb.capture.bluetooth import Bluetooth, Link, LinkError
from quietlimb.capture.errors import CaptureError
from quietlimb.exchange.blood_pressure_service import CUFF_PRESSURE, FEATURE, MEASUREMENT

# Octets of tests/exchange/test_blood_pressure_service.py, where their oracles stand.
P1 = bytes.fromhex("DEF6F416F3FF07E4070114082B00B2F2018000")
P5 = bytes.fromhex("16780050005D00EA07")
C1 = bytes.fromhex("1EF5F548F338F4EA0703010A0F00BC00020500")
C3 = bytes.fromhex("009100FF07FF07")
C5 = bytes.fromhex("007800FF07FF07")


@dataclass
class FakeInstrument:
    """An instrument that sends this and then hangs up, at each call anew.

    remembers : sent as soon as somebody listens for readings
    shows     : pressures in the cuff, sent then
    feature   : None where it has none
    asleep    : calls that it does not answer first
    """

    remembers: list[list[bytes]]
    shows: list[bytes] = field(default_factory=list)
    feature: bytes | None = b"\x1f\x00"
    asleep: int = 0
    calls: int = 0
    left: int = 0
    asked: list[str] = field(default_factory=list)

    async def connect(self, address: str) -> Link:
        """Answer, or sleep on."""
        assert address == "invented"
        self.calls += 1
        if self.calls <= self.asleep:
            raise LinkError("asleep")
        return FakeLink(self, self.remembers.pop(0) if self.remembers else [])


@dataclass
class FakeLink:
    """One call."""

    instrument: FakeInstrument
    remembered: list[bytes]
    hung_up: asyncio.Event = field(default_factory=asyncio.Event)

    async def listen(self, characteristic: str, heard: Callable[[bytes], None]) -> None:
        """Send at once what is to be heard there."""
        self.instrument.asked.append(characteristic)
        if characteristic == MEASUREMENT:
            for octets in self.remembered:
                heard(octets)
        elif not self.instrument.shows:
            raise LinkError("no such characteristic")
        for octets in self.instrument.shows if characteristic == CUFF_PRESSURE else []:
            heard(octets)

    async def read(self, characteristic: str) -> bytes:
        """The feature, then hang up."""
        self.instrument.asked.append(characteristic)
        asyncio.get_running_loop().call_later(0.05, self.hung_up.set)
        if self.instrument.feature is None:
            raise LinkError("no such characteristic")
        return self.instrument.feature

    async def until_gone(self) -> None:
        """Wait until it has hung up; where its feature is not asked again, that is soon."""
        if len(self.instrument.asked) > 3:
            await asyncio.sleep(0.05)
            return
        await self.hung_up.wait()

    async def leave(self) -> None:
        """Counted."""
        self.instrument.left += 1


def source_of(instrument: FakeInstrument) -> Bluetooth:
    """A source that calls it every tenth of a second."""
    return Bluetooth("invented", instrument.connect, retry_s=0.1)


def readings(heard: Heard) -> list[float | None]:
    """The systolic pressures that were read."""
    return [reading.systolic_mmhg for frame in heard.frames for reading in frame.readings]


def enough(size: int) -> Callable[[Heard], bool]:
    """Whether that many readings have come."""
    return lambda heard: len(readings(heard)) >= size


def test_remembered_readings_and_the_pressure_now() -> None:
    """All readings come in their order, listened for before anything else; the pressure now is a sample beside them.

    Oracle: by construction, octets whose meaning is published or was computed by hand.
    """
    instrument = FakeInstrument([[P1, C1, C3]], shows=[C5])
    source = source_of(instrument)
    heard = listen(source, lambda heard: enough(3)(heard) and source.feature is not None)
    assert readings(heard) == [127.0, 152.5, 145.0]
    assert heard.pressure.tolist() == [120.0]
    assert instrument.asked[0] == MEASUREMENT
    assert set(instrument.asked) == {MEASUREMENT, CUFF_PRESSURE, FEATURE}
    assert source.feature == 0x1F
    assert not source.is_waveform
    assert instrument.left == instrument.calls


def test_what_is_kept_holds_every_octet() -> None:
    """The lines name each reading and each pressure as it was sent.

    Oracle: by construction.
    """
    source = source_of(FakeInstrument([[C1, P5]], shows=[C5]))
    heard = listen(source, lambda _heard: source.feature is not None)
    for octets, key in ((C1, "measurement"), (P5, "measurement"), (C5, "cuff_pressure"), (b"\x1f\x00", "feature")):
        assert f"#{key}={octets.hex()}\n".encode() in heard.lines
    assert source.troubles["unreadable-line"] == 1
    assert b"invented" not in heard.lines


def test_a_reading_that_is_sent_again_counts_once() -> None:
    """An instrument that hangs up and sends everything again is called again, and gives only what is new.

    Oracle: by construction.
    """
    instrument = FakeInstrument([[C1], [C1, C3]], asleep=2)
    source = source_of(instrument)
    heard = listen(source, enough(2))
    assert readings(heard) == [152.5, 145.0]
    assert source.troubles["repeated"] == 1
    assert source.troubles["went-away"] >= 1
    assert source.troubles["came-back"] >= 1
    assert instrument.calls >= 4


def test_an_instrument_without_feature_and_cuff_pressure_is_read() -> None:
    """What an instrument may lack, it may lack.

    Oracle: by construction, both are optional for what is asked here.
    """
    source = source_of(FakeInstrument([[C3]], feature=None))
    assert readings(listen(source, enough(1))) == [145.0]
    assert source.feature is None


def test_no_adapter_ends_the_capture_with_a_sentence() -> None:
    """What waiting cannot mend is an error.

    Oracle: by construction.
    """

    async def connect(_address: str) -> Link:
        raise CaptureError("no-bluetooth", "there is none", "plug one in")

    with pytest.raises(CaptureError, match="plug one in"):
        listen(Bluetooth("invented", connect))


def test_an_instrument_that_never_answers_can_be_closed() -> None:
    """Closing ends the source within a moment.

    Oracle: by construction. Tolerance: 1 s, several times what it waits.
    """
    source = source_of(FakeInstrument([], asleep=10**6))
    frames = source.frames()
    next(frames)
    source.close()
    began = time.monotonic()
    list(frames)
    assert time.monotonic() - began < 1.0
