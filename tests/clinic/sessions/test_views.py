"""The nurse's way: start, table, readings, the end."""

from __future__ import annotations

import json
import re
import uuid
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.db import IntegrityError, OperationalError
from django.http import HttpResponse
from django.test import Client
from django.utils.html import escape

from clinic.examples import Clinic, reading
from quietlimb.clinic.animals.models import Animal
from quietlimb.clinic.journal.models import Entry
from quietlimb.clinic.people.models import Person, Practice
from quietlimb.clinic.sessions import services
from quietlimb.clinic.sessions.models import Reading, Recording, Session, SignedValue
from quietlimb.clinic.sessions.selectors import told_of
from quietlimb.engine.standards.acvim_2018 import CATEGORY_NAMES
from quietlimb.words.enough import enough_sentences

SignIn = Callable[[Person], Client]


def send(browser: Client, clinic: Clinic, systolic: float | None, minute: float = 0, **changed: Any) -> HttpResponse:
    """One reading, as the page sends it."""
    told = {
        "client_id": str(uuid.uuid4()),
        "ordinal": 1,
        "taken_at": (clinic.started_at + timedelta(minutes=minute)).isoformat(),
        "systolic": systolic,
        **changed,
    }
    address = f"/series/{clinic.series.pk}/readings"
    answer: HttpResponse = browser.post(address, json.dumps(told), content_type="application/json")
    return answer


def test_a_reading_sent_twice_is_one_row(clinic: Clinic, signed_in: SignIn) -> None:
    """The first time 201, then 200 with the same part of the page; other numbers under the same key are refused.

    Oracle: by construction.
    """
    browser, key = signed_in(clinic.nurse), str(uuid.uuid4())
    first, again = (send(browser, clinic, 162, client_id=key) for _ in range(2))
    assert (first.status_code, again.status_code) == (201, 200)
    assert first.headers["Quietlimb-Saved"] == again.headers["Quietlimb-Saved"] == key
    assert re.sub(r'value="\w+"', "", first.text) == re.sub(r'value="\w+"', "", again.text)
    assert send(browser, clinic, 163, client_id=key).status_code == 409
    assert Reading.objects.count() == 1
    assert Entry.objects.filter(what="reading added").count() == 1


def test_a_key_of_another_practice_is_refused_and_shows_nothing(clinic: Clinic, signed_in: SignIn) -> None:
    """Somebody who guesses a key does not get the other reading.

    Oracle: by construction.
    """
    theirs = reading(clinic, 0, 199, practice=clinic.stranger.practice)
    answer = send(signed_in(clinic.nurse), clinic, 199, client_id=str(theirs.client_id))
    assert answer.status_code == 409
    assert "199" not in answer.text


def test_what_a_colleague_s_sign_in_sends_keeps_the_name_of_who_typed_it(clinic: Clinic, signed_in: SignIn) -> None:
    """Both names stand in the row; sent again by whom it may, it is the same row; a stranger or no key is refused.

    Oracle: by construction.
    """
    browser, key = signed_in(clinic.colleague), str(uuid.uuid4())
    told = {"client_id": key, "typed_by": str(clinic.nurse.pk)}
    assert [send(browser, clinic, 162, **told).status_code for _ in range(2)] == [201, 200]
    row = Reading.objects.get()
    assert (row.saved_by, row.typed_by) == (clinic.colleague, clinic.nurse)
    assert json.loads(Entry.objects.get(what="reading added").after)["typed_by_id"] == str(clinic.nurse.pk)
    assert send(browser, clinic, 162, client_id=key).status_code == 200
    assert send(browser, clinic, 150, typed_by=str(clinic.colleague.pk)).status_code == 201
    assert Reading.objects.get(systolic=150).typed_by is None
    for nobody in (str(clinic.stranger.pk), str(uuid.uuid4()), "Wren"):
        assert send(browser, clinic, 151, typed_by=nobody).json()["code"] == "unknown-person"
    assert Reading.objects.count() == 2


