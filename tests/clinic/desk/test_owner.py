"""The owner's page: after signing only, plain, without interval or prescription, in the practice's words."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import timedelta

import pytest
from django.test import Client
from django.utils import timezone

from clinic.desk.examples import HIGH, address, sign
from clinic.examples import Clinic, reading
from quietlimb.clinic.animals.models import Animal, Event, Recheck
from quietlimb.clinic.desk.basis import thawed
from quietlimb.clinic.desk.owner import IN_ORDER, height_of, owner_page
from quietlimb.clinic.journal.models import Entry
from quietlimb.clinic.people.models import Person, Practice
from quietlimb.clinic.sessions.models import SignedValue
from quietlimb.clinic.verifying import verify
from quietlimb.engine.errors import ParameterError
from quietlimb.engine.standards.rule_sets import RULE_SETS, rule_set
from quietlimb.figures.invented import INVENTED_WORDS
from quietlimb.reports.owner import OwnerPage

SignIn = Callable[[Person], Client]


@pytest.fixture
def measured(clinic: Clinic) -> Clinic:
    """A session with six readings at about 168 mmHg; still open."""
    for k, systolic in enumerate(HIGH):
        reading(clinic, 1.5 * k, systolic, systolic - 30, systolic - 50)
    return clinic


def made(clinic: Clinic) -> OwnerPage:
    """The page of what is signed."""
    signed = SignedValue.objects.get(session=clinic.session)
    return owner_page(signed, thawed(signed), timezone.localdate())


def text_of(browser: Client, clinic: Clinic) -> str:
    """The page's own part as plain text."""
    page = browser.get(address(clinic, "owner")).text
    part = page[page.index("<article") : page.index("</article>")]
    return " ".join(re.sub("<[^>]+>", " ", part).split())


def test_there_is_none_before_it_is_signed(measured: Clinic, signed_in: SignIn) -> None:
    """Refused as page and as PDF; afterwards both are there, and the session's page leads to it.

    Oracle: by construction.
    """
    browser = signed_in(measured.veterinarian)
    for name in ("owner", "owner.pdf"):
        assert browser.get(address(measured, name)).status_code == 409
    assert address(measured, "owner") not in browser.get(address(measured, "result")).text
    sign(browser, measured)
    assert address(measured, "owner") in browser.get(address(measured, "result")).text
    assert browser.get(address(measured, "owner")).status_code == 200
    pdf = browser.get(address(measured, "owner.pdf"))
    assert (pdf.headers["Content-Type"], pdf.content[:5]) == ("application/pdf", b"%PDF-")


def test_it_says_what_an_owner_needs_and_no_more(measured: Clinic, signed_in: SignIn) -> None:
    """Pressure in a plain word, what was not looked at, when to come, danger signs, tablets with a list to tick; no
    interval, no probability, no category's name, and nothing of the prescription.

    Oracle: by construction.
    """
    browser = signed_in(measured.veterinarian)
    browser.post(address(measured, "organs"), {"left-state": "absent", "left-view": "whole", "brain-state": "absent"})
    sign(browser, measured)
    sent = {"on": "2024-01-05", "kind": "started", "prescription": "half a tablet of Somedrug 1.25 mg"}
    browser.post(f"/animals/{measured.animal.pk}/events", sent)
    text = text_of(browser, measured)
    for told in (
        "Thistle",
        "Cat, measured on 4 January 2024",
        "The blood pressure of Thistle was high: 168 mmHg.",
        "Not looked at this time: the right eye, heart and vessels, kidneys.",
        "Ring at once, by day or by night",
        "Leave the carrier open",
        "Do not stop or change the tablets on your own",
        "signed by Heron",
    ):
        assert told in text
    for never in ("%", "interval", "hypertensive", "Somedrug", "1.25", "half a tablet", "standard deviation", " to 1"):
        assert never not in text
    assert len(made(measured).boxes) == 28


