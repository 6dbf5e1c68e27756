"""How quickly the clinic answers when many people type at once.

    python benchmarks/clinic_table.py [--people 20] [--seconds 45] [--stored 200000] [--seed 7300000]

Starts the clinic in a process of its own, on a database that already holds many readings. Each person has a session of
her own, sends a reading every 5 s, and a second screen asks for the same part of the page every 5 s. An answer holds
the charted pressure and the picture; the sentence on whether the readings are enough is asked for after each reading,
as the page does. Printed in `clinic_table.txt`: how long answers took, seen from outside, the processor time of the
server, and that of this load itself.
"""

from __future__ import annotations

import argparse
import http.client
import json
import os
import re
import socket
import subprocess
import sys
import tempfile
import time
import uuid
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from pathlib import Path
from urllib.parse import urlencode

import numpy as np

PASSWORD = "a quiet limb is asked for"
EVERY_S = 5.0
READINGS_IN_A_SESSION = 8
Took = dict[str, list[float]]
PROGRAM = [sys.executable, "-c", "from quietlimb.cli.main import main; main()"]


def fill(data: Path, people: int, stored: int) -> list[tuple[str, str]]:
    """A practice of so many nurses with a session each, beside many old readings: names and keys of series."""
    from quietlimb.clinic import starting

    starting.set_up(starting.configuration_for(data=data, lan_host=None))
    starting.bring_up_to_date()
    from django.contrib.auth.hashers import make_password

    from quietlimb.clinic.animals.models import Animal
    from quietlimb.clinic.people.models import Membership, Person, Practice, Role
    from quietlimb.clinic.sessions.models import Reading, Series, Session

    practice = Practice.objects.create(name="Practice at the Mill Pond")
    password, now = make_password(PASSWORD), datetime.now(tz=UTC)
    nurses = [Person(practice=practice, username=f"n{k}", name=f"Nurse {k}", password=password) for k in range(people)]
    Person.objects.bulk_create(nurses)
    Membership.objects.bulk_create(
        Membership(practice=practice, person=nurse, role=Role.NURSE, since=now.date()) for nurse in nurses
    )
    old = stored // READINGS_IN_A_SESSION
    animals = [Animal(practice=practice, name=f"Invented {k}", species="cat") for k in range(old // 20 + people)]
    Animal.objects.bulk_create(animals, batch_size=500)

    def session(k: int, animal: Animal, ago: timedelta, ending: str) -> Session:
        start = now - ago
        ended = start if ending else None
        nurse = nurses[k % people]
        return Session(
            practice=practice, animal=animal, started_at=start, started_by=nurse, ending=ending, ended_at=ended
        )

    sessions = [session(k, animals[k % len(animals)], timedelta(days=1 + k % 700), "closed") for k in range(old)]
    fresh = [session(k, animals[-1 - k], timedelta(0), "") for k in range(people)]
    Session.objects.bulk_create([*sessions, *fresh], batch_size=500)
    series = [Series(practice=practice, session=s, ordinal=1, technique="oscillometric") for s in [*sessions, *fresh]]
    Series.objects.bulk_create(series, batch_size=500)
    Reading.objects.bulk_create(
        (
            Reading(
                practice=practice,
                series=each,
                client_id=uuid.uuid4(),
                ordinal=k,
                taken_at=each.session.started_at + timedelta(minutes=k),
                saved_at=now,
                saved_by=nurses[0],
                systolic=150.0 + k,
            )
            for each in series[:old]
            for k in range(READINGS_IN_A_SESSION)
        ),
        batch_size=500,
    )
    return [(nurse.username, str(each.pk)) for nurse, each in zip(nurses, series[old:], strict=True)]


class Browser:
    """One connection that keeps its cookies."""

    def __init__(self, port: int) -> None:
        self.connection = http.client.HTTPConnection("localhost", port, timeout=60)
        self.cookies: dict[str, str] = {}
        self.token = ""

    def ask(self, method: str, path: str, body: str | None = None, kind: str = "") -> tuple[int, str, float]:
        """Status, body, seconds."""
        headers = {"Cookie": "; ".join(f"{name}={value}" for name, value in self.cookies.items())}
        if body is not None:
            headers |= {"Content-Type": kind, "X-CSRFToken": self.token}
        start = time.perf_counter()
        self.connection.request(method, path, body, headers)
        answer = self.connection.getresponse()
        text = answer.read().decode()
        seconds = time.perf_counter() - start
        for name, value in answer.getheaders():
            if name.lower() == "set-cookie":
                cookie, _, kept = value.split(";")[0].partition("=")
                self.cookies[cookie] = kept
        return answer.status, text, seconds

    def sign_in(self, name: str) -> None:
        """By name and password."""
        found = re.search(r'csrfmiddlewaretoken" value="(\w+)"', self.ask("GET", "/sign-in")[1])
        assert found
        self.token = found[1]
        form = urlencode({"username": name, "password": PASSWORD, "csrfmiddlewaretoken": self.token})
        assert self.ask("POST", "/sign-in", form, "application/x-www-form-urlencoded")[0] == 302
        found = re.search(r'X-CSRFToken": "(\w+)"', self.ask("GET", "/me")[1])
        assert found
        self.token = found[1]


def type_readings(browser: Browser, series: str, rng: np.random.Generator, end: float, took: Took) -> None:
    """A reading every 5 s, the first at a moment of its own."""
    time.sleep(float(rng.uniform(0.0, EVERY_S)))
    ordinal, wait = 0, time.perf_counter()
    while wait < end:
        systolic = float(np.round(150.0 + 30.0 * np.exp(-ordinal / 3.0) + rng.normal(0.0, 5.0)))
        reading = {
            "client_id": str(uuid.uuid4()),
            "ordinal": ordinal,
            "taken_at": datetime.now(tz=UTC).isoformat(),
            "systolic": systolic,
            "mean": systolic - 35.0,
            "diastolic": systolic - 55.0,
            "pulse_rate": 180,
        }
        status, _, seconds = browser.ask("POST", f"/series/{series}/readings", json.dumps(reading), "application/json")
        assert status == 201, status
        took["reading sent"].append(seconds)
        took["sentence"].append(browser.ask("GET", f"/series/{series}/sentence")[2])
        ordinal += 1
        wait += EVERY_S
        time.sleep(max(0.0, wait - time.perf_counter()))


def look_on(browser: Browser, series: str, rng: np.random.Generator, end: float, took: Took) -> None:
    """The part of the page every 5 s, on a screen that looks on."""
    time.sleep(float(rng.uniform(0.0, EVERY_S)))
    wait = time.perf_counter()
    while wait < end:
        status, _, seconds = browser.ask("GET", f"/series/{series}/part")
        assert status == 200, status
        took["part asked for"].append(seconds)
        wait += EVERY_S
        time.sleep(max(0.0, wait - time.perf_counter()))


def processes_of(server: int) -> list[int]:
    """The server and what it started, on Linux; the server alone elsewhere."""
    started = Path(f"/proc/{server}/task").glob("*/children")
    return [server, *(int(each) for kept in started for each in kept.read_text(encoding="ascii").split())]


def processor_s(pids: list[int]) -> float:
    """Processor time of processes so far, on Linux; nan elsewhere."""
    total = 0.0
    for pid in pids:
        try:
            told = Path(f"/proc/{pid}/stat").read_text(encoding="ascii").rsplit(")", 1)[1].split()
        except OSError:
            return float("nan")
        total += (int(told[11]) + int(told[12])) / os.sysconf("SC_CLK_TCK")
    return total


def main() -> None:
    """Fill, serve, load, print."""
    parser = argparse.ArgumentParser()
    for name, usual in (("people", 20), ("seconds", 45), ("stored", 200_000), ("seed", 7_300_000)):
        parser.add_argument(f"--{name}", type=int, default=usual)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        data = Path(folder) / "data"
        desks = fill(data, asked.people, asked.stored)
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            port = int(probe.getsockname()[1])
        server = subprocess.Popen([*PROGRAM, "serve", "--data", str(data), "--port", str(port)], stdout=subprocess.PIPE)
        try:
            assert server.stdout is not None
            while b"Stop it" not in server.stdout.readline():
                pass
            time.sleep(2.0)
            browsers = []
            for name, _ in desks:
                for _ in range(2):
                    browsers.append(Browser(port))
                    browsers[-1].sign_in(name)
                    browsers[-1].connection.close()
            browsers[1].ask("GET", f"/series/{desks[0][1]}/part")  # loads the engine
            took: Took = {"reading sent": [], "sentence": [], "part asked for": []}
            busy = os.getloadavg()[0] if hasattr(os, "getloadavg") else float("nan")
            pids = processes_of(server.pid)
            start, server_s, own_s = time.perf_counter(), processor_s(pids), time.process_time()
            seeds = np.random.default_rng(asked.seed).spawn(2 * len(desks))
            tasks = []
            with ThreadPoolExecutor(2 * len(desks)) as pool:
                for k, (_, series) in enumerate(desks):
                    for task, j in ((type_readings, 2 * k), (look_on, 2 * k + 1)):
                        tasks.append(pool.submit(task, browsers[j], series, seeds[j], start + asked.seconds, took))
            for each in tasks:
                each.result()
            elapsed = time.perf_counter() - start
            server_s, own_s = processor_s(pids) - server_s, time.process_time() - own_s
        finally:
            server.terminate()
            server.wait(timeout=10)
    print(f"{asked.people} people, {asked.stored} readings stored, {elapsed:.0f} s, {os.cpu_count()} cores")
    for name, times in took.items():
        figures = 1000.0 * np.percentile(times, [50, 95, 99, 100])
        told = "  ".join(
            f"{what} {ms:4.0f} ms" for what, ms in zip(("p50", "p95", "p99", "worst"), figures, strict=True)
        )
        print(f"{name:15s} {len(times):5d} answers  {told}")
    if hasattr(os, "getloadavg"):
        print(f"load of the machine: {busy:.1f} at the start, {os.getloadavg()[0]:.1f} at the end")
    server, load = 100 * server_s / elapsed, 100 * own_s / elapsed
    print(f"processor: server and what it started {server:.0f} %, this load {load:.0f} % of one core")


if __name__ == "__main__":
    main()
