"""The pages of a live capture. Oracle: by construction."""

from __future__ import annotations

import json
import os
import uuid
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from django.test import Client

from clinic.examples import Clinic
from quietlimb.clinic.journal.models import Entry
from quietlimb.clinic.live import left
from quietlimb.clinic.live import running as live
from quietlimb.clinic.live.board import Board
from quietlimb.clinic.people.expiry import TOUCHED_AT
from quietlimb.clinic.people.models import Person
from quietlimb.clinic.sessions.models import Series
from quietlimb.exchange.pressure_lines import header_line, sample_line

SignIn = Callable[[Person], Client]


class Told:
    """A capture that only stands there."""

    def __init__(self, now_mmhg: float | None) -> None:
        self.now_mmhg, self.board, self.is_alive, self.stopped = now_mmhg, Board(), True, False
        self.name, self.is_full, self.lost, self.air = "first", True, "", ""

    def stop(self) -> None:
        self.stopped = True

    def air_is_out(self) -> None:
        self.air = ""


@pytest.fixture
def standing(series: Series, monkeypatch: pytest.MonkeyPatch) -> Iterator[Told]:
    """A capture of the series with 120 mmHg in the cuff."""
    told = Told(120.4)
    monkeypatch.setattr(live.CAPTURES, "of", lambda key: told if key == series.pk else None)
    monkeypatch.setattr("quietlimb.clinic.live.panel.listening_into", lambda _series: None)
    return told


def test_a_source_that_was_not_offered_is_not_opened(clinic: Clinic, series: Series, signed_in: SignIn) -> None:
    browser = signed_in(clinic.nurse)
    for value in ("", "serial:/dev/null", "serial:/etc/passwd", "file:/etc/passwd", "simulated:1"):
        answer = browser.post(f"/series/{series.pk}/live", {"source": value})
        assert answer.status_code == 422, value
        assert "plug it in" in answer.json()["says"]


def test_a_patients_series_offers_no_invented_animal(clinic: Clinic, series: Series, signed_in: SignIn) -> None:
    clinic.practice.invented = False
    clinic.practice.save()
    browser = signed_in(clinic.nurse)
    assert "an invented animal" not in browser.get(f"/sessions/{series.session_id}").text
    assert browser.post(f"/series/{series.pk}/live", {"source": "simulated"}).status_code == 422


def test_a_session_that_has_ended_is_not_listened_to(clinic: Clinic, series: Series, signed_in: SignIn) -> None:
    browser = signed_in(clinic.nurse)
    browser.post(f"/sessions/{series.session_id}/end", {"ending": "closed", "sure": "closed"})
    answer = browser.post(f"/series/{series.pk}/live", {"source": "simulated"})
    assert (answer.status_code, answer.json()["code"]) == (409, "ended")


def test_nobody_listens_so_there_is_no_news(clinic: Clinic, series: Series, signed_in: SignIn) -> None:
    assert signed_in(clinic.nurse).get(f"/series/{series.pk}/live/news").status_code == 404


@pytest.mark.parametrize(
    ("typed", "says"),
    [("118", "they agree within 5 mmHg"), ("125,4", "they agree"), ("112", "8 mmHg apart"), ("128", "8 mmHg apart")],
)
def test_the_manometer_is_compared_within_5_mmhg(
    clinic: Clinic, series: Series, signed_in: SignIn, standing: Told, typed: str, says: str
) -> None:
    """Oracle: common practice, display within 5 mmHg of the manometer; the pressure now is 120.4."""
    answer = signed_in(clinic.nurse).post(f"/series/{series.pk}/live/look", {"manometer": typed})
    assert answer.status_code == 200
    assert says in answer.json()["says"]
    entry = Entry.objects.get(what="sensor compared with the manometer")
    assert json.loads(entry.after) == {"manometer_mmhg": float(typed.replace(",", ".")), "sensor_mmhg": 120.4}


@pytest.mark.parametrize(("now", "typed"), [(None, "120"), (3.0, "3"), (120.0, "abc"), (120.0, "999"), (120.0, "nan")])
def test_what_cannot_be_compared_is_refused(
    clinic: Clinic, series: Series, signed_in: SignIn, standing: Told, now: float | None, typed: str
) -> None:
    standing.now_mmhg = now
    answer = signed_in(clinic.nurse).post(f"/series/{series.pk}/live/look", {"manometer": typed})
    assert answer.status_code == 422
    assert not Entry.objects.filter(what="sensor compared with the manometer").exists()


def test_it_is_stopped_by_whoever_measures(clinic: Clinic, series: Series, signed_in: SignIn, standing: Told) -> None:
    assert signed_in(clinic.colleague).post(f"/series/{series.pk}/live/stop").status_code == 200
    assert standing.stopped


def test_a_page_that_is_loaded_while_nothing_comes_says_so(
    clinic: Clinic, series: Series, signed_in: SignIn, standing: Told
) -> None:
    standing.lost = "Look at the manometer."
    page = signed_in(clinic.nurse).get(f"/sessions/{series.session_id}").text
    assert 'data-full="yes"' in page
    assert 'data-live="says">Look at the manometer.</p>' in page


def test_a_capture_that_ended_with_a_full_cuff_says_so_until_somebody_saw_it_empty(
    clinic: Clinic, series: Series, signed_in: SignIn, standing: Told
) -> None:
    """Each page says it, and no press of *Stop listening* takes it away."""
    standing.air, standing.is_alive = "Let the air out: 144 mmHg.", False
    browser, address = signed_in(clinic.nurse), f"/sessions/{series.session_id}"
    browser.post(f"/series/{series.pk}/live/stop")
    page = browser.get(address).text
    assert 'data-live="says">Let the air out: 144 mmHg.</p>' in page
    assert 'data-air="Let the air out: 144 mmHg."' in page
    assert "The air is out" in page
    browser.post(f"/series/{series.pk}/live/stop", {"air": "out"})
    assert "144 mmHg" not in browser.get(address).text


