"""Lists that are sorted and filtered by their address."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date, timedelta

import pytest
from django.test import Client
from django.utils import timezone

from clinic.desk.examples import HIGH, another, signed_value
from clinic.examples import Clinic, person
from quietlimb.clinic.animals.models import Animal, Recheck
from quietlimb.clinic.equipment.models import Cuff, Instrument
from quietlimb.clinic.journal.changing import change
from quietlimb.clinic.people.models import Person, Role
from quietlimb.clinic.sessions.models import Ending

SignIn = Callable[[Person], Client]


def listed(page: str, *names: str) -> list[str]:
    """Which of these stand in the page's lists, in their order."""
    found = re.findall(r"<b>([^<]*)</b>", page)
    return [name for name in found if name in names]


def an_animal(clinic: Clinic, name: str, **told: object) -> Animal:
    """One more."""
    return Animal.objects.create(**{"practice": clinic.practice, "name": name, "species": "cat", **told})


def due(animal: Animal, by: date, **told: object) -> Recheck:
    """It is to be measured."""
    since = by - timedelta(days=20)
    told = {"practice": animal.practice, "since": since, "due_from": since, "due_by": by, "why": "w", **told}
    return Recheck.objects.create(animal=animal, **told)


@pytest.fixture
def full(clinic: Clinic) -> Clinic:
    """Three animals: a dog overdue, a cat due, one that has died; the clinic's own was measured last."""
    today = timezone.localdate()
    due(an_animal(clinic, "Burdock", species="dog"), today - timedelta(days=1), last_charted=150.0)
    due(an_animal(clinic, "Yarrow"), today + timedelta(days=1), last_charted=190.0, contact="booked")
    an_animal(clinic, "Aster", deceased_on=today)
    return clinic


@pytest.mark.parametrize(
    ("asked", "found"),
    [
        ("", ["Thistle", "Burdock", "Yarrow", "Aster"]),
        ("sort=name", ["Aster", "Burdock", "Thistle", "Yarrow"]),
        ("species=dog", ["Burdock"]),
        ("due=due&sort=name", ["Burdock", "Yarrow"]),
        ("due=overdue", ["Burdock"]),
        ("due=not&sort=name", ["Aster", "Thistle"]),
        ("show=alive&sort=name", ["Burdock", "Thistle", "Yarrow"]),
        ("show=deceased", ["Aster"]),
        ("q=a&species=cat&sort=name", ["Aster", "Yarrow"]),
        ("sort=nonsense&species=horse", ["Thistle", "Burdock", "Yarrow", "Aster"]),
        ("species=dog&show=deceased", []),
    ],
)
def test_animals_by_their_address(full: Clinic, signed_in: SignIn, asked: str, found: list[str]) -> None:
    """Sorted and filtered as asked, and the page offers what was chosen; what is not known is as not asked.

    Oracle: by construction.
    """
    page = signed_in(full.nurse).get(f"/animals?{asked}").text
    assert listed(page, "Thistle", "Burdock", "Yarrow", "Aster") == found
    assert 'name="sort"' in page
    assert ("No animal is like that." in page) == (not found)
    if asked == "species=dog":
        assert '<option value="dog" selected>' in page
        assert "As usual" in page


def test_animals_by_pressure(full: Clinic, signed_in: SignIn) -> None:
    """The highest that stands first, as signed or as charted; those without one last.

    Oracle: by construction.
    """
    other = another(full, 3, ending="closed")
    signed_value(full.veterinarian, other.session, other.series, chosen=200.0, reason="as I say")
    yarrow = Animal.objects.get(name="Yarrow")
    lower = another(full, 4, [130.0] * 6, ending="closed").session
    type(lower).objects.filter(pk=lower.pk).update(animal=yarrow)
    browser = signed_in(full.nurse)
    names = ("Thistle", "Yarrow")
    assert listed(browser.get("/animals?sort=high").text, *names) == ["Thistle", "Yarrow"]
    assert listed(browser.get("/animals?sort=low").text, *names) == ["Yarrow", "Thistle"]


