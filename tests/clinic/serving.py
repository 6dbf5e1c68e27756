"""The clinic as a whole program, in a process of its own."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

PROGRAM = [sys.executable, "-c", "from quietlimb.cli.main import main; main()"]
BARE = {name: value for name, value in os.environ.items() if not name.startswith(("QUIETLIMB_", "DJANGO_"))}


def free_port() -> int:
    """A port that nobody uses just now."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@contextmanager
def serving(data: Path, port: int) -> Iterator[str]:
    """The clinic, answering; what it said at the start."""
    log = data.parent / f"said-{port}"
    with log.open("wb") as file:
        process = subprocess.Popen(
            [*PROGRAM, "serve", "--data", str(data), "--port", str(port)], stdout=file, stderr=file, env=BARE
        )
    try:
        for _ in range(150):
            try:
                socket.create_connection(("127.0.0.1", port), timeout=1).close()
                break
            except OSError:
                assert process.poll() is None, log.read_text(encoding="utf-8")
                time.sleep(0.2)
        yield log.read_text(encoding="utf-8")
    finally:
        process.send_signal(signal.SIGTERM)
        process.wait(timeout=10)


FILL = """
from pathlib import Path
from django.utils import timezone
from quietlimb.clinic import starting
told = starting.configuration_for(data=Path({data!r}), lan_host=None)
starting.set_up(told)
starting.bring_up_to_date()
from clinic.examples import invented_clinic
invented_clinic(timezone.now())
"""


def filled(data: Path) -> None:
    """A data folder with the invented practice in it, its session started just now."""
    tests = str(Path(__file__).parents[1])
    code = FILL.format(data=str(data))
    subprocess.run([sys.executable, "-c", code], check=True, env={**BARE, "PYTHONPATH": tests})
