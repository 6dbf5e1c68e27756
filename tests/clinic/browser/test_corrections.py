"""Putting an animal right in a real browser, by keyboard."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from clinic.browser.test_after_the_fact import SIZES, new_session
from clinic.browser.walking import act, looked_at, sign_in


@pytest.mark.parametrize("size", SIZES)
def test_editing_moving_and_merging_by_keyboard(page: Page, address: str, size: str, screenshots: Path | None) -> None:
    """An animal gets another owner; a session goes to it; a double of it is merged; every page passes axe and fits.

    Oracle: by construction; reference library, axe-core as in axe-playwright-python of the lock file, all its rules.
    """
    mark = size
    said: list[str] = []
    page.on("console", lambda message: said.append(message.text))
    page.on("pageerror", lambda error: said.append(str(error)))
    page.set_viewport_size({"width": SIZES[size][0], "height": SIZES[size][1]})
    sign_in(page, address)
    new_session(page, address, f"Sedge {mark}")
    new_session(page, address, f"Sedgie {mark}")
    page.keyboard.type("150")
    act(page)
    expect(page.locator("#strip")).to_have_text("saved")
    page.get_by_role("link", name="The wrong animal?").press("Enter")
    page.get_by_label("A few letters").focus()
    page.keyboard.type(f"Sedge {mark}")
    page.keyboard.press("Enter")
    page.get_by_role("radio", name=f"Sedge {mark}").press("Space")
    looked_at(page, f"move-{size}", screenshots)
    act(page)
    expect(page.get_by_role("heading", name=f"Sedge {mark}")).to_be_visible()
    expect(page.locator("tr[id^=reading-]")).to_have_count(1)
    page.goto(f"{address}/animals?q=Sedgie+{size}")
    page.get_by_role("link", name=f"Sedgie {mark}", exact=True).press("Enter")
    page.get_by_role("link", name="Edit").press("Enter")
    page.get_by_label("Owner:").focus()
    page.keyboard.type("Mr Invented")
    page.get_by_label("Remarks").fill("bites")
    page.get_by_label("Born").fill("2015-03-04")
    act(page)
    which = page.get_by_label("Which owner of this name?")
    expect(which).to_be_visible()
    looked_at(page, f"edit-{size}", screenshots)
    which.select_option(index=1)
    act(page)
    expect(page.get_by_role("heading", name=f"Sedgie {mark}")).to_contain_text("Mr Invented")
    looked_at(page, f"animal-edited-{size}", screenshots)
    page.goto(f"{address}/animals?q=Sedg+{size}")
    looked_at(page, f"hits-{size}", screenshots)
    page.get_by_role("link", name=f"Sedgie {mark}", exact=True).press("Enter")
    page.get_by_role("link", name="Edit").press("Enter")
    page.get_by_role("link", name="This is a double").press("Enter")
    page.get_by_label("A few letters").fill(f"Sedge {mark}")
    page.keyboard.press("Enter")
    page.get_by_role("radio", name=f"Sedge {mark}").press("Space")
    looked_at(page, f"merge-{size}", screenshots)
    act(page)
    expect(page.get_by_role("heading", name=f"Sedge {mark}")).to_contain_text("Mr Invented")
    expect(page.get_by_text("Doubles of it were merged here")).to_contain_text(f"Sedgie {mark}")
    assert len(said) == 1, said  # what the browser itself says of the form that was asked about
    assert "422" in said[0]