def test_what_the_database_cannot_write_is_not_called_saved(
    clinic: Clinic, monkeypatch: pytest.MonkeyPatch, signed_in: SignIn
) -> None:
    """503, no acknowledgement, no row and no entry in the journal; the same reading is taken afterwards.

    Oracle: by construction, a faked error in the middle of the transaction: after the row, at the journal.
    """
    browser, key = signed_in(clinic.nurse), str(uuid.uuid4())

    def fail(*_arguments: Any) -> None:
        raise OperationalError("database or disk is full")

    with monkeypatch.context() as patched:
        patched.setattr(services.journal, "write", fail)
        answer = send(browser, clinic, 162, client_id=key)
    assert answer.status_code == 503
    assert "Quietlimb-Saved" not in answer.headers
    assert not Reading.objects.exists()
    assert not Entry.objects.filter(what="reading added").exists()
    assert send(browser, clinic, 162, client_id=key).status_code == 201


def test_a_key_is_one_row_whoever_is_first(clinic: Clinic, signed_in: SignIn) -> None:
    """Nobody looks before the insert, so that two at once are no other case: the database refuses the second.

    Its row is the answer, the journal tells of it once, and a series that was opened for the second is gone again.

    Oracle: by construction, the constraint alone decides.
    """
    browser, key = signed_in(clinic.nurse), str(uuid.uuid4())
    assert [send(browser, clinic, 162, client_id=key).status_code for _ in range(3)] == [201, 200, 200]
    recording = Recording.objects.create(practice=clinic.practice, sha256="0" * 64, name="a.csv", content=b"a")
    reading(clinic, 1, None, recording=recording)  # what is typed now would open a series beside
    assert send(browser, clinic, 162, client_id=key).status_code == 200
    assert Reading.objects.filter(recording=None).count() == Entry.objects.filter(what="reading added").count() == 1
    assert clinic.session.series.count() == 1
    with pytest.raises(IntegrityError):
        reading(clinic, 1, 150, client_id=key)


def test_the_answer_is_the_part_of_the_page(clinic: Clinic, signed_in: SignIn) -> None:
    """Charted pressure, guideline average, one sentence, and the picture with a dot a reading and no style in it.

    Oracle: reference, the engine's answer about the same rows.
    """
    clinic.series.planned_readings = 5
    clinic.series.save()
    browser = signed_in(clinic.nurse)
    assert "Take the first reading" in browser.get(f"/sessions/{clinic.session.pk}").text
    for k, systolic in enumerate((186, 174, 169, 168, 165)):
        answer = send(browser, clinic, systolic, minute=1.5 * k, ordinal=k)
        assert answer.status_code == 201
    told = told_of(clinic.series)
    assert told is not None
    assert told.enough is not None
    assert answer.text.count("<circle") == 5
    assert re.search(r"<b>\d+(\.\d)? \(\d+(\.\d)? to \d+(\.\d)?\) mmHg</b>", answer.text)
    address = f"/series/{clinic.series.pk}"
    assert f'hx-get="{address}/sentence"' in answer.text
    sentence = browser.get(f"{address}/sentence").text
    assert escape(enough_sentences(told.enough)[0]) in sentence
    assert "hx-get" not in sentence
    assert "style=" not in answer.text
    part = browser.get(f"{address}/part").text
    assert sentence.strip() in part
    assert part[part.index('<p class="charted') : part.index("<table")] in answer.text


def test_until_the_planned_count_the_sentence_counts_and_foretells_nothing(clinic: Clinic, signed_in: SignIn) -> None:
    """Reading n of 6 after each of five; a spoiled one does not count; only then what more readings would do.

    Oracle: by construction; a level series, on which the engine's own sentence after one and two readings was that
    three readings more would not do, and after five that they are enough.
    """
    browser = signed_in(clinic.nurse)
    for k, systolic in enumerate((151, 150, 149, 150, 151)):
        answer = send(browser, clinic, systolic, minute=1.5 * k, ordinal=k)
        assert f"reading {k + 2} of 6" in answer.text
        assert f"{k + 1} of 6 planned readings count" in answer.text
        assert "are not expected" not in answer.text
        assert "hx-get" not in answer.text
    assert "reading 6 of 6" in send(browser, clinic, 170, minute=8, spoiled="moved").text
    send(browser, clinic, 150, minute=9.5)
    sentence = browser.get(f"/series/{clinic.series.pk}/sentence").text
    assert "of 6" not in sentence
    assert "Enough" in sentence


