"""A case on the real pages. Oracle: by construction, the case's own truth and the rows of both stores."""

from __future__ import annotations

import html
import re
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from django.test import Client

from clinic.examples import Clinic
from clinic.teaching.conftest import Learning
from quietlimb.capture.paced import Paced, Piece
from quietlimb.clinic.equipment.models import Cuff
from quietlimb.clinic.journal.models import Entry
from quietlimb.clinic.live.running import CAPTURES, Running
from quietlimb.clinic.live.selectors import full_cuff_of
from quietlimb.clinic.people.models import Person
from quietlimb.clinic.sessions import views
from quietlimb.clinic.sessions.models import Reading, Session
from quietlimb.clinic.stores import PRACTICE, TEACHING, working_in
from quietlimb.clinic.teaching import services
from quietlimb.clinic.teaching.models import OwnCase, TrainingInflation, TrainingResult, TrainingRun
from quietlimb.clinic.teaching.panel import usual_fall
from quietlimb.clinic.teaching.room import ROOM
from quietlimb.clinic.teaching.telling import told_of
from quietlimb.simulator.training import CASES, Choices, Fault, as_mapping, case_from
from quietlimb.teaching import Attempt, debrief
from quietlimb.teaching.practice import SLOWEST_FALL, fastest_fall

pytestmark = pytest.mark.django_db(databases=[PRACTICE, TEACHING])
SignIn = Callable[[Person], Client]
CASE = CASES["just-arrived"]
OLD_FRIEND = {
    "title": "An old friend", "animal": "Krume", "species": "cat", "breed": "mixed",
    "age_years": "12", "weight_kg": "4", "temper": "calm", "remarks": "nothing", "difficulty": "1",
    "systolic": "150", "mean": "112", "diastolic": "92", "pulse_rate": "180", "rhythm": "regular",
    "raised_mmhg": "10", "settles_min": "3", "moves": "0.1", "wags": "0.1",
    "forelimb": "8", "seed": "5", "places": ["carrier", "waiting-room"],
}  # fmt: skip
TRUTH = f"{CASE.resting.systolic:.0f}/{CASE.resting.diastolic:.0f} mmHg"


def opened_at(mmhg: float) -> type[Paced]:
    """A source whose valve somebody opens, on the way down, at this pressure."""

    class Opened(Paced):
        def __init__(self, pieces: list[Piece], **told: Any) -> None:
            [(time_s, pressure)] = pieces
            top = int(np.argmax(pressure))
            end = top + int(np.flatnonzero(pressure[top:] <= mmhg)[0])
            super().__init__([(time_s[:end], pressure[:end])], **told)

    return Opened


def test_waiting_lets_the_pressure_come_down(learning: Learning) -> None:
    """Raised by 45 mmHg at first, a third of that after 4 min, by the case."""
    assert learning.inflate() == 201
    assert learning.post("wait", minutes="10") == 302
    assert learning.inflate() == 201
    rows = list(TrainingInflation.objects.using(TEACHING).select_related("reading__recording"))
    early, late = (
        next(iter(row.reading.recording.results.values()))["systolic"]["value"] for row in rows if row.reading
    )
    assert early - late > 20.0
    assert (rows[1].at - rows[0].at).total_seconds() >= 600.0
    for row in rows:  # a file tells its beginning in whole seconds, and holds a second of quiet before the inflation
        assert row.reading is not None
        assert abs((row.reading.taken_at - row.at).total_seconds()) < 2.5
    assert all(row.reading.recording.name.endswith(".csv") for row in rows if row.reading and row.reading.recording)


def test_what_was_chosen_is_what_stands_on_the_pages(learning: Learning) -> None:
    assert learning.post("wait", minutes="5") == 302
    assert learning.post("wait", minutes="check") == 302
    assert learning.inflate(limb_free=None, steps="on", inflate_to="175", fall="5") == 201
    chosen = TrainingInflation.objects.using(TEACHING).get().choices
    assert (chosen["site"], chosen["side"], chosen["place"], chosen["cuff_width_cm"]) == (
        "forelimb",
        "left",
        "carrier",
        3.2,
    )
    assert (chosen["limb_loaded"], chosen["tail_held"], chosen["deflation"]) == (True, True, "steps")
    assert (chosen["inflate_to_mmhg"], chosen["fall_mmhg_per_s"], chosen["setup_checked"]) == (175.0, 5.0, True)
    assert 6.9 < chosen["acclimatisation_min"] < 8.0  # five minutes, and two for looking cuff and tube over


