"""The invented clinic that the demo starts, as a whole program."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import time
from pathlib import Path

import click
import pytest

from clinic.ports import free_port
from clinic.serving import BARE
from clinic.test_serve import Browser
from quietlimb.cli.demo_clinic import MARK, emptied


def test_the_demo_s_clinic_lets_its_people_in_and_says_on_every_page_that_it_is_invented(tmp_path: Path) -> None:
    """It answers on this machine, with passwords of its own, and leaves a database that is named elsewhere alone.

    Oracle: by construction, the list of what the demo promises.
    """
    port, log = free_port(), tmp_path / "said"
    code = (
        "from pathlib import Path; from quietlimb.cli.demo_clinic import serve_invented_clinic; "
        f"serve_invented_clinic(Path({str(tmp_path / 'clinic')!r}), port={port})"
    )
    # a database that cannot be reached: were it asked, the demo would fail
    around = {**BARE, "QUIETLIMB_DATABASE": "postgresql://nobody:x@127.0.0.1:9/none", "BROWSER": "true"}
    with log.open("wb") as file:
        process = subprocess.Popen([sys.executable, "-u", "-c", code], stdout=file, stderr=file, env=around)
    try:
        for _ in range(600):
            said = log.read_text(encoding="utf-8")
            if "Stop it with" in said or process.poll() is not None:
                break
            time.sleep(0.2)
        password = re.search(r"the password ([a-z0-9-]+) and", said)
        assert password, said
        assert f"http://localhost:{port}/" in said
        for username in ("linnet", "heron", "avocet", "curlew"):
            browser = Browser(port)
            entered = {"username": username, "password": password[1]}
            assert browser.post("/sign-in", entered)[0] == 302
            status, page, _ = browser.ask("GET", "/")
            assert "INVENTED - not a patient" in page
            assert status == (403 if username == "curlew" else 200)
        assert (tmp_path / "clinic" / MARK).exists()
        if os.name == "posix":
            assert (tmp_path / "clinic").stat().st_mode & 0o077 == 0
    finally:
        process.send_signal(signal.SIGINT)
        process.wait(timeout=20)


def test_a_folder_that_the_demo_did_not_make_is_left_alone(tmp_path: Path) -> None:
    """Refused with a remedy, and its file stands. Oracle: by construction."""
    mine = tmp_path / "clinic" / "mine.txt"
    mine.parent.mkdir()
    mine.write_text("mine", encoding="utf-8")
    with pytest.raises(click.ClickException, match="name another place"):
        emptied(mine.parent)
    assert mine.read_text(encoding="utf-8") == "mine"