def test_by_ear_nothing_is_shown_until_the_planned_count(clinic: Clinic, signed_in: SignIn) -> None:
    """With Doppler no value, band, boundary or category before the planned count; then all of it.

    Oracle: by construction.
    """
    clinic.series.technique, clinic.series.planned_readings = "doppler", 3
    clinic.series.save()
    browser = signed_in(clinic.nurse)
    for k in range(3):
        answer = send(browser, clinic, 158 + k, minute=k, ordinal=k)
        shown = [words in answer.text for words in ('class="band"', 'class="boundary"', "charted</", "guideline")]
        shown += [name in answer.text for name in CATEGORY_NAMES]
        assert any(shown) == (k == 2), k
        assert answer.text.count("<circle") == k + 1
    assert 'class="band"' in answer.text


def test_a_very_low_pressure_calls_the_veterinarian_before_all_else(clinic: Clinic, signed_in: SignIn) -> None:
    """The one sentence is then that one, and marked, also by Doppler before the planned count.

    Oracle: by construction, the engine's own advice.
    """
    clinic.series.technique = "doppler"
    clinic.series.save()
    answer = send(signed_in(clinic.nurse), clinic, 62, sure=True)
    assert "sentence at-once" in answer.text
    assert "call the veterinarian" in answer.text


def test_a_mistake_is_struck_through_and_stays(clinic: Clinic, signed_in: SignIn) -> None:
    """It leaves the charted pressure, not the page; struck again, the first time stands; the journal has both columns.

    Oracle: by construction.
    """
    browser = signed_in(clinic.nurse)
    row = reading(clinic, 0, 240)
    answer = browser.post(f"/readings/{row.pk}/strike", {"why": "typed wrongly"}, headers={"HX-Request": "true"})
    assert answer.status_code == 200
    assert "struck through by Wren" in answer.text
    assert "<circle" not in answer.text
    struck_at = Reading.objects.get(pk=row.pk).struck_at
    browser.post(f"/readings/{row.pk}/strike")
    row.refresh_from_db()
    assert (row.struck_at, row.struck_because, row.systolic) == (struck_at, "typed wrongly", 240)
    entry = Entry.objects.get(what="reading struck through")
    assert json.loads(entry.before)["struck_at"] is None
    assert json.loads(entry.after)["struck_because"] == entry.why == "typed wrongly"


@pytest.mark.parametrize("ending", ["closed", "had enough", "none obtained", "no valid value"])
def test_every_end_is_one_touch_and_stands(clinic: Clinic, signed_in: SignIn, ending: str) -> None:
    """The first end stands, with who and when; late readings of a tablet are still taken in.

    Oracle: by construction.
    """
    browser = signed_in(clinic.nurse)
    if ending == "closed":
        reading(clinic, 0, 150)
    sent = {"ending": ending, "remarks": "sweet", "cuff_cleaned": "on"}
    assert browser.post(f"/sessions/{clinic.session.pk}/end", sent).status_code == 302
    assert browser.post(f"/sessions/{clinic.session.pk}/end", {"ending": "had enough"}).status_code == 302
    session = Session.objects.get(pk=clinic.session.pk)
    assert (session.ending, session.remarks, session.cuff_cleaned) == (ending, "sweet", True)
    assert session.ended_by == clinic.nurse
    assert session.ended_at is not None
    assert session.place == "carrier"
    assert Entry.objects.filter(what="session ended").count() == 1
    assert send(browser, clinic, 150).status_code == 201
    assert browser.post(f"/sessions/{clinic.session.pk}/end", {"ending": "lost"}).status_code == 422


def test_an_end_that_does_not_fit_what_stands_is_asked_about_or_refused(clinic: Clinic, signed_in: SignIn) -> None:
    """Done without a reading that counts is asked about once; no reading obtained beside good readings is refused.

    What was filled in comes back with the question.

    Oracle: by construction.
    """
    browser, address = signed_in(clinic.nurse), f"/sessions/{clinic.session.pk}/end"
    reading(clinic, 0, 150, spoiled="moved")
    asked = browser.post(address, {"ending": "closed", "remarks": "sweet"})
    assert asked.status_code == 422
    assert "No reading here counts" in asked.text
    assert '<input type="hidden" name="sure" value="closed">' in asked.text
    assert 'value="sweet"' in asked.text
    assert Session.objects.get(pk=clinic.session.pk).is_open
    good = reading(clinic, 1, 152)
    refused = browser.post(address, {"ending": "none obtained", "sure": "none obtained"})
    assert refused.status_code == 422
    assert "1 reading stands here" in refused.text
    Reading.objects.filter(pk=good.pk).update(struck_at=clinic.started_at)
    assert browser.post(address, {"ending": "closed", "sure": "closed"}).status_code == 302
    assert not Session.objects.get(pk=clinic.session.pk).is_open


