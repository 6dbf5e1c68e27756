"""A person's own choices in a real browser: kPa, the left hand, a screen that stays awake. By keyboard."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from clinic.browser.test_after_the_fact import SIZES, new_session
from clinic.browser.walking import act, looked_at, sign_in

# Chromium without a screen may refuse; what is asked of it is what counts here.
LOCK = """
window.asked = [];
Object.defineProperty(navigator, "wakeLock", { value: { request: async (what) => { window.asked.push(what); } } });
"""


def choose(page: Page, address: str, unit: str, *, left: bool) -> None:
    """On one's own page, by keyboard."""
    page.goto(f"{address}/me")
    page.get_by_label("Pressures in").select_option(unit)
    hand = page.get_by_label("Buttons for the left hand")
    if hand.is_checked() != left:
        hand.press("Space")
    page.get_by_role("button", name="Save my choices").press("Enter")
    expect(page.get_by_label("Pressures in")).to_have_value(unit)


@pytest.fixture
def as_before(quiet_page: Page, address: str) -> Iterator[Page]:
    """Wren's page; her choices are put back afterwards."""
    sign_in(quiet_page, address)
    yield quiet_page
    choose(quiet_page, address, "mmHg", left=False)


@pytest.mark.parametrize("size", SIZES)
def test_kpa_and_the_left_hand_at_the_table(as_before: Page, address: str, size: str, screenshots: Path | None) -> None:
    """Typed in kPa by slots and by a line, kept in mmHg, both shown; Save stands left of the slots.

    Oracle: by construction, 21.6 kPa is 162.013 mmHg and 20.0 kPa 150.012; reference library, axe-core as in
    axe-playwright-python of the lock file, all its rules.
    """
    page = as_before
    page.set_viewport_size({"width": SIZES[size][0], "height": SIZES[size][1]})
    choose(page, address, "kPa", left=True)
    looked_at(page, f"my-page-{size}", screenshots)
    new_session(page, address, f"Rush {size}", slot="Systolic, kPa")
    for number in ("21.6", "17,1", "13.9", "180"):
        page.keyboard.type(number)
        page.keyboard.press("Enter")
    expect(page.locator("tr[id^=reading-]")).to_have_count(1)
    page.get_by_text("Several taken before").press("Enter")
    page.get_by_label("Time, then the numbers").fill(f"{page.locator('time').first.inner_text()} 20.0/15/12 176")
    act(page)
    expect(page.locator("tr[id^=reading-]")).to_have_count(2)
    lines = page.locator("tr[id^=reading-]")
    expect(lines.filter(has_text="21.6")).to_contain_text("162.0")
    expect(lines.filter(has_text="20.0")).to_contain_text("150.0")
    expect(lines.filter(has_text="20.0")).to_contain_text("176")
    expect(page.locator(".charted")).to_contain_text("kPa")
    left = [page.locator(what).bounding_box() for what in ("#slots .action", "#slot-systolic")]
    assert left[0] is not None
    assert left[1] is not None
    assert left[0]["x"] < left[1]["x"]
    expect(page.locator("#sentence[aria-busy]")).to_have_count(0)
    looked_at(page, f"kpa-table-{size}", screenshots)
    page.goto(page.url.split("?")[0] + "/result")
    looked_at(page, f"kpa-result-{size}", screenshots)


def test_a_refused_reading_comes_back_in_kpa_and_untouched_stays_to_the_last_digit(page: Page, address: str) -> None:
    """163 mmHg, typed in mmHg and asked about, is shown as 21.7 kPa to who took over; meant so, 163 is what is saved.

    Oracle: by construction, 21.7 kPa typed anew would be 162.764 mmHg.
    """
    sign_in(page, address)
    new_session(page, address, "Teasel")
    page.keyboard.type("163")
    page.get_by_label("Diastolic", exact=True).fill("158")
    act(page)
    expect(page.locator("#entry-said")).to_contain_text("5 mmHg apart")
    table = page.url
    choose(page, address, "kPa", left=False)
    page.goto(table)
    expect(page.get_by_label("Systolic, kPa")).to_have_value("21.7")
    act(page)
    expect(page.locator("tr[id^=reading-]")).to_contain_text("163")
    choose(page, address, "mmHg", left=False)
    page.goto(table)
    assert page.locator("tr[id^=reading-]").inner_text().split("\t")[2] == "163"


def test_the_screen_is_asked_to_stay_awake_and_asked_again_when_it_comes_back(quiet_page: Page, address: str) -> None:
    """Once when the table opens, once more when the page is seen again; a browser without it says nothing.

    Oracle: by construction, the browser's function is replaced.
    """
    page = quiet_page
    page.add_init_script(LOCK)
    sign_in(page, address)
    assert page.evaluate("window.asked") == []
    page.get_by_role("link", name="Thistle").first.click()
    expect(page.get_by_label("Systolic", exact=True)).to_be_focused()
    page.wait_for_function("window.asked.length === 1")
    page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
    page.wait_for_function("window.asked.length === 2")
    assert page.evaluate("window.asked") == ["screen", "screen"]