def test_whoever_leaves_the_form_as_it_is_departs_from_no_rule_on_the_fall(learning: Learning) -> None:
    """The fall that stands in the form, and every case's, is neither too fast nor too slow for its animal."""
    page = learning.browser.get(f"{ROOM}/sessions/{learning.session.pk}").text
    found = re.search(r'name="fall" value="([0-9.]+)"', page)
    assert found is not None
    assert float(found[1]) == 3.0
    for case in CASES.values():
        usual = usual_fall(TrainingRun(case=as_mapping(case)))
        assert SLOWEST_FALL.value <= usual <= fastest_fall(case)


def test_the_table_is_offered_where_there_is_one(learning: Learning) -> None:
    """In the carrier it is not asked for, and where it is sent all the same that is told and nothing is inflated."""
    page = f"{ROOM}/sessions/{learning.session.pk}"
    assert 'name="on_table"' not in learning.browser.get(page).text
    assert learning.inflate(on_table="on") == 422
    assert not TrainingInflation.objects.using(TEACHING).exists()
    Session.objects.using(TEACHING).filter(pk=learning.session.pk).update(place="consulting-room")
    assert 'name="on_table"' in learning.browser.get(page).text
    assert learning.inflate(on_table="on") == 201
    assert TrainingInflation.objects.using(TEACHING).get().choices["on_table"] is True


def test_impossible_choices_are_told(learning: Learning) -> None:
    for told in ({"inflate_to": "40"}, {"inflate_to": ""}, {"fall": "99"}, {"fall": "abc"}):
        assert learning.inflate(**told) == 422
    series = learning.session.series.get()
    for told, says in (
        ({"inflate_to": "40", "fall": "3"}, "Give 120 to 300."),
        ({"inflate_to": "190", "fall": "99"}, "Give 1 to 12."),
    ):
        assert says in learning.browser.post(f"{ROOM}/training/series/{series.pk}/inflate", told).json()["says"]
    assert TrainingInflation.objects.using(TEACHING).count() == 0
    assert learning.post("wait", minutes="100000") == 422
    assert learning.post("wait", minutes="x") == 422


def test_the_truth_is_told_at_the_end_and_once(learning: Learning) -> None:
    learning.post("wait", minutes="10")
    for _inflation in range(3):
        assert learning.inflate() == 201
    page = f"{ROOM}/training/sessions/{learning.session.pk}/debrief"
    assert learning.post("debrief") == 409  # the session goes on
    assert TRUTH not in learning.browser.get(page).text
    learning.end()
    assert learning.post("debrief") == 302
    text = learning.browser.get(page).text
    assert TRUTH in text
    assert "Nothing was charted" in text  # nobody signed
    assert "Inflations 2, 3 came without rest" in text  # one after the other
    assert "Stopped early" in text
    told = TrainingRun.objects.using(TEACHING).get().told
    assert learning.post("debrief") == 302
    assert TrainingRun.objects.using(TEACHING).get().told == told
    assert TrainingResult.objects.count() == 1


def test_the_result_leads_to_the_debrief(learning: Learning) -> None:
    """While the session goes on nothing leads there; once it has ended the result has the choice for the owner and the
    button, after the truth was seen the link; and who opens the debrief before it was made can make it there."""
    result = f"{ROOM}/sessions/{learning.session.pk}/result"
    debrief = f"{ROOM}/training/sessions/{learning.session.pk}/debrief"
    learning.post("wait", minutes="10")
    assert learning.inflate() == 201
    assert debrief not in learning.browser.get(result).text
    assert "until the session has ended" in learning.browser.get(debrief).text
    learning.end()
    before = learning.browser.get(result).text
    assert 'href="#truth"' in before
    for page in (before, learning.browser.get(debrief).text):
        assert f'<form method="post" action="{debrief}"' in page
        assert page.count('name="saying"') == 4
        assert TRUTH not in page
    assert learning.post("debrief") == 302
    after = learning.browser.get(result).text
    assert after.count(f'href="{debrief}"') == 2  # at the top, and below the signature
    assert 'name="saying"' not in after