def test_a_signed_session_takes_no_strike_and_no_series(clinic: Clinic, signed_in: SignIn) -> None:
    """Then only an amendment is left; a reading that comes stands beside.

    Oracle: by construction.
    """
    row = reading(clinic, 0, 150)
    SignedValue.objects.create(
        practice=clinic.practice,
        session=clinic.session,
        signed_by=clinic.veterinarian,
        signed_at=clinic.started_at,
        rules="acvim-2018",
        engine="0",
        frozen="{}",
        seal="0" * 64,
    )
    browser = signed_in(clinic.nurse)
    assert send(browser, clinic, 150).status_code == 201
    assert Entry.objects.get().what == "reading kept beside the signed session"
    assert browser.post(f"/readings/{row.pk}/strike").status_code == 409
    assert browser.post(f"/sessions/{clinic.session.pk}/series", {"technique": "doppler"}).status_code == 409
    assert (clinic.session.series.count(), Entry.objects.count()) == (1, 1)
    assert Reading.objects.get().struck_at is None


def test_a_session_that_has_ended_is_looked_at_and_says_so_first(clinic: Clinic, signed_in: SignIn) -> None:
    """Ended: who, when and how stand first, nothing is entered but on request, no minutes go on. Signed: not even that,
    and what was signed and amended stands in the place of what was charted.

    Oracle: by construction.
    """
    for k in range(6):
        reading(clinic, k, 168 - k)
    ended = clinic.started_at + timedelta(minutes=20)
    Session.objects.filter(pk=clinic.session.pk).update(ending="closed", ended_at=ended, ended_by=clinic.nurse)
    browser, address = signed_in(clinic.nurse), f"/sessions/{clinic.session.pk}"
    page = browser.get(address).text
    assert "Ended by Wren, 4 January 2024, 09:20: closed. It waits for the veterinarian." in page
    assert "<b><span data-minutes>25</span> min</b> by the end." in page
    shut = (
        'id="recordings"',
        'id="lines"',
        "undo",
        "strike through",
        "Open the series",
        "Move the session",
        "data-since",
    )
    assert [words for words in shut if words in page] == []
    more = browser.get(address, {"more": "1"}).text
    assert [words for words in shut if words not in more] == ["data-since"]
    signed = SignedValue.objects.create(
        practice=clinic.practice,
        session=clinic.session,
        signed_by=clinic.veterinarian,
        signed_at=ended,
        chosen=168,
        rules="acvim-2018",
        engine="0",
        frozen="{}",
        seal="0" * 64,
    )
    signed.amendments.create(practice=clinic.practice, by=clinic.veterinarian, at=ended, chosen=160, why="a slip")
    page = browser.get(address, {"more": "1"}).text
    assert [words for words in (*shut, "Fetch the veterinarian now") if words in page] == []
    assert "Signed by Heron, 4 January 2024, 09:20: 168 mmHg. Amended by Heron" in page
    assert "160 mmHg stands." in page
    assert "Add a reading" not in page


def test_a_refused_strike_leaves_the_rest_of_the_part(clinic: Clinic, signed_in: SignIn) -> None:
    """The reason stands above sentence, picture and list, which are all there.

    Oracle: by construction.
    """
    row = reading(clinic, 0, 150)
    SignedValue.objects.create(
        practice=clinic.practice,
        session=clinic.session,
        signed_by=clinic.veterinarian,
        signed_at=clinic.started_at,
        rules="acvim-2018",
        engine="0",
        frozen="{}",
        seal="0" * 64,
    )
    answer = signed_in(clinic.nurse).post(f"/readings/{row.pk}/strike", headers={"HX-Request": "true"})
    assert answer.status_code == 409
    assert 'role="alert"' in answer.text
    assert [part for part in ('id="series"', "<circle", "<td>150</td>") if part not in answer.text] == []