@pytest.mark.parametrize("sort", ["name", "high"])
def test_a_long_list_has_a_next_page(clinic: Clinic, signed_in: SignIn, sort: str) -> None:
    """Beyond 20 hits; the search and the sorting stay in the address; a page that there is not is the nearest.

    Oracle: by construction.
    """
    for k in range(44):
        an_animal(clinic, f"Reed {k:02}")
    browser = signed_in(clinic.nurse)
    first = browser.get(f"/animals?q=reed&sort={sort}").text
    assert first.count("<b>Reed") == 20
    assert "1 to 20 of 44" in first
    assert f'rel="next" href="?q=reed&amp;sort={sort}&amp;page=2"' in first
    last = browser.get(f"/animals?q=reed&sort={sort}&page=99").text
    assert "41 to 44 of 44" in last
    assert 'rel="next"' not in last
    assert browser.get("/animals?page=x").status_code == 200
    # under a field while one types, the first hits alone
    swap = browser.get("/animals?q=reed", headers={"HX-Request": "true"}).text
    assert swap.count("<b>Reed") == 20
    assert "rel=" not in swap


@pytest.mark.parametrize(
    ("asked", "found"),
    [
        ("", ["Burdock", "Yarrow"]),
        ("due=high", ["Yarrow", "Burdock"]),
        ("due=name", ["Burdock", "Yarrow"]),
        ("species=cat", ["Yarrow"]),
        ("contact=none", ["Burdock"]),
        ("contact=booked", ["Yarrow"]),
        ("contact=declined", []),
    ],
)
def test_who_is_due_by_the_address_of_today(full: Clinic, signed_in: SignIn, asked: str, found: list[str]) -> None:
    """Oracle: by construction."""
    page = signed_in(full.nurse).get(f"/?{asked}").text
    assert listed(page, "Burdock", "Yarrow") == found
    assert "Nothing waits." not in page


def test_instruments_people_sessions_and_changes(full: Clinic, signed_in: SignIn) -> None:
    """Each list is as its address asks.

    Oracle: by construction.
    """
    Instrument.objects.create(practice=full.practice, name="a box", technique="doppler", slots=["systolic"])
    Cuff.objects.create(practice=full.practice, name="old one", width_cm=2.0, out_of_service=True)
    Person.objects.filter(pk=person(full.practice, "Avocet", Role.NURSE).pk).update(username="zz")
    browser = signed_in(full.lead)
    things = ("grey box", "a box", "the small one", "old one")
    assert listed(browser.get("/instruments?show=out").text, *things) == ["old one"]
    assert listed(browser.get("/instruments?technique=doppler&show=in").text, *things) == ["a box", "the small one"]
    assert listed(browser.get("/instruments?sort=name").text, *things) == [
        "a box",
        "grey box",
        "old one",
        "the small one",
    ]
    people = ("Wren", "Linnet", "Heron", "Avocet")
    assert listed(browser.get("/practice/people?role=nurse").text, *people) == ["Avocet", "Linnet", "Wren"]
    assert listed(browser.get("/practice/people?role=nurse&sort=username").text, *people) == [
        "Linnet",
        "Wren",
        "Avocet",
    ]
    for k in range(25):
        full.cuff.width_cm = 3.0 + k / 10
        change(full.lead, "cuff changed", full.cuff, fields=("width_cm",), why=f"time {k:02}")
    cuff = f"/instruments/cuffs/{full.cuff.pk}"
    told = re.findall(r"time (\d\d)", browser.get(cuff).text)
    assert told == [f"{k:02}" for k in range(24, 4, -1)]
    told = re.findall(r"time (\d\d)", browser.get(f"{cuff}?changes=oldest&changed=all").text)
    assert told == [f"{k:02}" for k in range(1, 25)]
    other = another(full, 3, ending=Ending.CLOSED)
    signed_value(full.veterinarian, other.session, other.series, chosen=200.0, reason="as I say")
    another(full, 5, HIGH, ending=Ending.CLOSED)
    animal = f"/animals/{full.animal.pk}"

    def days(asked: str) -> list[str]:
        return re.findall(r'/result"><time datetime="2024-01-(\d\d)', browser.get(f"{animal}?{asked}").text)

    assert days("") == ["09", "07", "04"]
    assert days("order=oldest") == ["04", "07", "09"]
    assert days("order=high") == ["07", "09", "04"]
    assert days("state=signed") == ["07"]
    assert days("state=open") == ["04"]
    assert days("place=home") == []
