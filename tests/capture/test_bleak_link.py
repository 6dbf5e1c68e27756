"""The radio by bleak: without an adapter, without the package, and with a fake radio under bleak's own client."""

from __future__ import annotations

import asyncio
import builtins
import time
from collections.abc import Callable, Coroutine
from concurrent.futures import ThreadPoolExecutor
from typing import Any, TypeVar

import pytest
from bleak import BleakClient, BleakScanner
from bleak.backends.characteristic import BleakGATTCharacteristic
from bleak.backends.client import BaseBleakClient
from bleak.backends.scanner import AdvertisementData, BaseBleakScanner
from bleak.backends.service import BleakGATTService, BleakGATTServiceCollection
from bleak.exc import BleakBluetoothNotAvailableError, BleakBluetoothNotAvailableReason, BleakError

from quietlimb.capture.bleak_link import bluetooth, connect, in_reach
from quietlimb.capture.bluetooth import InReach, Link, LinkError
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


class FakeScanner(BaseBleakScanner):
    """Three in reach: two that offer the service, one of them without a name, and one that offers the heart rate."""

    def __init__(self, callback: Any, service_uuids: list[str] | None, _mode: str, **_options: Any) -> None:
        super().__init__(callback, service_uuids)
        self.asked_for = service_uuids

    async def start(self) -> None:
        """Hear all of them at once, also what was not asked for, as beside another program that searches."""
        assert self.asked_for == [SERVICE]
        for address, name, services, strength in (
            ("00:00:5E:00:53:01", "invented cuff", [SERVICE.upper()], -71),
            ("00:00:5E:00:53:02", None, [SERVICE], -48),
            ("00:00:5E:00:53:03", "invented strap", ["0000180d-0000-1000-8000-00805f9b34fb"], -40),
        ):
            self.create_or_update_device(
                address, address, name, None, AdvertisementData(name, {}, {}, services, None, strength, ())
            )

    async def stop(self) -> None:
        """Nothing to end."""


class DeafScanner(FakeScanner):
    """A radio that never begins."""

    async def start(self) -> None:
        """Wait for ever."""
        await asyncio.Event().wait()


def test_those_in_reach_that_offer_the_service_are_found() -> None:
    """Only those that tell the Blood Pressure Service, the strongest signal first, within the time that was given.

    Oracle: reference library, bleak 3.1.0, with a fake radio below its scanner; 0x1810 is the service and 0x180D that
    of the heart rate by the assigned numbers of Bluetooth. Tolerance: 1 s beside the 0.2 s that it listens.
    """
    began = time.monotonic()
    found = in_a_thread(in_reach(seconds=0.2, backend=FakeScanner))
    assert 0.2 <= time.monotonic() - began < 1.2
    assert SERVICE.startswith("00001810-")
    assert found == (
        InReach(address="00:00:5E:00:53:02", name="", strength_dbm=-48),
        InReach(address="00:00:5E:00:53:01", name="invented cuff", strength_dbm=-71),
    )


def test_a_radio_that_never_begins_is_given_up(monkeypatch: pytest.MonkeyPatch) -> None:
    """It is not waited for for ever.

    Oracle: by construction. Tolerance: 2 s, a busy machine's share.
    """
    monkeypatch.setattr("quietlimb.capture.bleak_link.PATIENCE_S", 0.2)
    began = time.monotonic()
    with pytest.raises(CaptureError) as refused:
        in_a_thread(in_reach(seconds=0.1, backend=DeafScanner))
    assert refused.value.code == "bluetooth-silent"
    assert time.monotonic() - began < 2.3


@pytest.mark.parametrize(
    ("raised", "code"),
    [
        (FileNotFoundError(2, "No such file or directory"), "no-bluetooth"),
        (
            BleakBluetoothNotAvailableError("off", BleakBluetoothNotAvailableReason.POWERED_OFF),
            "no-bluetooth",
        ),
        (BleakError("not authorized"), "bluetooth-refused"),
    ],
)
def test_what_the_scanner_raises_becomes_a_sentence(
    monkeypatch: pytest.MonkeyPatch, raised: Exception, code: str
) -> None:
    """No bus, no adapter and no permission are told with what to do.

    Oracle: by construction; the bare FileNotFoundError as in the test of the connection below.
    """

    async def fail(_scanner: BleakScanner) -> None:
        raise raised

    monkeypatch.setattr(BleakScanner, "start", fail)
    with pytest.raises(CaptureError) as refused:
        in_a_thread(in_reach(seconds=0.1, backend=FakeScanner))
    assert refused.value.code == code
    assert refused.value.remedy


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
    with pytest.raises(CaptureError, match=r"requirements/bluetooth\.txt"):
        in_a_thread(in_reach(seconds=0.1))