def test_a_patients_result_leads_to_no_debrief(clinic: Clinic, signed_in: SignIn) -> None:
    """Outside the room nothing of it stands on the page of a session that has ended."""
    Session.objects.filter(pk=clinic.session.pk).update(ending="closed", ended_at=clinic.started_at)
    page = signed_in(clinic.nurse).get(f"/sessions/{clinic.session.pk}/result")
    assert page.status_code == 200
    assert "debrief" not in page.text
    assert "truth" not in page.text


def test_table_and_result_count_the_same_readings(learning: Learning) -> None:
    """Three readings, and one whose top was below the systolic pressure, which shows none: 3 count on either page, and
    nothing is said to be dropped that was not.

    Oracle: by construction: a top of 120 mmHg under a systolic pressure of 128.
    """
    learning.post("wait", minutes="10")
    for top in ("120", "190", "190", "190"):
        assert learning.inflate(inflate_to=top, fall="3") == 201
    table = learning.browser.get(f"{ROOM}/sessions/{learning.session.pk}").text
    assert "3 of 5 planned readings count." in table
    learning.end()
    result = learning.browser.get(f"{ROOM}/sessions/{learning.session.pk}/result").text
    assert "Usable readings: 3;" in result


def test_a_cuff_off_the_heart_is_told_on_the_result_by_its_mmhg(learning: Learning) -> None:
    """10 cm below the heart are 7.8 mmHg: told before the answer, as the debrief tells it.

    Oracle: derived, the column of blood, 0.776 mmHg a centimetre.
    """
    learning.session.series.update(cuff_below_heart_cm=10.0)
    learning.post("wait", minutes="10")
    assert learning.inflate() == 201
    learning.end()
    result = learning.browser.get(f"{ROOM}/sessions/{learning.session.pk}/result").text
    assert "The cuff lay 10 cm below the heart: by the weight of the blood" in result
    assert "reads high by some 8 mmHg" in result


def test_a_careless_choice_is_told_with_its_cost(learning: Learning) -> None:
    """Without waiting, by the case the pressure is raised: the debrief says by how much."""
    for _inflation in range(3):
        assert learning.inflate() == 201
    learning.end()
    learning.post("debrief")
    [waiting] = [each for each in TrainingRun.objects.using(TEACHING).get().told["costs"] if "settle" in each["done"]]
    assert "It moved the charted pressure by +" in waiting["cost"]
    assert "ACVIM" in waiting["rule"]


