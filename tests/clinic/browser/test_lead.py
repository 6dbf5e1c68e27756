"""The practice lead in a real browser: what the practice tells owners."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from clinic.browser.test_veterinarian import SIZES, looked_at, sign_in, tab_to


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("size", SIZES)
def test_numbers_for_owners_are_set_by_keyboard(
    quiet_page: Page, address: str, size: str, theme: str, screenshots: Path | None
) -> None:
    """From Today to Practice, numbers and words typed and saved; they are there when the page comes again.

    Oracle: reference library, axe-core as in axe-playwright-python of the lock file, all its rules; the rest by
    construction.
    """
    page, mark = quiet_page, f"{size}-{theme}"
    page.set_viewport_size({"width": SIZES[size][0], "height": SIZES[size][1]})
    page.emulate_media(color_scheme="dark" if theme == "dark" else "light")
    sign_in(page, address, "alder")
    tab_to(page, page.get_by_role("link", name="Practice", exact=True))
    page.keyboard.press("Enter")
    night = page.get_by_label("Telephone by night")
    for field, typed in ((page.get_by_label("Telephone by day"), "555 0100"), (night, f"555 {mark}")):
        tab_to(page, field)
        page.keyboard.press("Control+A")
        page.keyboard.type(typed)
    looked_at(page, f"practice-{mark}", screenshots)
    with page.expect_navigation():
        page.keyboard.press("Control+Enter")
    expect(night).to_have_value(f"555 {mark}")