def test_without_treatment_there_is_no_word_of_tablets(measured: Clinic, signed_in: SignIn) -> None:
    """Never begun, or stopped again: neither sentence nor list.

    Oracle: by construction.
    """
    browser = signed_in(measured.veterinarian)
    sign(browser, measured)
    assert "ablet" not in text_of(browser, measured)
    for on, kind, told in (("2024-01-05", "started", True), ("2024-01-06", "stopped", False)):
        Event.objects.create(practice=measured.practice, animal=measured.animal, on=on, kind=kind)
        assert ("ablet" in text_of(browser, measured)) == told == bool(made(measured).boxes)


def test_the_value_that_stands_is_told(measured: Clinic, signed_in: SignIn) -> None:
    """An amendment counts, with its decimal; no value is told as that.

    Oracle: by construction; the boundary of 160 mmHg is from memory (ACVIM 2018).
    """
    browser = signed_in(measured.veterinarian)
    sign(browser, measured)
    browser.post(address(measured, "amend"), {"chosen": "159.6", "why": "typed wrongly"})
    assert "was somewhat raised: 159.6 mmHg" in text_of(browser, measured)


def test_no_value_is_told_as_that(clinic: Clinic, signed_in: SignIn) -> None:
    """Nothing obtained: no number, and still when to ring; page and PDF are there.

    Oracle: by construction.
    """
    browser = signed_in(clinic.veterinarian)
    sign(browser, clinic)
    text = text_of(browser, clinic)
    assert "This time no blood pressure of Thistle was obtained" in text
    assert "mmHg" not in text
    assert "The next measurement was due by 18 January 2024" in text
    assert browser.get(address(clinic, "owner.pdf")).status_code == 200


def test_every_category_of_every_rule_set_has_a_word() -> None:
    """From low to very high, and the words rise with the pressure.

    Oracle: by construction, the rule sets themselves; 90 mmHg is common practice.
    """
    for key in RULE_SETS:
        for species in ("cat", "dog"):
            try:
                rules = rule_set(key, species)
            except ParameterError:  # of one species only
                continue
            edges = [0.0, *(edge.value for edge in rules.systolic_from)]
            assert len(rules.categories) == len(IN_ORDER)
            assert [height_of(max(edge, 90.0), rules) for edge in edges] == list(IN_ORDER)
    assert height_of(89.9, rule_set("acvim-2018", "cat")) == "low"
    assert height_of(None, rule_set("acvim-2018", "cat")) == "none"


@pytest.mark.parametrize(
    ("first", "last", "told"),
    [(7, 14, "Please come again between"), (-1, 3, "Please come again by"), (-9, -2, "was due by")],
)
def test_the_next_day_is_told_as_seen_today(
    measured: Clinic, signed_in: SignIn, first: int, last: int, told: str
) -> None:
    """To come, running, or past.

    Oracle: by construction.
    """
    browser = signed_in(measured.veterinarian)
    sign(browser, measured)
    today = timezone.localdate()
    Recheck.objects.update(due_from=today + timedelta(days=first), due_by=today + timedelta(days=last))
    assert made(measured).next.find(told) >= 0


def test_the_lead_sets_words_and_numbers(measured: Clinic, signed_in: SignIn) -> None:
    """Shown on the page in place of ours, told in the journal; another practice keeps its own.

    Oracle: by construction.
    """
    sign(signed_in(measured.veterinarian), measured)
    browser = signed_in(measured.lead)
    assert "Practice</a>" in browser.get("/").text
    sent = {
        "name": measured.practice.name,
        "time_zone": "UTC",
        "rules": "acvim-2018",
        "planned_readings": 6,
        "telephone_day": "555 0100",
        "telephone_night": "555 0199",
        "preparing": "Bring the basket.\n\nNo breakfast chase.",
    }
    assert browser.post("/practice/settings", sent).status_code == 302
    page = made(measured)
    assert (page.by_day, page.by_night) == ("555 0100", "555 0199")
    assert page.preparing == ("Bring the basket.", "No breakfast chase.")
    text = text_of(browser, measured)
    assert "555 0199" in text
    assert "carrier" not in text
    entry = Entry.objects.get(what="settings changed")
    assert (entry.who, "555 0100" in entry.after, "555 0100" in entry.before) == (measured.lead, True, False)
    assert Practice.objects.exclude(pk=measured.practice.pk).get().telephone_day == ""
    assert verify().trouble is None
    assert browser.post("/practice/settings", {**sent, "telephone_day": "5" * 61}).status_code == 422