def test_a_page_that_asks_hears_of_a_capture_that_began_later(
    clinic: Clinic, series: Series, signed_in: SignIn, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Before: nothing. While it runs: its name. After its end: the name, and the air left in the cuff."""
    captures: dict[uuid.UUID, Told] = {}
    monkeypatch.setattr(live.CAPTURES, "of", captures.get)
    monkeypatch.setattr(live.CAPTURES, "alive", lambda: {key for key, each in captures.items() if each.is_alive})
    browser, address = signed_in(clinic.veterinarian), f"/series/{series.pk}/live/here"
    nothing = {"capture": "", "running": False, "air": "", "elsewhere": None}
    assert browser.get(address).json() == nothing
    captures[clinic.series.pk] = Told(120.0)  # of another series of the same session
    assert clinic.series.session_id == series.session_id
    assert browser.get(address).json() == {**nothing, "elsewhere": clinic.series.ordinal}
    captures[uuid.uuid4()] = captures.pop(clinic.series.pk)  # of another session
    assert browser.get(address).json() == nothing
    told = captures[series.pk] = Told(120.0)
    assert browser.get(address).json() == {**nothing, "capture": "first", "running": True}
    told.is_alive, told.air = False, "Let the air out."
    assert browser.get(address).json() == {**nothing, "capture": "first", "air": "Let the air out."}


def test_to_ask_costs_next_to_nothing(
    clinic: Clinic, series: Series, signed_in: SignIn, django_assert_max_num_queries: Callable[[int], Any]
) -> None:
    """Who asks, what she may, and the series: nothing is written, and nobody is kept signed in by it.

    Oracle: by construction, the number of queries; three of them are those of every page.
    """
    browser = signed_in(clinic.nurse)
    touched = browser.session[TOUCHED_AT]
    with django_assert_max_num_queries(4) as asked:
        assert browser.get(f"/series/{series.pk}/live/here").status_code == 200
    assert all(each["sql"].startswith("SELECT") for each in asked.captured_queries)
    assert browser.session[TOUCHED_AT] == touched


def test_what_was_not_left_is_not_recovered(clinic: Clinic, series: Series, signed_in: SignIn) -> None:
    for name in ("", "..", "../../..", "nothing"):
        answer = signed_in(clinic.nurse).post(f"/series/{series.pk}/live/recover", {"name": name})
        assert answer.status_code == 409, name


def cut_off(series: Series, name: str, last_mmhg: float, at_s: int) -> None:
    """What a capture that was killed leaves: two seconds of lines that end at a pressure."""
    folder = left.folder_for(series, name)
    folder.mkdir(parents=True)
    lines = folder / "received.txt"
    head = header_line("proto", 1) + header_line("unit", "mmHg")
    pressures = [last_mmhg / 2.0] * 200 + [last_mmhg] * 200
    lines.write_bytes(head + b"".join(sample_line(k, 5000 * k, p) for k, p in enumerate(pressures)))
    os.utime(lines, (at_s, at_s))


def test_after_a_restart_every_page_says_first_to_let_the_air_out(
    clinic: Clinic, series: Series, signed_in: SignIn, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nothing of the killed program is left but its lines: the last pressure of the newest tells. Pressing *The air is
    out* is remembered, over another restart too, and what was kept is still offered."""
    monkeypatch.setattr(live.CAPTURES, "of", lambda _key: None)
    page, asks = f"/sessions/{series.session_id}", f"/series/{series.pk}/live/here"
    cut_off(series, "older", 12.1, 1_000_000_000)
    cut_off(series, "newer", 183.0, 1_000_000_100)
    says = "Let the air out: the cuff was last at 183 mmHg, and nobody watches it any more."
    for browser in (signed_in(clinic.nurse), signed_in(clinic.veterinarian)):
        assert browser.get(asks).json()["air"] == says
        text = browser.get(page).text
        assert f'data-air="{says}"' in text
        assert text.index(f'data-live="says">{says}</p>') < text.index("A capture was cut off")
    signed_in(clinic.nurse).post(f"/series/{series.pk}/live/stop", {"air": "out"})
    assert signed_in(clinic.veterinarian).get(asks).json()["air"] == ""
    assert "Read what was kept" in signed_in(clinic.nurse).get(page).text
    cut_off(series, "newest", 3.0, 1_000_000_200)  # another one, cut off over an empty cuff
    assert signed_in(clinic.nurse).get(asks).json()["air"] == ""


def test_what_was_kept_of_a_full_cuff_is_told_until_it_is_read_or_a_sensor_has_seen_the_cuff(
    clinic: Clinic, series: Series, signed_in: SignIn, standing: Told
) -> None:
    """A capture of this run that has seen a pressure knows better; one that heard nothing does not."""
    cut_off(series, "cut", 150.0, 1_000_000_000)
    browser, asks = signed_in(clinic.nurse), f"/series/{series.pk}/live/here"
    assert browser.get(asks).json()["air"] == ""  # it runs
    standing.is_alive = False
    assert browser.get(asks).json()["air"] == ""  # it saw the cuff empty at its end
    standing.now_mmhg = None
    assert "150 mmHg" in browser.get(asks).json()["air"]
    browser.post(f"/series/{series.pk}/live/recover", {"name": "cut"})
    assert browser.get(asks).json()["air"] == ""
