"""A pressure sensor on a serial line."""

from __future__ import annotations

import os
import sys
import time
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from quietlimb.capture.errors import CaptureError
from quietlimb.capture.line_stream import LineStream

if TYPE_CHECKING:
    from serial import Serial

USUAL_BAUD: Final = 115_200
_WAIT_S: Final = 0.2
# A sensor sends a line every 5 ms: read some together, far below what anybody sees.
_GATHER_S: Final = 0.02
_MOST_OCTETS: Final = 16_384


@dataclass(frozen=True, slots=True)
class Port:
    """A serial port that this machine has; nobody knows what is behind it."""

    name: str
    about: str


def ports() -> list[Port]:
    """The serial ports of this machine. They are named and not opened: opening one may start what is behind it."""
    from serial.tools.list_ports import comports

    return [Port(port.device, port.description or "") for port in sorted(comports())]


def serial_line(name: str, *, baud: int = USUAL_BAUD) -> LineStream:
    """A source on the serial port `name`, opened when it is first listened to; waited for when it has gone.

    A port that is not there at first is `CaptureError` with code `no-port`.
    """
    return LineStream(lambda: _SerialOctets(name, baud), comes_back=True)


class _SerialOctets:
    def __init__(self, name: str, baud: int) -> None:
        from serial import Serial

        if sys.platform != "win32":
            import termios

            # what the system says of a port that goes while it is being opened
            refusals: tuple[type[Exception], ...] = (OSError, ValueError, termios.error)
        else:
            refusals = (OSError, ValueError)
        try:
            # Handshake lines are left alone: a pseudo-terminal has none, and toggling them restarts some sensors.
            self._port: Serial = Serial(name, baud, timeout=_WAIT_S, exclusive=True if os.name == "posix" else None)
        except refusals as error:
            raise CaptureError(
                "no-port",
                f"the serial port {name} cannot be opened ({_reason(error)})",
                "see that it is plugged in and not open elsewhere; quietlimb capture --list names the ports",
            ) from None

    def read(self) -> bytes:
        """What is there, a few milliseconds' worth together."""
        first: bytes = self._port.read(1)
        if not first:
            return b""
        if self._port.in_waiting < _MOST_OCTETS // 8:
            time.sleep(_GATHER_S)
        return first + bytes(self._port.read(min(self._port.in_waiting, _MOST_OCTETS)))

    def close(self) -> None:
        """Give the port back; one that has gone may object."""
        try:
            self._port.close()
        except OSError:
            return


def _reason(error: Exception) -> str:
    number = getattr(error, "errno", None)
    return os.strerror(number).lower() if number else str(error)[:80]
