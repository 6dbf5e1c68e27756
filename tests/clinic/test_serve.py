"""`quietlimb serve` and `quietlimb clinic verify` as whole programs, each in a process of its own."""

from __future__ import annotations

import http.client
import os
import re
import signal
import socket
import sqlite3
import subprocess
import time
from pathlib import Path
from urllib.parse import urlencode

import pytest

from clinic.ports import free_port
from clinic.serving import BARE, PROGRAM, serving, verified
from quietlimb.clinic.journal.protection import statements

FILLED = {
    "practice_name": "Practice at the Mill Pond",
    "time_zone": "UTC",
    "name": "Alder",
    "username": "alder",
    "password": "a quiet limb is asked for",
}


class Browser:
    """Just enough of one: keeps cookies, sends the form's token."""

    def __init__(self, port: int) -> None:
        self.port = port
        self.cookies: dict[str, str] = {}

    def ask(self, method: str, path: str, body: str = "", **headers: str) -> tuple[int, str, dict[str, str]]:
        """Status, body, headers."""
        connection = http.client.HTTPConnection("localhost", self.port, timeout=20)
        cookies = "; ".join(f"{name}={value}" for name, value in self.cookies.items())
        connection.request(method, path, body, {"Cookie": cookies, **headers})
        answer = connection.getresponse()
        for name, value in answer.getheaders():
            if name.lower() == "set-cookie":
                cookie, _, kept = value.split(";")[0].partition("=")
                self.cookies[cookie] = kept
        text = answer.read().decode()
        connection.close()
        return answer.status, text, {name.lower(): value for name, value in answer.getheaders()}

    def post(self, path: str, fields: dict[str, str]) -> tuple[int, str, dict[str, str]]:
        """Post a form as its page sent it."""
        token = re.search(r'name="csrfmiddlewaretoken" value="(\w+)"', self.ask("GET", path)[1])
        assert token
        body = urlencode({**fields, "csrfmiddlewaretoken": token[1]})
        return self.ask("POST", path, body, **{"Content-Type": "application/x-www-form-urlencoded"})


@pytest.mark.skipif("QUIETLIMB_DATABASE" in os.environ, reason="looks into the file of SQLite")
def test_from_an_empty_folder_to_a_practice_lead_who_is_signed_in(tmp_path: Path) -> None:
    """The first start prints a code; the page opens with it alone, makes the lead, is gone then; the journal holds.

    Oracle: by construction. The database is read with Python's own sqlite3.
    """
    data, port = tmp_path / "data", free_port()
    with serving(data, port) as said:
        code = re.search(r"\b([A-Z2-9]{4}-[A-Z2-9]{4})\b", said)
        assert code
        browser = Browser(port)
        assert browser.ask("GET", "/")[2]["location"] == "/sign-in?next=/"
        assert browser.ask("GET", "/sign-in")[2]["location"] == "/first"
        status, page, headers = browser.ask("GET", "/first")
        assert status == 200
        assert "default-src 'self'" in headers["content-security-policy"]
        assert browser.post("/first", {**FILLED, "code": "AAAA-AAAA"})[0] == 422
        assert browser.post("/first", {**FILLED, "code": code[1].lower().replace("-", " ")})[2]["location"] == "/"
        status, page, _ = browser.ask("GET", "/")
        assert status == 200
        assert "To begin with" in page
        assert browser.ask("GET", "/first")[0] == 404
        assert browser.ask("GET", "/static/clinic.css")[0] == 200
        assert browser.ask("GET", "/sign-in", Host="elsewhere.example")[0] == 400
    with sqlite3.connect(data / "clinic.sqlite3") as database:
        assert database.execute("PRAGMA journal_mode").fetchone() == ("wal",)
        password = database.execute("SELECT password FROM people_person").fetchone()[0]
        assert password.startswith("argon2$argon2id$v=19$m=102400,t=2,p=8$")  # the framework's own cost, Django 5.2
    database.close()
    with serving(data, port) as said:
        assert "Nobody can sign in" not in said
    done = verified(data)
    assert done.returncode == 0, done.stderr
    assert "3 journal entries" in done.stdout
    with sqlite3.connect(data / "clinic.sqlite3") as database:
        with pytest.raises(sqlite3.IntegrityError, match="stands for good"):
            database.execute("UPDATE journal_entry SET why = 'because' WHERE sequence = 2")
        database.execute("DROP TRIGGER journal_entry_no_update")
        database.execute("UPDATE journal_entry SET why = 'because' WHERE sequence = 2")
        database.commit()
        bare = verified(data)
        assert bare.returncode == 3
        assert "not protected against changes: journal_entry" in bare.stderr
        database.execute("CREATE TRIGGER journal_entry_no_update BEFORE UPDATE ON journal_entry BEGIN SELECT 1; END")
        database.commit()
        assert "not protected against changes: journal_entry" in verified(data).stderr
        database.execute("DROP TRIGGER journal_entry_no_update")
        for statement in statements("sqlite", "journal_entry"):
            database.execute(statement)
        database.commit()
    database.close()
    done = verified(data)
    assert done.returncode == 3
    assert "journal entry 2 (person added) has been changed" in done.stderr