def test_slots_stand_in_the_order_of_the_instrument(clinic: Clinic, signed_in: SignIn) -> None:
    """As it was told once; a Doppler unit has one.

    Oracle: by construction.
    """
    browser, address = signed_in(clinic.nurse), f"/sessions/{clinic.session.pk}"
    slots = re.findall(r'<input id="slot-(\w+)"', browser.get(address).text)
    assert slots == ["systolic", "mean", "diastolic", "pulse_rate"]
    clinic.series.technique = "doppler"
    clinic.series.save()
    assert re.findall(r'<input id="slot-(\w+)"', browser.get(address).text) == ["systolic"]


def test_an_animal_is_found_by_a_few_letters_of_animal_or_owner(clinic: Clinic, signed_in: SignIn) -> None:
    """Each word may be of either; a swap gets the hits alone; other practices' animals are not there.

    Oracle: by construction.
    """
    Animal.objects.create(practice=clinic.stranger.practice, name="Thistledown", species="cat")
    browser = signed_in(clinic.nurse)
    for letters in ("thi", "INVENT", "this mr"):
        text = browser.get("/animals", {"q": letters}, headers={"HX-Request": "true"}).text
        assert "<b>Thistle</b>" in text
        assert "Thistledown" not in text
        assert "<html" not in text
    assert "No animal is called so" in browser.get("/animals", {"q": "burdock"}).text


def test_a_new_animal_takes_one_row_and_a_session_the_method_alone(clinic: Clinic, signed_in: SignIn) -> None:
    """Name and species, then the method: nothing else stands between the nurse and the first reading.

    Oracle: by construction.
    """
    browser = signed_in(clinic.nurse)
    answer = browser.post("/start", {"name": "Burr", "species": "dog", "owner_name": "mr invented"})
    animal = Animal.objects.get(name="Burr")
    assert answer.headers["location"] == f"/start/{animal.pk}"
    assert animal.owner == clinic.animal.owner
    assert browser.post(f"/start/{animal.pk}", {}).status_code == 422
    answer = browser.post(f"/start/{animal.pk}", {"technique": "oscillometric"})
    session = Session.objects.get(animal=animal)
    assert answer.headers["location"] == f"/sessions/{session.pk}"
    assert (session.started_by, session.read_by) == (clinic.nurse, clinic.nurse)
    assert [entry.what for entry in Entry.objects.order_by("sequence")] == [
        "animal added",
        "session started",
        "series opened",
    ]


def test_last_time_is_recalled_in_one_line_and_in_the_form(clinic: Clinic, signed_in: SignIn) -> None:
    """Instrument, limb, cuff, position and place come back, and the instrument brings its method.

    Oracle: by construction.
    """
    browser = signed_in(clinic.nurse)
    page = browser.get(f"/start/{clinic.animal.pk}").text
    assert "As last time: grey box, left forelimb, the small one, chest down, in the carrier." in page
    assert '<option value="forelimb" selected>' in page
    sent = {"instrument": clinic.instrument.pk, "site": "tail", "settled_min": "7"}
    assert browser.post(f"/start/{clinic.animal.pk}", sent).status_code == 302
    series = clinic.animal.sessions.order_by("-started_at").first().series.get()
    assert (series.technique, series.site, series.planned_readings) == ("oscillometric", "tail", 6)
    assert series.session.started_at - series.session.acclimatised_since == timedelta(minutes=7)


def test_an_animal_that_is_here_is_not_made_twice_unasked(clinic: Clinic, signed_in: SignIn) -> None:
    """Same name, species and owner, whatever the capitals, or no owner told: asked about, and made when it is another.

    Born on a day to come: refused.

    Oracle: by construction.
    """
    browser = signed_in(clinic.nurse)
    for owner in ("MR INVENTED", ""):
        answer = browser.post("/start", {"name": "thistle", "species": "cat", "owner_name": owner})
        assert answer.status_code == 422
        assert "Thistle is here already, Mr Invented" in answer.text
        assert 'type="checkbox" name="another"' in answer.text
    assert browser.post("/start", {"name": "Burr", "species": "cat", "born": "2100-01-01"}).status_code == 422
    assert Animal.objects.count() == 1
    assert browser.post("/start", {"name": "Thistle", "species": "cat", "owner_name": "Ms Other"}).status_code == 302
    sent = {"name": "Thistle", "species": "cat", "owner_name": "Mr Invented", "another": "on"}
    assert browser.post("/start", sent).status_code == 302


