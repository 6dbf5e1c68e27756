"""Editing an animal, its owner, merging doubles, moving a session."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

import pytest
from django.http import HttpResponse
from django.test import Client

from clinic.examples import Clinic, reading
from quietlimb.clinic.animals.models import Animal, Owner, Recheck
from quietlimb.clinic.animals.selectors import animals_found
from quietlimb.clinic.corrections.services import CorrectionError, animal_merge, session_move
from quietlimb.clinic.desk.hits import age_words, hits_of
from quietlimb.clinic.journal.models import Entry
from quietlimb.clinic.people.models import Person
from quietlimb.clinic.sessions.entry import EntryError
from quietlimb.clinic.sessions.models import Session, SignedValue
from quietlimb.clinic.verifying import verify

SignIn = Callable[[Person], Client]


def edit(browser: Client, clinic: Clinic, **changed: Any) -> HttpResponse:
    """The form as it stands, with these fields changed."""
    told = {"name": "Thistle", "breed": "invented breed", "owner_name": "Mr Invented", **changed}
    answer: HttpResponse = browser.post(f"/animals/{clinic.animal.pk}/edit", told)
    return answer


def another(clinic: Clinic, name: str = "Thistle", **columns: Any) -> Animal:
    """Another animal of the practice."""
    return Animal.objects.create(**{"practice": clinic.practice, "name": name, "species": "cat", **columns})


def signed(clinic: Clinic, session: Session) -> SignedValue:
    """A signed value of a session, of 171 mmHg."""
    return SignedValue.objects.create(
        practice=clinic.practice,
        session=session,
        signed_by=clinic.veterinarian,
        signed_at=clinic.started_at,
        charted=171.0,
        chosen=171.0,
        rules="acvim-2018",
        engine="0",
        frozen=json.dumps({"series": None}),
        seal="0" * 64,
    )


def test_what_is_edited_stands_with_before_and_after_in_the_journal(clinic: Clinic, signed_in: SignIn) -> None:
    """Colour, breed, remarks, number and day of death; sent again, nothing is written; the page shows what was changed.

    Oracle: by construction.
    """
    browser = signed_in(clinic.nurse)
    sent = {
        "breed": "another invented breed",
        "colour": "grey",
        "remarks": "bites",
        "link_id": "A 12",
        "deceased_on": "2024-01-05",
        "why": "told by telephone",
    }
    for _ in range(2):
        assert edit(browser, clinic, **sent).status_code == 302
    row = Animal.objects.get(pk=clinic.animal.pk)
    assert (row.breed, row.colour, row.remarks, row.link_id) == (
        "another invented breed",
        "grey",
        "bites",
        "A 12",
    )
    assert row.deceased_on == date(2024, 1, 5)
    assert row.owner == clinic.animal.owner
    entry = Entry.objects.get(what="animal changed")
    assert json.loads(entry.before)["breed"] == "invented breed"
    assert entry.why == "told by telephone"
    page = browser.get(f"/animals/{row.pk}/edit").text
    assert "told by telephone" in page
    assert 'value="2024-01-05"' in page
    assert "Deceased on 5 January 2024" in browser.get(f"/animals/{row.pk}").text


def test_impossible_days_and_a_number_of_another_are_refused(clinic: Clinic, signed_in: SignIn) -> None:
    """A day to come, a death before birth, a number that another animal of this practice has; one elsewhere is free.

    Oracle: by construction.
    """
    browser = signed_in(clinic.nurse)
    another(clinic, link_id="A 12")
    another(clinic, practice=clinic.stranger.practice, link_id="A 13")
    for wrong in (
        {"deceased_on": "2999-01-01"},
        {"born": "2020-01-01", "deceased_on": "2019-12-31"},
        {"link_id": "A 12"},
        {"name": ""},
    ):
        assert edit(browser, clinic, **wrong).status_code == 422
    assert not Entry.objects.filter(what="animal changed").exists()
    assert edit(browser, clinic, link_id="A 13").status_code == 302


def test_the_species_is_fixed_once_there_is_a_session(clinic: Clinic, signed_in: SignIn) -> None:
    """What was measured rests on it; before, a slip can be mended.

    Oracle: by construction.
    """
    browser = signed_in(clinic.nurse)
    assert edit(browser, clinic, species="dog").status_code == 302
    assert Animal.objects.get(pk=clinic.animal.pk).species == "cat"
    fresh = another(clinic, "Burr")
    browser.post(f"/animals/{fresh.pk}/edit", {"name": "Burr", "species": "dog"})
    assert Animal.objects.get(pk=fresh.pk).species == "dog"


def test_a_new_owner_is_another_row_and_a_new_spelling_the_same(clinic: Clinic, signed_in: SignIn) -> None:
    """The old owner stays; written differently it is one row for all animals; emptied, the animal has nobody.

    Oracle: by construction.
    """
    browser, before = signed_in(clinic.nurse), clinic.animal.owner
    assert before is not None
    assert edit(browser, clinic, owner_name="Ms Made-up").status_code == 302
    row = Animal.objects.get(pk=clinic.animal.pk)
    assert row.owner is not None
    assert (row.owner.name, Owner.objects.filter(pk=before.pk).exists()) == ("Ms Made-up", True)
    assert edit(browser, clinic, owner_name="Ms Made-Upp", renamed="on").status_code == 302
    assert Owner.objects.get(pk=row.owner.pk).name == "Ms Made-Upp"
    assert Owner.objects.count() == 2
    assert edit(browser, clinic, owner_name="", renamed="on").status_code == 422
    assert edit(browser, clinic, owner_name="").status_code == 302
    assert Animal.objects.get(pk=clinic.animal.pk).owner is None
    assert [*Entry.objects.filter(what__startswith="owner").values_list("what", flat=True)] == [
        "owner added",
        "owner changed",
    ]


def test_a_name_that_is_here_already_is_asked_about(clinic: Clinic, signed_in: SignIn) -> None:
    """Is it she or another one of the same name? Either is possible; an owner of another practice is not offered.

    Oracle: by construction.
    """
    browser = signed_in(clinic.nurse)
    known = Owner.objects.create(practice=clinic.practice, name="Ms Made-up", telephone="0 12 34")
    Owner.objects.create(practice=clinic.stranger.practice, name="Ms Made-up", telephone="0 99 99")
    asked = edit(browser, clinic, owner_name="ms made-up")
    assert asked.status_code == 422
    assert "0 12 34" in asked.text
    assert "0 99 99" not in asked.text
    assert edit(browser, clinic, owner_name="ms made-up", which=str(known.pk)).status_code == 302
    assert Animal.objects.get(pk=clinic.animal.pk).owner == known
    edit(browser, clinic, owner_name="Mr Invented", which="another")
    assert Owner.objects.filter(name="Mr Invented").count() == 2


def test_a_double_loses_nothing(clinic: Clinic) -> None:
    """Sessions, signed ones too, organs, treatment, recheck and number move, each told; what stands is filled in only.

    Oracle: by construction.
    """
    into = another(clinic, "Thistle the cat", colour="grey", remarks="tail only")
    clinic.animal.link_id, clinic.animal.remarks, clinic.animal.born = "A 12", "bites", date(2012, 1, 1)
    clinic.animal.colour = "black"
    clinic.animal.save()
    Session.objects.update(ending="closed", ended_at=clinic.started_at, ended_by=clinic.nurse)
    value = signed(clinic, clinic.session)
    before = (value.seal, value.frozen)
    shared = {"practice": clinic.practice}
    clinic.animal.events.create(**shared, on="2024-01-02", kind="started")
    clinic.animal.conditions.create(**shared, kind="illness", code="chronic-kidney-disease")
    clinic.animal.organ_findings.create(**shared, on="2024-01-02", organ="heart", state="absent")
    Recheck.objects.create(
        **shared, animal=clinic.animal, since="2024-01-04", due_from="2024-01-11", due_by="2024-01-18", why="again"
    )
    animal_merge(clinic.nurse, double=clinic.animal, into=into, why="entered twice")
    into.refresh_from_db()
    double = Animal.objects.get(pk=clinic.animal.pk)
    assert [each.count() for each in (into.sessions, into.events, into.conditions, into.organ_findings)] == [1, 1, 1, 1]
    assert Recheck.objects.get().animal == into
    assert (double.merged_into, double.link_id, into.link_id) == (into, "", "A 12")
    assert (into.name, into.colour, into.born) == ("Thistle the cat", "grey", date(2012, 1, 1))
    assert (into.remarks, into.owner, double.colour) == ("tail only; bites", double.owner, "black")
    stays = SignedValue.objects.get()
    assert (stays.seal, stays.frozen) == before
    told = set(Entry.objects.filter(why="entered twice").values_list("what", flat=True))
    assert told >= {"session moved", "event moved", "condition moved", "organ finding moved", "recheck moved"}
    assert told >= {"double merged", "animal changed"}


def test_a_double_leads_to_the_one_that_stands_and_is_found_no_more(clinic: Clinic, signed_in: SignIn) -> None:
    """Its page, a new session with it and editing it lead on; lists have the other alone; the other page names it.

    Oracle: by construction.
    """
    into = another(clinic, "Thistle the cat")
    browser = signed_in(clinic.nurse)
    address = f"/animals/{clinic.animal.pk}/merge"
    assert "Thistle the cat" in browser.get(address).text
    assert browser.post(address, {"animal": str(into.pk)}).headers["Location"] == f"/animals/{into.pk}"
    for path in ("/animals/{}", "/start/{}", "/animals/{}/edit"):
        assert browser.get(path.format(clinic.animal.pk)).headers["Location"] == path.format(into.pk)
    assert list(animals_found(clinic.nurse, "Thistle")) == [into]
    assert "Doubles of it were merged here" in browser.get(f"/animals/{into.pk}").text
    assert browser.post(address, {"animal": str(into.pk)}).status_code == 302
    assert Entry.objects.filter(what="double merged").count() == 1


def test_what_cannot_be_one_animal_is_refused(clinic: Clinic, signed_in: SignIn) -> None:
    """Itself, another species, a double, one of another practice, none: nothing moves.

    Oracle: by construction.
    """
    dog = another(clinic, "Burr", species="dog")
    gone = another(clinic, "Gone", merged_into=dog)
    theirs = another(clinic, "Theirs", practice=clinic.stranger.practice)
    browser, address = signed_in(clinic.nurse), f"/animals/{clinic.animal.pk}/merge"
    for wrong, status in ((clinic.animal, 409), (dog, 409), (gone, 409), (theirs, 404)):
        assert browser.post(address, {"animal": str(wrong.pk)}).status_code == status
    assert browser.post(address, {"animal": "Burr"}).status_code == 422
    with pytest.raises(CorrectionError, match="double"):
        animal_merge(clinic.nurse, double=gone, into=another(clinic), why="")
    assert Session.objects.get().animal == clinic.animal


def test_a_session_moves_to_the_right_animal_until_it_is_signed(clinic: Clinic, signed_in: SignIn) -> None:
    """With its readings, told in the journal; not to another species, and not once it is signed.

    Oracle: by construction.
    """
    right, dog = another(clinic, "Sedge"), another(clinic, "Burr", species="dog")
    reading(clinic, 0, 150)
    browser, address = signed_in(clinic.nurse), f"/sessions/{clinic.session.pk}/animal"
    assert "Sedge" in browser.get(address, {"letters": "sed"}).text
    assert browser.post(address, {"animal": str(dog.pk)}).status_code == 409
    sent = {"animal": str(right.pk), "why": "the carriers were swapped"}
    assert browser.post(address, sent).headers["Location"] == f"/sessions/{clinic.session.pk}"
    assert (Session.objects.get().animal, clinic.series.readings.count()) == (right, 1)
    entry = Entry.objects.get(what="session moved")
    assert (json.loads(entry.before)["animal_id"], entry.why) == (str(clinic.animal.pk), "the carriers were swapped")
    assert browser.post(address, sent).status_code == 409
    signed(clinic, clinic.session)
    assert browser.post(address, {"animal": str(clinic.animal.pk)}).status_code == 409
    with pytest.raises(EntryError, match="signed"):
        session_move(clinic.nurse, session=clinic.session, to=clinic.animal, why="")


def test_the_chain_of_the_journal_holds_after_all_of_it(clinic: Clinic, signed_in: SignIn) -> None:
    """Whatever was moved and merged, the walk finds nothing.

    Oracle: by construction.
    """
    edit(signed_in(clinic.nurse), clinic, colour="grey")
    into = another(clinic, "Sedge")
    session_move(clinic.nurse, session=clinic.session, to=into, why="")
    animal_merge(clinic.nurse, double=clinic.animal, into=into, why="")
    assert verify().trouble is None


def test_a_hit_shows_age_and_the_pressure_that_stands(clinic: Clinic, signed_in: SignIn) -> None:
    """Charted where nobody has signed, then as signed; an open session counts for nothing yet.

    Oracle: by construction.
    """
    for k in range(6):
        reading(clinic, k, 150)
    clinic.animal.born = clinic.started_at.date() - timedelta(days=4000)
    clinic.animal.remarks = "bites"
    clinic.animal.save()
    (hit,) = hits_of([clinic.animal])
    assert (hit.last, hit.on) == ("", None)
    Session.objects.update(ending="closed", ended_at=clinic.started_at, ended_by=clinic.nurse)
    (hit,) = hits_of([clinic.animal])
    assert (hit.last, hit.on) == ("150", clinic.started_at.date())
    signed(clinic, clinic.session)
    (hit,) = hits_of([clinic.animal])
    assert hit.last == "171"
    page = signed_in(clinic.nurse).get("/animals", {"q": "thistle"}).text
    for words in ("171 mmHg", hit.age, "Mr Invented", "bites"):
        assert words in page


@pytest.mark.parametrize(
    ("born", "words"),
    [
        (date(2024, 1, 20), "0 months"),
        (date(2023, 12, 4), "1 month"),
        (date(2022, 1, 5), "23 months"),
        (date(2022, 1, 4), "2 years"),
        (date(2012, 1, 5), "11 years"),
    ],
)
def test_an_age_is_told_in_months_then_in_years(born: date, words: str) -> None:
    """On 4 January 2024; a birthday to come has not been.

    Oracle: by construction, the calendar.
    """
    assert age_words(born, date(2024, 1, 4)) == words