@pytest.mark.parametrize("who", ["nurse", "veterinarian", "researcher"])
def test_nobody_else_sets_them(clinic: Clinic, signed_in: SignIn, who: str) -> None:
    """Refused, and nothing is changed.

    Oracle: by construction.
    """
    browser = signed_in(getattr(clinic, who))
    assert browser.post("/practice/settings", {"telephone_day": "555 0100"}).status_code == 403
    assert not Practice.objects.exclude(telephone_day="").exists()


@pytest.mark.parametrize("name", ["owner", "owner.pdf"])
def test_there_is_none_for_an_animal_that_has_died(measured: Clinic, signed_in: SignIn, name: str) -> None:
    """Nobody is asked to come again; the page for the record stays.

    Oracle: by construction.
    """
    browser = signed_in(measured.veterinarian)
    sign(browser, measured)
    Animal.objects.filter(pk=measured.animal.pk).update(deceased_on="2024-02-01")
    answer = browser.get(address(measured, name))
    assert (answer.status_code, "has died" in answer.text) == (409, True)
    assert browser.get(address(measured, "page.pdf")).status_code == 200


def test_demo_data_say_so(measured: Clinic, signed_in: SignIn) -> None:
    """In an invented practice the page carries the words.

    Oracle: by construction.
    """
    sign(signed_in(measured.veterinarian), measured)
    assert made(measured).invented is None
    measured.practice.invented = True
    measured.practice.save()
    assert made(measured).invented == INVENTED_WORDS


@pytest.mark.parametrize("name", ["page.pdf", "owner.pdf"])
def test_a_name_that_no_font_has_is_printed_with_marks(measured: Clinic, signed_in: SignIn, name: str) -> None:
    """What was signed is frozen, and its page is printed all the same: a mark stands for each letter.

    Oracle: by construction, a letter of the Ge'ez script, which the fonts that come along do not have.
    """
    Animal.objects.filter(pk=measured.animal.pk).update(name="ድመት")
    browser = signed_in(measured.veterinarian)
    measured.animal.refresh_from_db()
    sign(browser, measured)
    answer = browser.get(address(measured, name))
    assert (answer.status_code, answer.content[:5]) == (200, b"%PDF-")
    assert browser.get(address(measured, "owner")).status_code == 200


@pytest.mark.parametrize(
    ("treated_from", "says"), [("2024-01-01", "was where it should be under treatment"), (None, "was somewhat raised")]
)
def test_under_treatment_the_goal_is_what_counts(
    clinic: Clinic, signed_in: SignIn, treated_from: str | None, says: str
) -> None:
    """145 mmHg is somewhat raised in an untreated cat, and where it should be in a treated one; the list to tick begins
    on the day of the session, not of the print.

    Oracle: from memory, ACVIM 2018: below 160 mmHg under treatment, 140 mmHg otherwise.
    """
    for k in range(6):
        reading(clinic, 1.5 * k, 145)
    if treated_from:
        Event.objects.create(practice=clinic.practice, animal=clinic.animal, on=treated_from, kind="started")
    browser = signed_in(clinic.veterinarian)
    sign(browser, clinic)
    assert f"The blood pressure of Thistle {says}: 145 mmHg." in text_of(browser, clinic)
    assert made(clinic).boxes[:1] == (["4 Jan"] if treated_from else [])