def test_what_is_in_the_way_of_a_start_is_told_in_one_line(tmp_path: Path) -> None:
    """A port that is taken, a name of no machine or of another one, a folder that is being served, a database that a
    newer version has used, a file that is no database: no traceback, and no certificate for a wrong name.

    Oracle: by construction; the name and the address are of those kept for examples (RFC 2606, RFC 5737).
    """

    def start(port: int, *words: str) -> str:
        done = subprocess.run(
            [*PROGRAM, "serve", "--data", str(data), "--port", str(port), *words],
            capture_output=True,
            text=True,
            check=False,
            env=BARE,
            timeout=60,
        )
        assert done.returncode == 1
        assert "answers" not in done.stdout
        assert done.stderr.startswith("Error: ")
        assert done.stderr.count("\n") == 1
        return done.stderr

    data = tmp_path / "data"
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        assert "nothing can answer at 127.0.0.1" in start(taken.getsockname()[1])
    assert "the network knows no nobody.invalid; name this machine" in start(free_port(), "--lan", "nobody.invalid")
    assert "192.0.2.7 is not a name of this machine" in start(free_port(), "--lan", "192.0.2.7")
    assert not (data / "tls").exists()
    with serving(data, free_port()):
        assert f"the clinic in {data} is being served already" in start(free_port())
    with sqlite3.connect(data / "clinic.sqlite3") as database:
        database.execute(
            "INSERT INTO django_migrations (app, name, applied) VALUES ('people', '9999_later', '2100-01-01')"
        )
    database.close()
    assert "a newer version has used this database (people 9999_later)" in start(free_port())
    for name in ("clinic.sqlite3-wal", "clinic.sqlite3-shm"):
        (data / name).unlink(missing_ok=True)
    (data / "clinic.sqlite3").write_bytes(b"this is not a database " * 100)
    assert "the database cannot be used: file is not a database" in start(free_port())


def test_ctrl_c_stops_it_without_a_word(tmp_path: Path) -> None:
    """It ends well, and says nothing beyond what it said at the start.

    Oracle: by construction.
    """
    data, port = tmp_path / "data", free_port()
    process = subprocess.Popen(
        [*PROGRAM, "serve", "--data", str(data), "--port", str(port)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env=BARE,
    )
    said: list[str] = []
    while not said or not said[-1].startswith("Stop it"):
        said.append(process.stdout.readline())
        assert said[-1], process.stderr.read()
    browser = Browser(port)
    for _ in range(100):
        try:
            browser.ask("GET", "/sign-in")
            break
        except ConnectionError:
            time.sleep(0.1)
    process.send_signal(signal.SIGINT)
    assert process.communicate(timeout=20) == ("", "")
    assert process.returncode == 0
