"""Finding: without accents and capitals, by telephone, and what else the words lead to."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.test import Client

from clinic.examples import Clinic
from quietlimb.clinic.animals.models import Animal, Owner
from quietlimb.clinic.animals.selectors import animals_found
from quietlimb.clinic.journal.changing import change
from quietlimb.clinic.people.models import Person
from quietlimb.clinic.sought import plain, sought_by

SignIn = Callable[[Person], Client]


def names(person: Person, letters: str) -> list[str]:
    """Who is found."""
    return [animal.name for animal in animals_found(person, letters)]


@pytest.mark.parametrize(
    ("letters", "found"),
    [
        ("zoe", True),
        ("ZO\u00c9", True),
        ("Zoe\u0308", True),
        ("muller", True),
        ("mueller", True),
        ("M\u00dcLLER", True),
        ("muller zoe", True),
        ("zoe thistle", False),
        ("0171 55", True),
        ("01715522", True),
        ("a-17", True),
        ("zoex", False),
        ("%", False),
        ("z_e", False),
    ],
)
def test_capitals_accents_telephone_and_number(clinic: Clinic, letters: str, found: bool) -> None:
    """Whatever the database calls a letter: the same is found on SQLite and on PostgreSQL.

    Oracle: by construction.
    """
    owner = Owner.objects.create(practice=clinic.practice, name="M\u00fcller", telephone="0171 55-22")
    Animal.objects.create(practice=clinic.practice, owner=owner, name="Zo\u00eb", species="cat", link_id="A-17")
    assert names(clinic.nurse, letters) == (["Zo\u00eb"] if found else [])
    assert names(clinic.stranger, letters) == []


def test_a_changed_name_is_found_and_the_old_one_no_more(clinic: Clinic) -> None:
    """Also where only some columns are saved, and the journal does not tell what is worked out.

    Oracle: by construction.
    """
    clinic.animal.name = "\u0141ucja"
    assert change(clinic.nurse, "animal changed", clinic.animal, fields=("name",))
    assert names(clinic.nurse, "lucja") == ["\u0141ucja"]
    assert names(clinic.nurse, "thistle") == []


def test_letters_fold_as_they_are_typed() -> None:
    """Accents of Latin, Greek and Cyrillic letters go, other letters stay; sharp s and ligatures are spelt out.

    Oracle: reference, the decompositions of Unicode as in CPython's unicodedata, and from memory for the rest.
    """
    assert (
        plain("Stra\u00dfe \u0152uvre \u00c5sa \u0394\u03ae\u03bc\u03bf\u03c2 \u0419")
        == "strasse oeuvre asa \u03b4\u03b7\u03bc\u03bf\u03c3 \u0438"
    )
    assert sought_by("J\u00f6rg", "12 34") == "jorg joerg 12 34 1234"


@pytest.mark.parametrize(
    ("letters", "address"),
    [
        ("technician", "/practice/people"),
        ("Technicians", "/practice/people"),
        ("gauge", "/instruments"),
        ("MAP", "/instruments"),
        ("sap", "/practice/technique"),
        ("recall", "/"),
        ("audit", "/practice/inspection"),
        ("password", "/me"),
        ("wren", "/practice/people/"),
        ("grey box", "/instruments/"),
        ("the small", "/instruments/cuffs/"),
    ],
)
def test_a_lead_finds_people_instruments_and_pages(
    clinic: Clinic, signed_in: SignIn, letters: str, address: str
) -> None:
    """By the trade's other words too.

    Oracle: by construction.
    """
    page = signed_in(clinic.lead).get("/animals", {"q": letters}).text
    assert "Found elsewhere" in page
    found = page.split("Found elsewhere")[1].split("</ul>")[0]
    assert f'href="{address}' in found, found


def test_nobody_is_led_to_a_page_that_is_not_hers(clinic: Clinic, signed_in: SignIn) -> None:
    """A nurse finds no people and no settings, and the start of a session; letters by the way find nothing.

    Oracle: by construction.
    """
    browser = signed_in(clinic.nurse)
    assert "Found elsewhere" not in browser.get("/animals", {"q": "wren"}).text
    assert "Found elsewhere" not in browser.get("/animals", {"q": "settings"}).text
    assert "Found elsewhere" not in browser.get("/animals", {"q": "mo"}).text
    page = browser.get("/animals", {"q": "dap"}).text
    assert 'href="/start"' in page.split("Found elsewhere")[1].split("</ul>")[0]