def test_one_that_has_died_is_not_measured(clinic: Clinic, signed_in: SignIn) -> None:
    """No session starts, the page offers none and names no recheck; the way out is told.

    Oracle: by construction.
    """
    Animal.objects.filter(pk=clinic.animal.pk).update(deceased_on="2024-01-05")
    browser = signed_in(clinic.nurse)
    answer = browser.get(f"/start/{clinic.animal.pk}")
    assert answer.status_code == 409
    assert "Thistle died on 5 January 2024" in answer.text
    page = browser.get(f"/animals/{clinic.animal.pk}").text
    assert "Start a session" not in page
    assert "Next recheck" not in page


def test_a_method_that_is_not_the_instrument_s_is_refused(clinic: Clinic, signed_in: SignIn) -> None:
    """Nothing is decided silently; recalled from last time the instrument alone tells the method.

    Oracle: by construction.
    """
    browser, address = signed_in(clinic.nurse), f"/start/{clinic.animal.pk}"
    answer = browser.post(address, {"instrument": clinic.instrument.pk, "technique": "doppler"})
    assert answer.status_code == 422
    assert "grey box measures by another method" in answer.text
    page = browser.get(address).text
    assert '<option value="oscillometric" selected>' not in page
    assert f'<option value="{clinic.nurse.pk}" selected>' in page
    assert "Sorrel" not in page  # the researcher measures nothing
    assert "Minutes in here so far" in page


def told_again(clinic: Clinic, **changed: Any) -> dict[str, Any]:
    """The circumstances as the page sends them back, with what is changed."""
    return {
        "instrument": clinic.instrument.pk,
        "site": "forelimb",
        "side": "left",
        "position": "chest-down",
        "cuff": clinic.cuff.pk,
        "planned_readings": 6,
        "place": "carrier",
        "read_by": clinic.nurse.pk,
        **changed,
    }


def test_circumstances_are_seen_and_put_right_at_the_table(clinic: Clinic, signed_in: SignIn) -> None:
    """In a line, with the way to correct them; before and after stand in the journal, and since when the animal is here
    stays; the remark comes back next time.

    Oracle: by construction.
    """
    browser, table = signed_in(clinic.nurse), f"/sessions/{clinic.session.pk}"
    address = f"{table}/circumstances"
    assert "grey box, left forelimb, the small one, chest down, in the carrier" in browser.get(table).text
    sent = told_again(clinic, site="tail", side="", remarks="bites", tablet="given")
    assert browser.post(f"{address}?series=1", sent).status_code == 302
    clinic.series.refresh_from_db()
    assert (clinic.series.site, clinic.series.technique) == ("tail", "oscillometric")
    session = Session.objects.get(pk=clinic.session.pk)
    assert (session.remarks, session.tablet) == ("bites", "given")
    assert session.acclimatised_since == clinic.session.acclimatised_since
    entries = Entry.objects.filter(what="circumstances corrected")
    assert sorted(entry.thing for entry in entries) == ["series", "session"]
    assert json.loads(entries.get(thing="series").before)["site"] == "forelimb"
    assert "bites" in browser.get(table).text
    assert "<strong>bites</strong>" in browser.get(f"/start/{clinic.animal.pk}").text


def test_circumstances_cannot_make_what_was_read_impossible(clinic: Clinic, signed_in: SignIn) -> None:
    """Readings with a mean are not by Doppler; of a signed session nothing is put right.

    Oracle: common practice, by Doppler the systolic pressure alone is read.
    """
    reading(clinic, 0, 150, 120, 100)
    browser, address = signed_in(clinic.nurse), f"/sessions/{clinic.session.pk}/circumstances"
    refused = browser.post(address, told_again(clinic, instrument="", technique="doppler"))
    assert refused.status_code == 409
    assert "not by Doppler" in refused.text
    clinic.series.refresh_from_db()
    assert clinic.series.technique == "oscillometric"
    SignedValue.objects.create(
        practice=clinic.practice,
        session=clinic.session,
        signed_by=clinic.veterinarian,
        signed_at=clinic.started_at,
        rules="acvim-2018",
        engine="0",
        frozen="{}",
        seal="0" * 64,
    )
    assert browser.post(address, told_again(clinic)).status_code == 409
    assert not Entry.objects.exists()


