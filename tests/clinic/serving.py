"""The clinic as a whole program, in a process of its own."""

from __future__ import annotations

import atexit
import contextlib
import os
import shutil
import signal
import socket
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from typing import Any

import psycopg

from clinic.postgresql import database_for

PROGRAM = [sys.executable, "-c", "from quietlimb.cli.main import main; main()"]
BARE = {name: value for name, value in os.environ.items() if not name.startswith(("QUIETLIMB_", "DJANGO_"))}


def surroundings(data: Path) -> dict[str, str]:
    """The environment of a clinic with this data folder: on PostgreSQL, where the tests are, with a database for it."""
    address = os.environ.get("QUIETLIMB_DATABASE")
    return {**BARE, "QUIETLIMB_DATABASE": database_for(address, data)} if address else BARE


def asked(data: Path, question: str) -> list[tuple[Any, ...]]:
    """Rows of the clinic's database, read past the clinic."""
    address = surroundings(data).get("QUIETLIMB_DATABASE")
    if address:
        with psycopg.connect(address) as connection:
            return connection.execute(question).fetchall()  # type: ignore[call-overload,no-any-return]
    with contextlib.closing(sqlite3.connect(data / "clinic.sqlite3")) as connection:
        return connection.execute(question).fetchall()


def started(data: Path, port: int, *words: str) -> tuple[subprocess.Popen[bytes], str]:
    """The clinic in a process of its own as soon as it answers, and what it said at the start."""
    log = data.parent / f"said-{port}"
    with log.open("wb") as file:
        process = subprocess.Popen(
            [*PROGRAM, "serve", "--data", str(data), "--port", str(port), *words],
            stdout=file,
            stderr=file,
            env=surroundings(data),
        )
    for _ in range(150):
        try:
            socket.create_connection(("127.0.0.1", port), timeout=1).close()
            break
        except OSError:
            assert process.poll() is None, log.read_text(encoding="utf-8")
            time.sleep(0.2)
    return process, log.read_text(encoding="utf-8")


def ended(process: subprocess.Popen[bytes], how: signal.Signals = signal.SIGTERM) -> None:
    """Stop it, kindly or not."""
    process.send_signal(how)
    process.wait(timeout=10)


@contextmanager
def serving(data: Path, port: int, *words: str) -> Iterator[str]:
    """The clinic, answering; what it said at the start."""
    process, said = started(data, port, *words)
    try:
        yield said
    finally:
        ended(process)


def verified(data: Path) -> subprocess.CompletedProcess[str]:
    """`quietlimb clinic verify`."""
    return subprocess.run(
        [*PROGRAM, "clinic", "verify", "--data", str(data)],
        capture_output=True,
        text=True,
        check=False,
        env=surroundings(data),
    )


def searched() -> str:
    """Where a program finds these tests, and the code under test where that is not the installed one."""
    tests = str(Path(__file__).parents[1])
    return os.pathsep.join([tests, *filter(None, [os.environ.get("PYTHONPATH")])])


FIRST_START = """
from pathlib import Path
from quietlimb.clinic import starting
starting.set_up(starting.configuration_for(data=Path({data!r}), lan_host=None))
starting.bring_up_to_date()
"""
FILL = """
from django.utils import timezone
from clinic.examples import invented_clinic
clinic = invented_clinic(timezone.now())
clinic.practice.invented = {invented}
clinic.practice.save()
"""


def filled(data: Path, *, invented: bool = False) -> None:
    """A data folder with the practice of the examples in it, its session started just now.

    invented : marked as invented on its pages, as no practice with patients is
    """
    filled_by(data, FILL.format(invented=invented))


def filled_by(data: Path, code: str) -> None:
    """A data folder as the clinic's first start leaves it, and what this code puts into it.

    Making all tables takes far longer than the rest, so a folder is made once and copied; each database of PostgreSQL
    is made from nothing.
    """
    if "QUIETLIMB_DATABASE" not in os.environ:
        shutil.copytree(_first_started(), data, dirs_exist_ok=True)  # a folder on a small disk is there already
    _run(data, FIRST_START.format(data=str(data)) + code)


@cache
def _first_started() -> Path:
    folder = Path(tempfile.mkdtemp(prefix="quietlimb-first-"))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    _run(folder / "data", FIRST_START.format(data=str(folder / "data")))
    return folder / "data"


def _run(data: Path, code: str) -> None:
    surrounding = {**surroundings(data), "PYTHONPATH": searched()}
    subprocess.run([sys.executable, "-c", code], check=True, env=surrounding)


IDLE = """
from pathlib import Path
from quietlimb.clinic import starting
starting.set_up(starting.configuration_for(data=Path({data!r}), lan_host=None))
from django.contrib.sessions.backends.db import SessionStore
for kept in SessionStore.get_model_class().objects.all():
    store = SessionStore(kept.session_key)
    if "touched_at" in store:
        store["touched_at"] -= 60 * {minutes}
        store.save()
"""


def rested(data: Path, minutes: int) -> None:
    """Nobody has touched any browser for so long."""
    code = IDLE.format(data=str(data), minutes=minutes)
    subprocess.run([sys.executable, "-c", code], check=True, env=surroundings(data))
