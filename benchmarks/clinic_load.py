"""Twenty people at the table: each sends a reading every 5 s and looks at the part of the page every 5 s.

Prints percentiles of the time from request to whole answer, charted pressure and picture included, and the CPU time of
server and load apart. The clinic runs as it always does, `quietlimb serve` with SQLite, on this machine; the load is
a process beside it. The database is filled with sessions of six readings first, straight into its tables and without
journal entries, because only their number is wanted; what the people send goes the whole way. Everybody begins at a
moment of her own by a seeded draw, so that some ask at the same time.

    python benchmarks/clinic_load.py > benchmarks/clinic_load.txt
"""

from __future__ import annotations

import argparse
import http.client
import os
import re
import resource
import secrets
import socket
import statistics
import subprocess
import sys
import tempfile
import threading
import time
import uuid
from datetime import UTC, datetime, timedelta
from json import dumps
from pathlib import Path
from random import Random
from urllib.parse import urlencode

PEOPLE = 20
EVERY_S = 5.0
SEED = 20
PASSWORD = secrets.token_urlsafe(12)


def fill(data: Path, readings: int) -> list[tuple[str, str]]:
    """A practice with so many old readings, and an open session for each person: her name and its address."""
    from quietlimb.clinic import starting

    starting.set_up(starting.configuration_for(data=data, lan_host=None))
    starting.bring_up_to_date()
    from django.contrib.auth.hashers import make_password

    from quietlimb.clinic.animals.models import Animal
    from quietlimb.clinic.people.models import Membership, Person, Practice, Role
    from quietlimb.clinic.sessions.models import Reading, Series, Session

    random, now = Random(SEED), datetime.now(UTC)
    practice = Practice.objects.create(name="Practice at the Mill Pond", invented=True)
    hashed = make_password(PASSWORD)
    people = [
        Person.objects.create(practice=practice, username=f"person-{k}", name=f"Person {k}", password=hashed)
        for k in range(PEOPLE)
    ]
    for person in people:
        Membership.objects.create(practice=practice, person=person, role=Role.NURSE, since="2020-01-01")
    animals = Animal.objects.bulk_create(
        Animal(practice=practice, name=f"Animal {k}", species=random.choice(("cat", "dog"))) for k in range(500)
    )

    def session(k: int, at: datetime, **ended: object) -> Session:
        animal, by = animals[k % len(animals)], people[k % PEOPLE]
        return Session(practice=practice, animal=animal, started_at=at, started_by=by, read_by=by, **ended)

    def series(of: Session) -> Series:
        circumstances = {"site": "forelimb", "side": "left", "position": "chest-down"}
        return Series(practice=practice, session=of, ordinal=1, technique="oscillometric", **circumstances)

    for first in range(0, readings // 6, 2000):
        count = min(2000, readings // 6 - first)
        times = [now - timedelta(days=700 * random.random() + 1) for _ in range(count)]
        sessions = [session(first + k, at, ending="closed", ended_at=at) for k, at in enumerate(times)]
        opened = [series(each) for each in sessions]
        rows = []
        for each in opened:
            level = random.gauss(145, 20)
            for k in range(6):
                at = each.session.started_at + timedelta(minutes=k)
                top = round(level + random.gauss(12 - 2 * k, 5))
                rows.append(
                    Reading(
                        practice=practice, series=each, client_id=uuid.UUID(int=random.getrandbits(128)), ordinal=k,
                        taken_at=at, saved_at=at, saved_by_id=each.session.started_by_id, systolic=top, mean=top - 35,
                        diastolic=top - 55, pulse_rate=150,
                    )
                )  # fmt: skip
        Session.objects.bulk_create(sessions)
        Series.objects.bulk_create(opened)
        Reading.objects.bulk_create(rows)
    tables = [session(k, now) for k in range(PEOPLE)]
    Session.objects.bulk_create(tables)
    Series.objects.bulk_create(series(each) for each in tables)
    return [(person.username, f"/sessions/{table.pk}") for person, table in zip(people, tables, strict=True)]


class Nurse:
    """One person with a browser's connection, cookies and token."""

    def __init__(self, port: int, name: str, table: str) -> None:
        self.connection = http.client.HTTPConnection("localhost", port, timeout=60)
        self.cookies: dict[str, str] = {}
        page = self.ask("GET", "/sign-in")[1]
        token = re.search(r'name="csrfmiddlewaretoken" value="(\w+)"', page)
        form = {"username": name, "password": PASSWORD, "csrfmiddlewaretoken": token[1] if token else ""}
        self.ask("POST", "/sign-in", urlencode(form), **{"Content-Type": "application/x-www-form-urlencoded"})
        page = self.ask("GET", table)[1]
        found = re.search(r'data-post="(/series/[0-9a-f-]+)/readings"', page), re.search(r'data-token="(\w+)"', page)
        if found[0] is None or found[1] is None:
            raise SystemExit(f"{name} did not get to the table")
        self.series, self.token = found[0][1], found[1][1]
        self.random, self.sent = Random(name), 0
        self.level = self.random.gauss(150, 15)
        self.took: dict[str, list[float]] = {"reading": [], "part": []}
        self.troubles = 0
        self.connection.close()  # it opens by itself; the others sign in first, and an idle one is shut from there

    def ask(self, method: str, path: str, body: str = "", **headers: str) -> tuple[int, str]:
        """Status and text of the answer."""
        cookies = "; ".join(f"{name}={value}" for name, value in self.cookies.items())
        self.connection.request(method, path, body, {"Cookie": cookies, **headers})
        answer = self.connection.getresponse()
        for value in answer.headers.get_all("Set-Cookie", []):
            name, _, kept = value.split(";")[0].partition("=")
            self.cookies[name] = kept
        return answer.status, answer.read().decode()

    def work(self, offset_s: float, until: float) -> None:
        """A reading, half a period later a look, and so on, by the clock and not by the answers."""
        due, k = time.perf_counter() + offset_s, 0
        while due < until:
            time.sleep(max(0.0, due - time.perf_counter()))
            begun = time.perf_counter()
            kind, act = ("reading", self.send) if k % 2 == 0 else ("part", self.look)
            try:
                good = act()
            except (OSError, http.client.HTTPException):
                self.connection.close()
                good = False
            self.took[kind].append(time.perf_counter() - begun)
            self.troubles += not good
            due, k = due + EVERY_S / 2, k + 1

    def send(self) -> bool:
        """One reading; whether the answer is 201 with the part of the page."""
        top = round(self.level + self.random.gauss(8 * 0.7**self.sent, 4))
        told = {
            "client_id": str(uuid.uuid4()), "ordinal": self.sent, "taken_at": datetime.now(UTC).isoformat(),
            "systolic": top, "mean": top - 35, "diastolic": top - 55, "pulse_rate": 150,
        }  # fmt: skip
        self.sent += 1
        headers = {"Content-Type": "application/json", "X-CSRFToken": self.token}
        status, text = self.ask("POST", f"{self.series}/readings", dumps(told), **headers)
        return status == 201 and 'class="picture"' in text

    def look(self) -> bool:
        """The part of the page."""
        status, text = self.ask("GET", f"{self.series}/part")
        return status == 200 and 'class="picture"' in text


def percentile(values: list[float], share: float) -> float:
    """In ms."""
    return 1000 * statistics.quantiles(values, n=1000, method="inclusive")[round(1000 * share) - 1]


def started(data: Path) -> tuple[subprocess.Popen[bytes], int]:
    """The clinic as soon as it answers."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = int(probe.getsockname()[1])
    program = [sys.executable, "-c", "from quietlimb.cli.main import main; main()", "serve"]
    server = subprocess.Popen([*program, "--data", str(data), "--port", str(port)], stdout=subprocess.DEVNULL)
    while True:
        try:
            socket.create_connection(("127.0.0.1", port), timeout=1).close()
            return server, port
        except OSError:
            if server.poll() is not None:
                raise SystemExit("the clinic did not start") from None
            time.sleep(0.2)


def cpu_s(pid: int) -> float:
    """CPU time of a process [s], user and system; Linux."""
    fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def main() -> None:
    """Fill, start, load, print."""
    options = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    options.add_argument("--readings", type=int, default=200_000, help="in the database beforehand")
    options.add_argument("--seconds", type=float, default=60.0, help="of load")
    asked = options.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        busy = os.getloadavg()[0]
        begun = time.perf_counter()
        tables = fill(Path(folder) / "data", asked.readings)
        print(f"{asked.readings // 6 * 6} readings in the database, filled in {time.perf_counter() - begun:.0f} s")
        server, port = started(Path(folder) / "data")
        try:
            people = [Nurse(port, name, table) for name, table in tables]
            random = Random(SEED)
            own, theirs, begun = resource.getrusage(resource.RUSAGE_SELF), cpu_s(server.pid), time.perf_counter()
            threads = [
                threading.Thread(target=each.work, args=(EVERY_S * random.random(), begun + asked.seconds))
                for each in people
            ]
            for each in threads:
                each.start()
            for each in threads:
                each.join()
            lasted = time.perf_counter() - begun
            now = resource.getrusage(resource.RUSAGE_SELF)
            load = now.ru_utime + now.ru_stime - own.ru_utime - own.ru_stime
            served = cpu_s(server.pid) - theirs
        finally:
            server.terminate()
            server.wait()
    print(f"{os.cpu_count()} processors; load {busy:.1f} before the start, {os.getloadavg()[0]:.1f} at the end")
    print(f"{PEOPLE} people for {lasted:.0f} s, each with {asked.seconds / EVERY_S:.0f} readings; answers in ms:")
    for kind in ("reading", "part"):
        took = [value for each in people for value in each.took[kind]]
        figures = ", ".join(
            f"{name} {percentile(took, share):.0f}" for name, share in (("p50", 0.5), ("p95", 0.95), ("p99", 0.99))
        )
        print(f"  {kind:8} {len(took):5d} answers: {figures}, longest {1000 * max(took):.0f}")
    print(f"  not as they should be: {sum(each.troubles for each in people)}")
    print(f"CPU: server {served:.1f} s ({100 * served / lasted:.0f} % of one core), the load itself {load:.1f} s")


if __name__ == "__main__":
    main()
