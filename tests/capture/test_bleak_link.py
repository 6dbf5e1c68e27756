"""The radio by bleak: without an adapter, without the package, and with a fake radio under bleak's own client."""

from __future__ import annotations

import asyncio
import builtins
from collections.abc import Callable, Coroutine
from concurrent.futures import ThreadPoolExecutor
from typing import Any, TypeVar

import pytest
from bleak import BleakClient
from bleak.backends.characteristic import BleakGATTCharacteristic
from bleak.backends.client import BaseBleakClient
from bleak.backends.service import BleakGATTService, BleakGATTServiceCollection
from bleak.exc import BleakBluetoothNotAvailableError, BleakBluetoothNotAvailableReason, BleakError

from quietlimb.capture.bleak_link import bluetooth, connect
from quietlimb.capture.bluetooth import Link, LinkError
from quietlimb.capture.errors import CaptureError
from quietlimb.exchange.blood_pressure_service import CUFF_PRESSURE, FEATURE, MEASUREMENT, SERVICE

Result = TypeVar("Result")

C3 = bytes.fromhex("009100FF07FF07")  # 145 mmHg systolic, by hand from the layout of the service


def in_a_thread(work: Coroutine[Any, Any, Result]) -> Result:
    """Run to the end in a thread of its own: a test with a browser may have left a loop in this one."""
    with ThreadPoolExecutor(1) as pool:
        return pool.submit(asyncio.run, work).result()


class FakeRadio(BaseBleakClient):
    """An instrument with a reading to indicate and a feature, that hangs up soon."""

    def __init__(self, address: str, **options: Any) -> None:
        super().__init__(address, **options)
        self.services = BleakGATTServiceCollection()
        service = BleakGATTService(None, 1, SERVICE)
        self.services.add_service(service)
        for handle, (uuid, properties) in enumerate(((MEASUREMENT, ["indicate"]), (FEATURE, ["read"])), start=2):
            self.services.add_characteristic(
                BleakGATTCharacteristic(None, handle, uuid, properties, lambda: 20, service)
            )
        self._there = False

    @property
    def mtu_size(self) -> int:
        """The least."""
        return 23

    @property
    def is_connected(self) -> bool:
        """Between connect and disconnect."""
        return self._there

    async def connect(self, _pair: bool, **_options: Any) -> None:
        """Answer."""
        self._there = True

    async def disconnect(self) -> None:
        """Hang up, and tell."""
        self._there = False
        if self._disconnected_callback is not None:
            self._disconnected_callback()

    async def pair(self, *_args: Any, **_options: Any) -> None:
        """Never asked."""
        raise NotImplementedError

    async def unpair(self) -> None:
        """Never asked."""
        raise NotImplementedError

    async def read_gatt_char(self, _characteristic: Any, **_options: Any) -> bytearray:
        """The feature."""
        return bytearray(b"\x05\x00")

    async def read_gatt_descriptor(self, _descriptor: Any, **_options: Any) -> bytearray:
        """Never asked."""
        raise NotImplementedError

    async def write_gatt_char(self, _characteristic: Any, _data: Any, _response: bool) -> None:
        """Never asked."""
        raise NotImplementedError

    async def write_gatt_descriptor(self, _descriptor: Any, _data: Any) -> None:
        """Never asked."""
        raise NotImplementedError

    async def start_notify(self, _characteristic: Any, callback: Callable[[bytearray], None], **_options: Any) -> None:
        """Send the reading at once."""
        callback(bytearray(C3))

    async def stop_notify(self, _characteristic: Any) -> None:
        """Never asked."""
        raise NotImplementedError


def test_a_reading_comes_through_the_package() -> None:
    """Subscribing, reading and hanging up go through bleak's own client to the radio and back.

    Oracle: reference library, bleak 3.1.0, with a fake radio below it.
    """

    async def talk() -> tuple[list[bytes], bytes]:
        heard: list[bytes] = []
        link: Link = await connect("invented", backend=FakeRadio)
        await link.listen(MEASUREMENT, heard.append)
        feature = await link.read(FEATURE)
        with pytest.raises(LinkError):
            await link.listen(CUFF_PRESSURE, heard.append)
        await link.leave()
        await asyncio.wait_for(link.until_gone(), 1.0)
        return heard, feature

    heard, feature = in_a_thread(talk())
    assert heard == [C3]
    assert type(heard[0]) is bytes
    assert feature == b"\x05\x00"


@pytest.mark.parametrize(
    ("raised", "expected", "code"),
    [
        (FileNotFoundError(2, "No such file or directory"), CaptureError, "no-bluetooth"),
        (
            BleakBluetoothNotAvailableError("off", BleakBluetoothNotAvailableReason.POWERED_OFF),
            CaptureError,
            "no-bluetooth",
        ),
        (BleakError("not found"), LinkError, None),
        (TimeoutError(), LinkError, None),
    ],
)
def test_what_the_package_raises_becomes_a_sentence_or_patience(
    monkeypatch: pytest.MonkeyPatch, raised: Exception, expected: type[Exception], code: str | None
) -> None:
    """No bus and no adapter end the capture; an instrument that does not answer is called again.

    Oracle: by construction; that a machine without a system bus raises the bare FileNotFoundError was seen with bleak
    3.1.0 on Linux.
    """

    async def fail(_client: BleakClient, **_options: Any) -> None:
        raise raised

    monkeypatch.setattr(BleakClient, "connect", fail)
    with pytest.raises(expected) as found:
        in_a_thread(connect("invented", backend=FakeRadio))
    assert getattr(found.value, "code", None) == code


def test_without_the_package_the_sentence_says_how_to_get_it(monkeypatch: pytest.MonkeyPatch) -> None:
    """The extra is named.

    Oracle: by construction, the import fails as it does where nothing is installed.
    """
    real = builtins.__import__

    def without(name: str, *args: Any, **options: Any) -> Any:
        if name.split(".")[0] == "bleak":
            raise ImportError(name)
        return real(name, *args, **options)

    monkeypatch.setattr(builtins, "__import__", without)
    with pytest.raises(CaptureError, match=r"requirements/bluetooth\.txt") as refused:
        list(bluetooth("invented").frames())
    assert refused.value.code == "bleak-missing"
