"""What stands around every page."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from django.test import Client

import quietlimb.clinic
from clinic.examples import Clinic
from quietlimb.clinic.people.models import Person

HERE = Path(quietlimb.clinic.__file__).parent
SOURCES = sorted([*HERE.rglob("templates/**/*.html"), *HERE.glob("static/*.*")])


def test_a_page_carries_practice_person_and_the_parts_she_may_see(
    clinic: Clinic, signed_in: Callable[[Person], Client]
) -> None:
    """Also the skip link, the caution and a strict policy.

    Oracle: by construction.
    """
    answer = signed_in(clinic.nurse).get("/")
    for words in ("Practice at the Mill Pond", "Wren", 'aria-current="page">Today', "the veterinarian decides"):
        assert words in answer.text
    assert answer.text.index('class="skip"') < answer.text.index("<header")
    policy = answer.headers["Content-Security-Policy"]
    assert "default-src 'self'" in policy
    assert "unsafe" not in policy
    assert answer.headers["X-Frame-Options"] == "DENY"


def test_the_name_of_the_practice_leads_to_a_page_that_is_hers(
    clinic: Clinic, signed_in: Callable[[Person], Client]
) -> None:
    """For a researcher that is the export, also from the page that refuses her something.

    Oracle: by construction.
    """
    browser = signed_in(clinic.researcher)
    refused = browser.get("/")
    assert refused.status_code == 403
    assert 'class="practice" href="/export"' in refused.text
    assert '<a class="action" href="/export">Go on</a>' in refused.text
    assert browser.get("/export").status_code == 200


def test_demo_data_are_marked_on_every_page(clinic: Clinic, signed_in: Callable[[Person], Client]) -> None:
    """A practice of demo data says so at the top, another one does not.

    Oracle: by construction.
    """
    browser = signed_in(clinic.nurse)
    assert "INVENTED" not in browser.get("/me").text
    clinic.practice.invented = True
    clinic.practice.save()
    assert "INVENTED - not a patient" in browser.get("/me").text


@pytest.mark.parametrize("path", SOURCES, ids=lambda path: path.name)
def test_no_file_asks_another_host_or_holds_inline_code(path: Path) -> None:
    """Templates and files name no foreign address, no inline script or style, no handler in an attribute.

    Oracle: by construction, the strict policy under which such things do nothing.
    """
    text = path.read_text(encoding="utf-8").replace("http://www.w3.org/2000/svg", "")
    assert not re.search(r"(https?:)?//[a-z0-9-]+\.[a-z]", text)
    assert not re.search(r"<style|\sstyle=|\son[a-z]+=|javascript:", text)
    assert not re.search(r"<script(?![^>]*\ssrc=)[^>]*>", text.replace('<script type="application/json"', ""))
