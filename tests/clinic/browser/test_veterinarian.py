"""The veterinarian's day in a real browser by keyboard alone: open, examine, sign, copy, amend, the animal."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from clinic.browser.walking import act, looked_at, sign_in, tab_to

SIZES = {"phone": (390, 844), "desk": (1280, 800)}


def measure(page: Page, address: str, animal: str) -> None:
    """A new cat with five readings, closed, as the nurse does it."""
    page.goto(f"{address}/start")
    page.get_by_role("textbox", name="Animal:").fill(animal)
    page.get_by_label("Species").select_option("cat")
    act(page)
    page.get_by_label("Instrument").select_option(label="grey box")
    act(page)
    expect(page.get_by_label("Systolic", exact=True)).to_be_focused()
    for n, numbers in enumerate(
        ("178 140 118 180", "172 138 116 178", "170 137 115 176", "169 136 115 176", "168 136 114 175")
    ):
        for number in numbers.split():
            page.keyboard.type(number)
            page.keyboard.press("Enter")
        expect(page.locator("tr[id^=reading-]")).to_have_count(n + 1)
    page.get_by_role("button", name="Done: to the veterinarian").press("Enter")
    expect(page.get_by_role("heading", name="Waiting for the veterinarian")).to_be_visible()


@pytest.mark.parametrize("size", SIZES)
def test_from_waiting_to_amended_by_keyboard(
    quiet_page: Page, address: str, size: str, screenshots: Path | None
) -> None:
    """From Today to the session, both eyes and kidneys, another value with its reason, signed, amended, the animal.

    Oracle: reference library, axe-core as in axe-playwright-python of the lock file, all its rules; the rest by
    construction.
    """
    page, mark = quiet_page, size
    animal = f"Sedge {mark}"
    page.set_viewport_size({"width": SIZES[size][0], "height": SIZES[size][1]})
    sign_in(page, address, "wren")
    measure(page, address, animal)
    page.context.clear_cookies()
    sign_in(page, address, "heron")

    tab_to(page, page.get_by_role("link", name=animal))
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="Can I act on this?")).to_be_visible()
    expect(page.locator(".answer")).to_have_text("Eyes and organs first")
    looked_at(page, f"result-{mark}", screenshots)
    page.keyboard.press("Control+Enter")  # from the top it leads to the signature, and signs nothing unread
    expect(page.get_by_role("button", name="Sign", exact=True)).to_be_focused()
    expect(page.locator(".signed")).to_have_count(0)
    page.reload()

    tab_to(page, page.get_by_text("Examine", exact=True))
    page.keyboard.press("Enter")
    for row, state in (("left", "a"), ("right", "a"), ("brain", "a"), ("heart", "a"), ("kidneys", "k")):
        tab_to(page, page.locator(f"#id_{row}-state"))
        page.keyboard.press(state)
        if row in ("left", "right"):
            tab_to(page, page.locator(f"#id_{row}-method"))
            page.keyboard.type("indirect")
            tab_to(page, page.locator(f"#id_{row}-view"))
            page.keyboard.press("w")
    looked_at(page, f"organs-{mark}", screenshots)
    tab_to(page, page.get_by_role("button", name="Save organs"))
    page.keyboard.press("Enter")
    expect(page.get_by_role("row", name="Eyes")).to_contain_text("no damage")
    expect(page.locator(".answer")).to_have_text("Repeat first")

    tab_to(page, page.get_by_label("as charted"))
    page.keyboard.press("ArrowDown")
    page.keyboard.press("ArrowDown")
    expect(page.get_by_label("another value", exact=True)).to_be_checked()
    tab_to(page, page.get_by_label("Another value, mmHg"))
    page.keyboard.type("166")
    tab_to(page, page.get_by_label("Reason for another value"))
    page.keyboard.type("purring through the first two")
    act(page)
    expect(page.locator(".signed")).to_contain_text("166 mmHg")
    expect(page.locator(".signed")).to_contain_text("purring through the first two")
    expect(page.get_by_role("button", name="Save organs")).to_have_count(0)

    page.context.grant_permissions(["clipboard-read", "clipboard-write"])
    tab_to(page, page.get_by_role("button", name="Copy the note"))
    page.keyboard.press("Enter")
    expect(page.locator("#note-said")).to_have_text("copied")
    assert "Signed: 166 mmHg" in page.evaluate("navigator.clipboard.readText()")

    tab_to(page, page.get_by_text("Amend", exact=True))
    page.keyboard.press("Enter")
    tab_to(page, page.get_by_label("Pressure in its place"))
    page.keyboard.type("168")
    tab_to(page, page.get_by_label("Why it is amended"))
    page.keyboard.type("the recording was looked at again")
    page.keyboard.press("Enter")
    expect(page.locator(".signed")).to_contain_text("Amended by Heron")
    expect(page.locator(".signed")).to_contain_text("It now stands at 168 mmHg")
    looked_at(page, f"signed-{mark}", screenshots)

    tab_to(page, page.get_by_role("link", name="Owner's page"))
    page.keyboard.press("Enter")
    expect(page.get_by_text(f"The blood pressure of {animal} was high: 168 mmHg.")).to_be_visible()
    looked_at(page, f"owner-{mark}", screenshots)
    tab_to(page, page.get_by_role("link", name="Back to the session"))
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="Can I act on this?")).to_be_visible()

    tab_to(page, page.locator("h1 a"))
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="Next recheck")).to_be_visible()
    expect(page.locator("img.drawn")).to_have_js_property("complete", True)
    assert page.locator("img.drawn").evaluate("image => image.naturalWidth") > 0
    expect(page.get_by_text("168 mmHg amended")).to_be_visible()
    looked_at(page, f"animal-{mark}", screenshots)
