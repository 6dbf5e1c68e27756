"""A serial line without a cable: one end is an invented sensor, the other a port with a name that stays."""

from __future__ import annotations

import os
import tty
from pathlib import Path


class PseudoTerminal:
    """Both ends raw, or the line discipline would echo and rewrite line ends.

    port : the name to open; after `unplug` it leads nowhere, after `plug` to a new line
    """

    def __init__(self, folder: Path) -> None:
        self.port = folder / "sensor"
        self.plug()

    def plug(self) -> None:
        """Put the plug in."""
        self._sensor, computer = os.openpty()
        tty.setraw(self._sensor)
        tty.setraw(computer)
        self.port.symlink_to(os.ttyname(computer))
        # Held open, as a cable would be, until the program has opened it by name.
        self._computer = computer

    def unplug(self) -> None:
        """Pull the plug."""
        self.port.unlink()
        os.close(self._computer)
        os.close(self._sensor)

    def send(self, octets: bytes) -> None:
        """As the sensor: write all, waiting while the line is full."""
        rest = memoryview(octets)
        while rest:
            rest = rest[os.write(self._sensor, rest) :]