def test_an_inflation_that_was_broken_off_is_told_as_on_the_table(
    learning: Learning, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The valve opened at 160 mmHg, far above the pressure of the settled cat: no number, there nor here."""
    learning.post("wait", minutes="10")
    assert learning.inflate() == 201
    with monkeypatch.context() as hand:
        hand.setattr(services, "Paced", opened_at(160.0))
        assert learning.inflate() == 201
    learning.end()
    assert learning.post("debrief") == 302
    whole, cut = TrainingRun.objects.using(TEACHING).get().told["inflations"]
    assert whole["broken_off"] is None
    assert whole["systolic"] is not None
    assert cut["systolic"] is None
    assert cut["broken_off"] == pytest.approx(160, abs=2)  # half a second of falling
    page = learning.browser.get(f"{ROOM}/training/sessions/{learning.session.pk}/debrief").text
    assert f"broken off at {cut['broken_off']} mmHg" in page
    assert TrainingResult.objects.get().wasted == 1


def test_the_debrief_tells_the_numbers_of_the_table(learning: Learning) -> None:
    """Digit for digit what was kept of each recording when it was read."""
    for _inflation in range(3):
        assert learning.inflate() == 201
    run = TrainingRun.objects.using(TEACHING).get()
    rows = list(run.inflations.select_related("reading__recording"))
    kept = [next(iter(row.reading.recording.results.values()))["systolic"]["value"] for row in rows if row.reading]
    made = [each.as_read.systolic.value for each in services.attempts_of(run) if each.as_read and each.as_read.systolic]
    assert made == kept
    learning.end()
    learning.post("debrief")
    told = TrainingRun.objects.using(TEACHING).get().told
    assert [each["systolic"] for each in told["inflations"]] == [round(value) for value in kept]


def test_what_the_owner_is_told_is_chosen_before_the_truth_is_seen(learning: Learning) -> None:
    """Four to choose from on the table's page; nothing chosen, or something else, no truth and no result."""
    learning.post("wait", minutes="10")
    assert learning.inflate() == 201
    learning.end()
    table = learning.browser.get(f"{ROOM}/sessions/{learning.session.pk}").text
    assert "What is the owner told?" in table
    assert table.count('name="saying"') == 4
    for saying in ("", "anything"):
        assert learning.post("debrief", saying=saying) == 409
    debrief = f"{ROOM}/training/sessions/{learning.session.pk}/debrief"
    refused = learning.browser.post(debrief).text  # where the choice stands, and not another page
    assert "What the owner is told was not chosen; choose it below" in refused
    assert refused.count('name="saying"') == 4
    assert TRUTH not in learning.browser.get(f"{ROOM}/training/sessions/{learning.session.pk}/debrief").text
    assert TrainingResult.objects.count() == 0
    assert learning.post("debrief", saying="no value") == 302
    assert TrainingRun.objects.using(TEACHING).get().to_owner == "no value"
    assert "What is the owner told?" not in learning.browser.get(f"{ROOM}/sessions/{learning.session.pk}").text


@pytest.mark.parametrize(
    ("saying", "standing", "says"),
    [
        ("no value", "holds", "nothing was charted, and nothing was claimed"),
        ("fine", "does not follow", "That the truth asks for what was told is luck."),
        ("veterinarian today", "does not follow", "asks for: fine, and when to measure again"),
    ],
)
def test_what_the_owner_is_told_is_judged_in_the_debrief(
    learning: Learning, saying: str, standing: str, says: str
) -> None:
    """Nobody signed, so there was no value to tell; the cat's true pressure is 128 mmHg, by the case."""
    learning.post("wait", minutes="10")
    assert learning.inflate() == 201
    learning.end()
    assert learning.post("debrief", saying=saying) == 302
    page = html.unescape(learning.browser.get(f"{ROOM}/training/sessions/{learning.session.pk}/debrief").text)
    assert says in page
    assert "What the owner is told moves no mmHg of what was charted." in page
    assert "Which words belong to which pressure: our own choice." in page
    assert TrainingResult.objects.get().owner_told == standing


def test_nothing_reaches_the_practices_store_but_a_result_of_nobody(learning: Learning) -> None:
    before = (Session.objects.count(), Reading.objects.count())
    learning.post("wait", minutes="10")
    learning.inflate()
    learning.end("no valid value")
    learning.post("debrief")
    assert (Session.objects.count(), Reading.objects.count()) == before
    result = TrainingResult.objects.get()
    assert result.person is None
    assert Entry.objects.get(what="training result kept").who is None


def test_a_result_stands_beside_the_competence_only_when_she_wishes(
    learning: Learning, clinic: Clinic, signed_in: SignIn
) -> None:
    learning.inflate()
    learning.end()
    learning.post("debrief")
    run = TrainingRun.objects.using(TEACHING).get()
    lead_sees = f"/practice/people/{learning.person.pk}"
    others = Client()
    others.post("/sign-in", {"username": clinic.lead.username, "password": "a quiet limb is asked for"})
    assert CASE.title not in others.get(lead_sees).text
    assert others.post(f"/teaching/results/{run.pk}").status_code == 404  # not hers
    assert learning.browser.post(f"/teaching/results/{run.pk}").status_code == 302
    assert CASE.title in others.get(lead_sees).text
    assert learning.person.name in others.get("/teaching/class").text


def test_a_result_is_taken_back_and_the_journal_keeps_that_it_stood_there(
    learning: Learning, clinic: Clinic, signed_in: SignIn
) -> None:
    """From the debrief and from My page; nobody else can, and the run counts without a name again."""
    learning.inflate()
    learning.end()
    learning.post("debrief")
    run = TrainingRun.objects.using(TEACHING).get()
    there, back = f"/teaching/results/{run.pk}", f"/teaching/results/{run.pk}/back"
    debrief = f"{ROOM}/training/sessions/{learning.session.pk}/debrief"
    lead = Client()
    lead.post("/sign-in", {"username": clinic.lead.username, "password": "a quiet limb is asked for"})
    assert learning.browser.post(back).status_code == 404  # nothing stands there yet
    assert "Take it back" not in learning.browser.get("/me").text
    for sent, leads_to in (({}, "/teaching"), ({"from": "me"}, "/me")):
        learning.browser.post(there)
        assert f'action="{back}"' in learning.browser.get(debrief).text
        assert CASE.title in learning.browser.get("/me").text
        assert lead.post(back).status_code == 404
        assert CASE.title in lead.get(f"/practice/people/{learning.person.pk}").text
        answer = learning.browser.post(back, sent)
        assert (answer.status_code, answer.headers["Location"]) == (302, leads_to)
        assert CASE.title not in lead.get(f"/practice/people/{learning.person.pk}").text
        assert learning.person.name not in lead.get("/teaching/class").text
        assert "in my record" not in learning.browser.get("/teaching").text
    assert TrainingResult.objects.get().person is None
    taken = Entry.objects.filter(what="training result taken back from the competence")
    assert [each.who for each in taken] == [learning.person, learning.person]
    assert Entry.objects.filter(what="training result put to the competence").count() == 2


@pytest.mark.parametrize(
    ("fault", "says"),
    [
        (Fault(kind="offset", size=16.0), "The display stood +16 mmHg off the manometer; it was exchanged."),
        (Fault(kind="leak", size=2.5), "Cuff or tube lost 2.5 mmHg a second; they were exchanged."),
        (Fault(kind="slipped", size=0.09), "The cuff had slipped and hung loosely; it was laid anew."),
        (Fault(kind="leak", size=2.5, from_number=3), "would have leaked soon"),
        (None, "looked over; nothing was found."),
    ],
)
def test_what_was_found_at_the_instrument_is_told(learning: Learning, fault: Fault | None, says: str) -> None:
    """At the table and in the debrief, where it is told to have been rightly done."""
    run = learning.run
    run.case = as_mapping(replace(CASE, fault=fault)) | {"key": run.case["key"]}
    run.save(using=TEACHING, update_fields=["case"])
    table = f"{ROOM}/sessions/{learning.session.pk}"
    assert "looked over." not in learning.browser.get(table).text
    assert learning.post("wait", minutes="check") == 302
    assert says in learning.browser.get(table).text
    made = debrief(
        case_from(run.case), [Attempt(choices=Choices(cuff_width_cm=3.2), minute=0.0, number=1)], None,
        looked_over_before=TrainingRun.objects.using(TEACHING).get().checked_before,
    )  # fmt: skip
    [told] = told_of(made)["besides"]
    assert says in told
    assert "Rightly done, before inflation 1." in told


def test_a_session_is_not_ended_over_a_full_cuff_without_a_word(
    learning: Learning, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Asked first, whatever the end; who ends it all the same is told so at the table and in the debrief."""
    learning.post("wait", minutes="10")
    assert learning.inflate() == 201
    monkeypatch.setattr(views, "full_cuff_of", lambda session: 317.2)
    page = f"{ROOM}/sessions/{learning.session.pk}"
    asked = learning.browser.post(f"{page}/end", {"ending": "closed"})
    assert asked.status_code == 422
    assert "The cuff holds 317 mmHg still; let the air out first: never leave a cuff inflated." in asked.text
    refused = learning.browser.post(f"{page}/end", {"ending": "none obtained", "sure": "none obtained"})
    assert refused.status_code == 422  # a reading stands there, whatever the cuff holds
    assert Session.objects.using(TEACHING).get(pk=learning.session.pk).is_open
    answer = learning.browser.post(f"{page}/end", {"ending": "closed", "sure": "closed"})
    assert answer.status_code == 302
    says = (
        "The cuff was left full at 317 mmHg: never leave a cuff inflated. (common practice, without a printed source)"
    )
    assert says in learning.browser.get(page).text
    assert learning.post("debrief") == 302
    assert says in learning.browser.get(f"{ROOM}/training/sessions/{learning.session.pk}/debrief").text


def test_a_full_cuff_is_one_that_is_listened_to(learning: Learning, monkeypatch: pytest.MonkeyPatch) -> None:
    """By construction, a capture that has seen 160 mmHg last: full while it runs, of nobody once it has ended."""
    with monkeypatch.context() as hand:
        hand.setattr(services, "Paced", opened_at(160.0))
        assert learning.inflate() == 201
    series = learning.session.series.get()
    running = CAPTURES.of(series.pk)
    assert running is not None
    with working_in(TEACHING):
        assert full_cuff_of(learning.session) is None
        monkeypatch.setattr(Running, "is_alive", property(lambda self: True))
        assert full_cuff_of(learning.session) == pytest.approx(160.0, abs=3.0)
        running.now_mmhg = 2.0
        assert full_cuff_of(learning.session) is None


def test_a_misread_tape_is_told_with_what_the_cuff_chosen_by_it_cost(learning: Learning) -> None:
    """12 cm put down where the case's tape shows 8, and a cuff of 4.4 cm: it fits the one and not the other."""
    wide = Cuff.objects.using(TEACHING).get(practice=learning.run.practice_id, width_cm=4.4)
    learning.session.series.update(limb_circumference_cm=12.0, cuff=wide)
    learning.post("wait", minutes="10")
    assert learning.inflate() == 201
    learning.end()
    assert learning.post("debrief") == 302
    [told] = TrainingRun.objects.using(TEACHING).get().told["besides"]
    assert told.startswith("Inflation 1: 12 cm were put down for the limb, and the tape shows 8 cm.")
    assert "fits what was put down and not the limb" in told
    assert "The model of the animal says -" in told  # a wide cuff reads low


def test_in_fast_time_what_was_done_keeps_its_minute(learning: Learning) -> None:
    """However long is waited afterwards; and a run stands under the hour at which it was begun."""
    learning.post("wait", minutes="5")
    assert learning.inflate() == 201
    table, begun = f"{ROOM}/sessions/{learning.session.pk}", TrainingRun.objects.using(TEACHING).get().begun_at
    assert begun is not None
    first = re.findall(r">(min \d+)</time>", learning.browser.get(table).text)
    runs = re.findall(r"<span>([^<]* \d\d:\d\d)</span>", learning.browser.get("/teaching").text)
    assert first == ["min 5"]
    assert len(runs) == 1
    today = learning.browser.get(f"{ROOM}/").text  # of the open session the day
    assert "</time>" in today
    assert not re.findall(r"\d\d:\d\d</time>", today)
    for _wait in range(3):
        learning.post("wait", minutes="10")
    page = learning.browser.get(table).text
    assert re.findall(r">(min \d+)</time>", page) == first
    assert "Go by the minutes, and not by the hour." in page
    assert re.findall(r"<span>([^<]* \d\d:\d\d)</span>", learning.browser.get("/teaching").text) == runs


def test_a_lead_makes_a_case_and_gives_it_no_longer(clinic: Clinic, signed_in: SignIn) -> None:
    browser = signed_in(clinic.lead)
    told = OLD_FRIEND
    wrong = browser.post("/teaching/cases/add", {**told, "mean": "200"})
    assert wrong.status_code == 422
    assert "Give 109 to 118 mmHg." in wrong.text
    assert browser.post("/teaching/cases/add", {**told, "fault": "leak"}).status_code == 422
    assert browser.post("/teaching/cases/add", told).status_code == 302
    row = OwnCase.objects.get()
    assert "An old friend" in browser.get("/teaching").text
    assert browser.post("/teaching/begin", {"case": str(row.pk)}).status_code == 302
    assert browser.post(f"/teaching/cases/{row.pk}/retire").status_code == 302
    assert "An old friend" not in browser.get("/teaching").text.split("My runs")[0]


def test_nobody_looks_over_a_learners_shoulder(learning: Learning, clinic: Clinic) -> None:
    learning.inflate()
    learning.end()
    learning.post("debrief")
    for somebody in (clinic.colleague, clinic.lead, clinic.veterinarian):
        other = Client()
        other.post("/sign-in", {"username": somebody.username, "password": "a quiet limb is asked for"})
        for page in ("", "/result"):
            assert other.get(f"{ROOM}/sessions/{learning.session.pk}{page}").status_code == 404
        assert other.get(f"{ROOM}/training/sessions/{learning.session.pk}/debrief").status_code == 404
        assert CASE.story.animal not in other.get(f"{ROOM}/animals").text


def test_a_case_without_an_inflation_ends_without_a_result(learning: Learning) -> None:
    learning.end("no valid value")
    assert learning.post("debrief") == 302
    page = learning.browser.get(f"{ROOM}/training/sessions/{learning.session.pk}/debrief").text
    assert "The cuff was never inflated" in page
    assert TrainingResult.objects.count() == 0
    assert "Debrief" in learning.browser.get("/teaching").text


def test_what_is_wrong_with_a_case_is_told_at_its_fields_and_all_at_once(clinic: Clinic, signed_in: SignIn) -> None:
    """Eight mistakes, each at its own field; nothing above the form."""
    mistakes = {
        "age_years": "99", "mean": "149", "pulse_rate": "20", "moves": "20", "forelimb": "",
        "fault": "leak", "fault_from": "0", "title": "",
    }  # fmt: skip
    answer = signed_in(clinic.lead).post("/teaching/cases/add", {**OLD_FRIEND, **mistakes})
    assert answer.status_code == 422
    form = answer.context["form"]
    at = {"title", "age_years", "mean", "pulse_rate", "moves", "forelimb", "fault_size", "fault_from"}
    assert set(form.errors) == at
    assert form.errors["mean"] == ["Give 109 to 118 mmHg."]
    assert form.errors["moves"] == ["Give 0 to 0.9."]
    assert form.errors["fault_size"] == ["Give 0.3 to 3 (mmHg a second)."]
    for name in at:
        assert answer.text.count(f'id="id_{name}_error"') == 1
    assert all(field.label[:1].isupper() for field in form.visible_fields())


def test_a_case_has_its_places_and_a_fault_that_comes_later(clinic: Clinic, signed_in: SignIn) -> None:
    """As they are ticked and typed; with no place ticked it is refused there."""
    browser = signed_in(clinic.lead)
    told = {**OLD_FRIEND, "fault": "offset", "fault_size": "-10", "fault_from": "3"}
    assert browser.post("/teaching/cases/add", {**told, "places": ["carrier", "hospital-cage"]}).status_code == 302
    nowhere = browser.post("/teaching/cases/add", {**OLD_FRIEND, "title": "Another", "places": []})
    assert nowhere.status_code == 422
    assert nowhere.context["form"].errors == {"places": ["Tick one place at least: the animal has to be somewhere."]}
    assert browser.post("/teaching/cases/add", {**OLD_FRIEND, "title": "Another"}).status_code == 302
    faulty, plain = (case_from(row.case) for row in OwnCase.objects.all())
    assert faulty.places == ("carrier", "hospital-cage")
    assert faulty.fault == Fault(kind="offset", size=-10.0, from_number=3)
    assert plain.places == ("carrier", "waiting-room")
    assert plain.fault is None


@pytest.mark.parametrize("title", ["An old friend", "  an  old FRIEND ", "just out of the car"])
def test_a_title_names_one_case(clinic: Clinic, signed_in: SignIn, title: str) -> None:
    """One of the practice's own and one that comes with the program; the first is named, and no row is made."""
    browser = signed_in(clinic.lead)
    assert browser.post("/teaching/cases/add", OLD_FRIEND).status_code == 302
    again = browser.post("/teaching/cases/add", {**OLD_FRIEND, "title": title})
    assert again.status_code == 422
    [says] = again.context["form"].errors["title"]
    assert says in (
        "A case of this title is given already: An old friend. Give it another.",
        "A case of this title is given already: Just out of the car. Give it another.",
    )
    assert OwnCase.objects.count() == 1


def test_only_the_places_of_the_case_are_offered_and_in_the_words_of_the_page(learning: Learning) -> None:
    """At the start and where it is put right; what is there all the same is refused in words, not keys."""
    run = learning.run
    run.case = {**run.case, "places": ["hospital-cage"]}
    run.save(using=TEACHING, update_fields=["case"])
    browser = learning.browser
    for page in (f"/start/{run.animal_id}", f"/sessions/{learning.session.pk}/circumstances"):
        field = browser.get(f"{ROOM}{page}").context["form"]["place"]
        assert [value for value, _label in field.field.choices if value] == ["hospital-cage"], page
    before = Session.objects.using(TEACHING).count()
    sent = {"technique": "oscillometric", "planned_readings": "5", "place": "carrier"}
    answer = browser.post(f"{ROOM}/start/{run.animal_id}", sent)
    assert answer.status_code == 422
    assert "place" in answer.context["form"].errors
    assert Session.objects.using(TEACHING).count() == before
    series = learning.session.series.get()
    refused = browser.post(
        f"{ROOM}/training/series/{series.pk}/inflate", {"inflate_to": "190", "fall": "6", "limb_free": "on"}
    )
    assert refused.status_code == 422
    assert "cannot be measured here: in the carrier" in refused.text
    assert "where the animal is: hospital cage." in refused.text
