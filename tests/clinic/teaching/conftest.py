"""A learner in the middle of a case, whose captures run in this thread."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import pytest
from django.test import Client

from clinic.examples import Clinic
from quietlimb.clinic.live import running
from quietlimb.clinic.people.models import Person
from quietlimb.clinic.sessions.models import Session
from quietlimb.clinic.stores import TEACHING
from quietlimb.clinic.teaching import services
from quietlimb.clinic.teaching.models import TrainingRun
from quietlimb.clinic.teaching.room import ROOM

SignIn = Callable[[Person], Client]


@pytest.fixture(autouse=True)
def _at_once(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """A capture is over when it has been started: as fast as possible, and in this thread, where the test's
    transaction is."""
    monkeypatch.setattr(running.Running, "start", lambda self: self.run())
    monkeypatch.setattr(services, "SPEED", 1e6)
    yield
    running.CAPTURES.__init__()  # type: ignore[misc]


@dataclass(frozen=True, kw_only=True)
class Learning:
    """Somebody at the table of a case."""

    browser: Client
    person: Person
    run: TrainingRun
    session: Session

    def inflate(self, **told: object) -> int:
        """Inflate once with these choices; the status of the answer."""
        series = self.session.series.order_by("ordinal").last()
        assert series is not None
        chosen = {"inflate_to": "190", "fall": "6", "limb_free": "on", "tail_held": "on", **told}
        sent = {name: value for name, value in chosen.items() if value is not None}
        return self.browser.post(f"{ROOM}/training/series/{series.pk}/inflate", sent).status_code

    def post(self, what: str, **sent: object) -> int:
        """Post to a page of the session; the status of the answer. Before the debrief the owner is told of no value,
        unless `saying` is another."""
        told = {"saying": "no value", **sent} if what == "debrief" else sent
        return self.browser.post(f"{ROOM}/training/sessions/{self.session.pk}/{what}", told).status_code

    def end(self, ending: str = "closed") -> None:
        """End the session on the clinic's own page."""
        answer = self.browser.post(f"{ROOM}/sessions/{self.session.pk}/end", {"ending": ending})
        assert answer.status_code == 302


@pytest.fixture
def learning(clinic: Clinic, signed_in: SignIn) -> Learning:
    """The nurse with the cat just out of the car: in its carrier, a fitting cuff on the left forelimb."""
    browser = signed_in(clinic.nurse)
    answer = browser.post("/teaching/begin", {"case": "just-arrived", "time": "fast"})
    assert answer.status_code == 302
    start = answer.headers["Location"]
    cuff = TrainingRun.objects.using(TEACHING).get().practice_id
    from quietlimb.clinic.equipment.models import Cuff

    fitting = Cuff.objects.using(TEACHING).get(practice=cuff, width_cm=3.2)
    answer = browser.post(
        start,
        {
            "technique": "oscillometric",
            "planned_readings": "5",
            "place": "carrier",
            "position": "chest-down",
            "site": "forelimb",
            "side": "left",
            "cuff": str(fitting.pk),
            "limb_circumference_cm": "8",
        },
    )
    assert answer.status_code == 302, answer.content.decode()
    run = TrainingRun.objects.using(TEACHING).get()
    return Learning(
        browser=browser, person=clinic.nurse, run=run, session=Session.objects.using(TEACHING).get(animal=run.animal_id)
    )
