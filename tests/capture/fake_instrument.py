"""An instrument with Bluetooth behind the port of the radio, and what it may send."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from dataclasses import dataclass, field

from quietlimb.capture.bluetooth import Link, LinkError
from quietlimb.exchange.blood_pressure_service import CUFF_PRESSURE, MEASUREMENT

# Octets of tests/exchange/test_blood_pressure_service.py, where their oracles stand.
P1 = bytes.fromhex("DEF6F416F3FF07E4070114082B00B2F2018000")
P2 = bytes.fromhex("1F790051006A00E40705150A1E2D4800010600")
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