def test_another_cuff_opens_another_series(clinic: Clinic, signed_in: SignIn) -> None:
    """The next one in order; the page then shows it, and the first one on request.

    Oracle: by construction.
    """
    browser = signed_in(clinic.nurse)
    reading(clinic, 0, 177)
    browser.post(f"/sessions/{clinic.session.pk}/series", {"technique": "doppler", "site": "tail"})
    assert [series.ordinal for series in clinic.session.series.all()] == [1, 2]
    address = f"/sessions/{clinic.session.pk}"
    assert "<td>177</td>" not in browser.get(address).text
    assert "<td>177</td>" in browser.get(address, {"series": "1"}).text


def test_instruments_of_another_practice_cannot_be_chosen(clinic: Clinic, signed_in: SignIn) -> None:
    """A key from elsewhere is no choice.

    Oracle: by construction.
    """
    clinic.instrument.practice = clinic.stranger.practice
    clinic.instrument.save()
    answer = signed_in(clinic.nurse).post(f"/start/{clinic.animal.pk}", {"instrument": clinic.instrument.pk})
    assert answer.status_code == 422


@pytest.mark.parametrize(("name", "value"), [("limb_circumference_cm", "500"), ("cuff_below_heart_cm", "-201")])
def test_an_impossible_circumference_is_refused_where_it_is_typed(
    clinic: Clinic, signed_in: SignIn, name: str, value: str
) -> None:
    """What the engine would refuse later, with every reading of the series, is refused in its field.

    Oracle: by construction, the engine's own limits.
    """
    answer = signed_in(clinic.nurse).post(
        f"/sessions/{clinic.session.pk}/series", {"technique": "doppler", name: value}
    )
    assert answer.status_code == 422
    assert f"{name} is" in answer.text
    assert clinic.session.series.count() == 1


def test_a_reading_that_cannot_be_charted_is_seen_as_saved(clinic: Clinic, signed_in: SignIn) -> None:
    """A typed reading in a series of recordings is kept; the sentence says why nothing is charted.

    Oracle: by construction, series are never pooled.
    """
    recording = Recording.objects.create(practice=clinic.practice, sha256="0" * 64, name="a.csv", content=b"a")
    reading(clinic, 0, None, recording=recording)
    reading(clinic, 1, 150)
    browser = signed_in(clinic.nurse)
    answer = browser.get(f"/series/{clinic.series.pk}/part")
    assert "typed readings stand among recordings; open a series for each." in answer.text
    assert browser.get(f"/series/{clinic.series.pk}/sentence").status_code == 200
    assert browser.get(f"/sessions/{clinic.session.pk}").status_code == 200


def test_what_was_seen_in_the_early_hours_counts_by_the_clock_of_the_practice(
    clinic: Clinic, signed_in: SignIn
) -> None:
    """An organ that was looked at on the day of the session counts, also where it is still yesterday in UTC.

    Oracle: by construction; 22:30 in UTC on 3 January is 00:30 on the 4th in Helsinki.
    """
    Practice.objects.filter(pk=clinic.practice.pk).update(time_zone="Europe/Helsinki")
    at = clinic.started_at - timedelta(hours=10, minutes=30)
    Session.objects.filter(pk=clinic.session.pk).update(started_at=at)
    for side in ("left", "right"):
        clinic.animal.organ_findings.create(
            practice=clinic.practice, on=at.date() + timedelta(days=1), organ="eyes", side=side, state="present"
        )
    for k in range(6):
        reading(clinic, 2 * k - 630, 196 + k % 3)
    answer = signed_in(clinic.nurse).get(f"/series/{clinic.series.pk}/part")
    assert "at-once" in answer.text


def test_a_character_that_no_database_holds_does_no_harm(clinic: Clinic, signed_in: SignIn) -> None:
    """A zero byte in what is searched for, or in a reason, is left out.

    Oracle: from memory, PostgreSQL's manual on character strings: the character with code zero cannot be stored.
    """
    browser = signed_in(clinic.nurse)
    assert "Thistle" in browser.get("/animals", {"q": "this\0tle"}).text
    row = reading(clinic, 0, 150)
    browser.post(f"/readings/{row.pk}/strike", {"why": "mis\0typed"})
    row.refresh_from_db()
    assert row.struck_because == "mistyped"
