"""Illnesses and classes of drugs in the record of an animal, and its age where no day is known."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.test import Client
from django.utils import timezone

from clinic.examples import Clinic
from quietlimb.clinic.animals.models import Animal, Condition
from quietlimb.clinic.desk.hits import hits_of
from quietlimb.clinic.desk.months import background_of, codes, history_of
from quietlimb.clinic.interchange import outgoing
from quietlimb.clinic.journal.models import Entry
from quietlimb.clinic.people.models import Person
from quietlimb.clinic.verifying import verify

SignIn = Callable[[Person], Client]


def test_an_illness_is_added_seen_and_ended(clinic: Clinic, signed_in: SignIn) -> None:
    """On the page for everybody, known to the interpretation as long as it lasts, told twice it is one, journalled.

    Oracle: by construction.
    """
    browser, page = signed_in(clinic.veterinarian), f"/animals/{clinic.animal.pk}"
    assert "that is not the same as none" in browser.get(page).text
    for _twice in range(2):
        told = {"what": "illness:hyperthyroidism", "since": "2023-11-02"}
        assert browser.post(f"{page}/conditions", told).status_code == 302
    row = Condition.objects.get()
    text = signed_in(clinic.nurse).get(page).text
    assert "An overactive thyroid" in text
    assert "since 2 November 2023" in text
    assert "It has ended" not in text  # hers to see, not to say
    background = background_of(clinic.session, history_of(clinic.animal, before=clinic.session))
    assert background.conditions == ("hyperthyroidism",)
    browser = signed_in(clinic.veterinarian)
    end = f"/conditions/{row.pk}/end"
    assert browser.post(end, {"until": "2023-11-01"}).status_code == 422
    assert browser.post(end, {"until": "2024-02-01"}).status_code == 302
    assert browser.post(end, {"until": "2024-03-01"}).status_code == 302
    assert "until 1 February 2024" in browser.get(page).text
    fresh = Animal.objects.get(pk=clinic.animal.pk)
    assert codes(fresh, "illness", clinic.started_at.date()) == ("hyperthyroidism",)
    assert codes(fresh, "illness", timezone.localdate()) == ()
    told = Entry.objects.filter(thing="condition").order_by("sequence").values_list("what", "who__name")
    assert list(told) == [("illness added", "Heron"), ("illness ended", "Heron")]
    assert verify().trouble is None


@pytest.mark.parametrize(
    ("told", "says"),
    [
        ({"what": ""}, "required"),
        ({"what": "illness:bad luck"}, "not one of the available choices"),
        ({"what": "drug class:diabetes"}, "not one of the available choices"),
        ({"what": "illness:diabetes", "since": "2199-01-01"}, "still to come"),
    ],
)
def test_what_is_not_known_or_has_not_come_is_refused(
    clinic: Clinic, signed_in: SignIn, told: dict[str, str], says: str
) -> None:
    """At its field, and nothing is kept.

    Oracle: by construction.
    """
    answer = signed_in(clinic.veterinarian).post(f"/animals/{clinic.animal.pk}/conditions", told)
    assert answer.status_code == 422
    assert says in answer.text
    assert not Condition.objects.exists()


def test_an_age_in_years_stands_for_a_day_that_nobody_knows(clinic: Clinic, signed_in: SignIn) -> None:
    """Worked out, marked as about, not handed on as a day; a day that is told later counts as known.

    Oracle: by construction, a year of 365.25 days.
    """
    browser = signed_in(clinic.nurse)
    new = {"name": "Sedge", "species": "cat", "owner_name": ""}
    assert browser.post("/start", {**new, "age_years": "12.5"}).status_code == 302
    sedge = Animal.objects.get(name="Sedge")
    assert sedge.born == timezone.localdate() - timedelta(days=round(12.5 * 365.25))
    assert sedge.born_about
    assert hits_of([sedge])[0].age == "about 12 years"
    assert f"born about {sedge.born.year}" in browser.get(f"/animals/{sedge.pk}").text
    assert outgoing._animal(sedge).born is None
    told = {"name": "Sedge", "species": "cat", "born": "2019-05-06", "why": ""}
    assert browser.post(f"/animals/{sedge.pk}/edit", told).status_code == 302
    sedge.refresh_from_db()
    assert not sedge.born_about
    assert "born 6 May 2019" in browser.get(f"/animals/{sedge.pk}").text


@pytest.mark.parametrize("told", [{"age_years": "-1"}, {"age_years": "41"}, {"age_years": "3", "born": "2021-01-01"}])
def test_an_impossible_age_or_one_beside_a_day_is_refused(
    clinic: Clinic, signed_in: SignIn, told: dict[str, str]
) -> None:
    """Nothing is kept.

    Oracle: by construction; the oldest age is the engine's.
    """
    answer = signed_in(clinic.nurse).post("/start", {"name": "Sedge", "species": "cat", **told})
    assert answer.status_code == 422
    assert not Animal.objects.filter(name="Sedge").exists()
