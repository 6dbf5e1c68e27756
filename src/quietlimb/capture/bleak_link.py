"""The radio of this machine, by the package bleak; the only file that knows it.

Not tried on a real adapter: none was at hand.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from typing import Any, Final

from quietlimb.capture.bluetooth import Bluetooth, InReach, Link, LinkError
from quietlimb.capture.errors import CaptureError
from quietlimb.exchange.blood_pressure_service import SERVICE

PATIENCE_S: Final = 10.0
LOOKS_S: Final = 10  # for instruments in reach, unless told otherwise [invented]


def bluetooth(address: str) -> Bluetooth:
    """A source of this instrument, by the radio of this machine."""
    return Bluetooth(address, connect)


async def connect(address: str, *, backend: Any = None) -> Link:
    """A connection to the instrument of this address.

    backend : of bleak, for tests; None for that of this system

    Raises
    ------
    LinkError    : it does not answer now.
    CaptureError : `bleak-missing`, `no-bluetooth`.
    """
    try:
        from bleak import BleakClient
        from bleak.exc import BleakBluetoothNotAvailableError, BleakError
    except ImportError:
        raise _missing() from None
    gone = asyncio.Event()
    further = {} if backend is None else {"backend": backend}
    try:
        client = BleakClient(address, lambda _client: gone.set(), services=[SERVICE], timeout=PATIENCE_S, **further)
        await client.connect()
    except BleakBluetoothNotAvailableError as error:
        raise _no_bluetooth(str(error)) from None
    except (BleakError, TimeoutError) as error:
        raise LinkError(str(error)) from None
    except OSError as error:
        # Without a system bus bleak lets the bare error of the missing socket through.
        raise _no_bluetooth(error.strerror or type(error).__name__) from None
    return _BleakLink(client, gone, BleakError)


async def in_reach(*, seconds: float = LOOKS_S, backend: Any = None) -> tuple[InReach, ...]:
    """The instruments in reach that offer the Blood Pressure Service, the strongest signal first; none is called.

    What does not tell its services while it waits to be called is not found.

    seconds : for which it listens; the radio has some seconds more to begin and to end
    backend : of bleak's scanner, for tests; None for that of this system

    Raises
    ------
    CaptureError : `bleak-missing`, `no-bluetooth`, `bluetooth-refused`, `bluetooth-silent`.
    """
    try:
        from bleak import BleakScanner
        from bleak.exc import BleakBluetoothNotAvailableError, BleakError
    except ImportError:
        raise _missing() from None
    further = {} if backend is None else {"backend": backend}
    try:
        heard = await asyncio.wait_for(
            BleakScanner.discover(seconds, return_adv=True, service_uuids=[SERVICE], **further), seconds + PATIENCE_S
        )
    except BleakBluetoothNotAvailableError as error:
        raise _no_bluetooth(str(error)) from None
    except BleakError as error:
        raise CaptureError(
            "bluetooth-refused",
            f"Bluetooth refuses to look who is in reach ({error})",
            "see that this user may use it, switch it off and on, and try again",
        ) from None
    except TimeoutError:
        raise CaptureError(
            "bluetooth-silent",
            f"Bluetooth has not answered within {seconds + PATIENCE_S:g} s",
            "switch it off and on, or plug the adapter in anew",
        ) from None
    except OSError as error:
        raise _no_bluetooth(error.strerror or type(error).__name__) from None
    found = (
        InReach(address=device.address, name=told.local_name or device.name or "", strength_dbm=told.rssi)
        for device, told in heard.values()
        if SERVICE in (uuid.lower() for uuid in told.service_uuids)  # another program's search may bring in more
    )
    return tuple(sorted(found, key=lambda each: (-each.strength_dbm, each.address)))


def _missing() -> CaptureError:
    return CaptureError(
        "bleak-missing",
        "the package for Bluetooth is not installed",
        "install it into the environment of Quietlimb: "
        "python -m pip install --require-hashes -r requirements/bluetooth.txt",
    )


def _no_bluetooth(reason: str) -> CaptureError:
    return CaptureError(
        "no-bluetooth",
        f"there is no Bluetooth on this machine, or it is switched off ({reason.lower()})",
        "switch it on or plug an adapter in; or type the readings from the display",
    )


class _BleakLink:
    def __init__(self, client: Any, gone: asyncio.Event, error: type[Exception]) -> None:
        self._client, self._gone, self._errors = client, gone, (error, OSError)

    async def listen(self, characteristic: str, heard: Callable[[bytes], None]) -> None:
        """By indication or notification, whichever the instrument offers."""
        try:
            # The buffer is bleak's own and used again.
            await self._client.start_notify(characteristic, lambda _sender, octets: heard(bytes(octets)))
        except self._errors as error:
            raise LinkError(str(error)) from None

    async def read(self, characteristic: str) -> bytes:
        """The value now."""
        try:
            return bytes(await self._client.read_gatt_char(characteristic))
        except self._errors as error:
            raise LinkError(str(error)) from None

    async def until_gone(self) -> None:
        """Wait for the instrument to hang up."""
        await self._gone.wait()

    async def leave(self) -> None:
        """Hang up; an instrument that already has may object."""
        try:
            await self._client.disconnect()
        except self._errors:
            return
