"""The nurse's day in a real browser, by keyboard alone, on a phone and at a desk, light and dark."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, Route, expect

from clinic.browser.walking import act, looked_at, sign_in

SIZES = {"phone": (360, 740), "desk": (1280, 800)}


def type_reading(page: Page, numbers: str) -> None:
    """Numbers from the display, Enter after each."""
    for number in numbers.split():
        page.keyboard.type(number)
        page.keyboard.press("Enter")


@pytest.mark.parametrize("size", SIZES)
def test_from_signing_in_to_the_end_by_keyboard(
    quiet_page: Page, address: str, size: str, screenshots: Path | None
) -> None:
    """A new animal, its session, four readings, one struck through, the end; every page passes axe and fits the width.

    Oracle: reference library, axe-core as in axe-playwright-python of the lock file, all its rules.
    """
    page, mark = quiet_page, size
    page.set_viewport_size({"width": SIZES[size][0], "height": SIZES[size][1]})
    page.goto(f"{address}/sign-in")
    looked_at(page, f"sign-in-{mark}", screenshots)
    sign_in(page, address)
    looked_at(page, f"today-{mark}", screenshots)
    act(page)
    expect(page.get_by_role("heading", name="Start a session")).to_be_visible()
    page.keyboard.type("this")
    expect(page.get_by_role("link", name="Start a session with Thistle")).to_be_visible()
    looked_at(page, f"start-{mark}", screenshots)
    page.get_by_role("textbox", name="Animal:").focus()
    page.keyboard.type(f"Burr {mark}")
    page.get_by_label("Species").select_option("dog")
    act(page)
    expect(page.get_by_role("heading", name="Burr")).to_be_visible()
    page.get_by_label("Instrument").select_option(label="grey box")
    looked_at(page, f"circumstances-{mark}", screenshots)
    act(page)
    expect(page.get_by_label("Systolic", exact=True)).to_be_focused()
    for numbers in ("176 139 118 120", "168 134 113 118", "164 131 110 116", "163 130 109 117"):
        type_reading(page, numbers)
    expect(page.locator("circle")).to_have_count(4)
    expect(page.locator("#strip")).to_have_text("saved")
    expect(page.locator(".charted")).to_contain_text("charted")
    expect(page.locator("#sentence[aria-busy]")).to_have_count(0)
    expect(page.locator("#leave-out")).to_be_hidden()
    looked_at(page, f"table-{mark}", screenshots)
    page.get_by_role("button", name="Strike reading 1 through").press("Enter")
    expect(page.get_by_text("struck through by Wren")).to_be_visible()
    expect(page.locator("circle")).to_have_count(3)
    page.get_by_role("button", name="Done: to the veterinarian").press("Enter")
    expect(page.get_by_text("Waiting for the veterinarian")).to_be_visible()
    expect(page.get_by_role("link", name=f"Burr {mark}")).to_be_visible()


def test_nothing_can_be_typed_before_it_can_be_saved(page: Page, address: str) -> None:
    """The script does not come: the slots stay shut, and no key sends them as a plain form. It comes: they open.

    Oracle: by construction, the script is held back between server and page.
    """
    sign_in(page, address)
    held_back = re.compile("/table[^/]*[.]js$")
    page.route(held_back, lambda route: route.abort())
    page.get_by_role("link", name="Thistle").first.click()
    slot = page.get_by_label("Systolic", exact=True)
    expect(slot).to_be_disabled()
    expect(page.get_by_role("button", name="Save", exact=True)).to_be_disabled()
    page.keyboard.type("178")
    page.keyboard.press("Enter")
    assert "?systolic" not in page.url
    page.unroute(held_back)
    page.reload()
    expect(slot).to_be_focused()


def test_what_is_not_known_to_be_saved_is_sent_again_and_is_one_row(page: Page, address: str) -> None:
    """The answer is lost on the way back: the page says so, tries again, and no second row is made. Typing goes on.

    Oracle: by construction, the answer is thrown away between server and page.
    """
    sign_in(page, address)
    page.get_by_role("link", name="Thistle").first.click()
    before = page.locator("tr[id^=reading-]").count()

    def lose_the_answer(route: Route) -> None:
        route.fetch()
        route.abort()

    page.route(re.compile("/readings$"), lose_the_answer, times=1)
    page.get_by_label("Systolic", exact=True).fill("151")
    act(page)
    expect(page.locator("#strip")).to_contain_text("1 kept on this tablet only")
    page.get_by_label("Systolic", exact=True).fill("153")
    act(page)
    expect(page.locator("#strip")).to_have_text("saved", timeout=15_000)
    expect(page.locator("tr[id^=reading-]")).to_have_count(before + 2)
    page.reload()
    expect(page.locator("tr[id^=reading-]")).to_have_count(before + 2)


def test_a_spoiled_reading_says_why_before_it_is_saved(quiet_page: Page, address: str) -> None:
    """One touch names the reason; the reading stands aside with it.

    Oracle: by construction.
    """
    page = quiet_page
    sign_in(page, address)
    page.get_by_role("link", name="Thistle").first.click()
    page.get_by_label("Systolic", exact=True).fill("150")
    page.get_by_role("button", name="moved").press("Enter")
    expect(page.get_by_role("button", name="moved")).to_have_attribute("aria-pressed", "true")
    act(page)
    expect(page.locator("#strip")).to_have_text("saved")
    expect(page.locator("tr.aside").last).to_contain_text("moved")


def test_a_refusal_is_seen_on_a_telephone_and_what_is_typed_stands_in_place(page: Page, address: str) -> None:
    """At 390 by 800 the question stands between the slots and the bar below; Enter selects the next filled slot; after
    a reason the numbers come next.

    Oracle: by construction, the boxes on the screen.
    """
    page.set_viewport_size({"width": 390, "height": 800})
    sign_in(page, address)
    page.get_by_role("link", name="Thistle").first.click()
    page.get_by_label("Systolic", exact=True).fill("150")
    page.get_by_label("Mean", exact=True).fill("147")
    page.get_by_label("Diastolic", exact=True).fill("145")
    act(page)
    said = page.locator("#entry-said")
    expect(said).to_contain_text("5 mmHg apart")
    box, bar = said.bounding_box(), page.locator("nav.parts").bounding_box()
    assert box is not None
    assert bar is not None
    assert box["y"] + box["height"] < bar["y"]
    page.get_by_label("Systolic", exact=True).focus()
    page.keyboard.press("Enter")
    page.keyboard.type("120")
    expect(page.get_by_label("Mean", exact=True)).to_have_value("120")
    page.get_by_role("button", name="Leave this reading out").click()
    page.get_by_role("button", name="moved").click()
    expect(page.get_by_label("Systolic", exact=True)).to_be_focused()


@pytest.mark.parametrize("width", [320, 390, 412])
def test_the_person_s_menu_opens_inside_a_narrow_screen(page: Page, address: str, width: int) -> None:
    """Every entry of it can be reached, wherever in the row the name has landed.

    Oracle: by construction, the boxes on the screen.
    """
    page.set_viewport_size({"width": width, "height": 800})
    sign_in(page, address)
    page.locator(".person summary").click()
    for entry in page.locator(".person div > *").all():
        left, right = entry.evaluate("e => [e.getBoundingClientRect().left, e.getBoundingClientRect().right]")
        assert 0 <= left < right <= width


def test_enter_starts_with_the_one_animal_that_was_found(page: Page, address: str) -> None:
    """Typed and Enter at once, before the hits are there.

    Oracle: by construction.
    """
    sign_in(page, address)
    page.goto(f"{address}/start")
    page.get_by_label("A few letters").fill("thistle mr")
    page.keyboard.press("Enter")
    expect(page.get_by_text("As last time: grey box")).to_be_visible()


@pytest.mark.parametrize(("width", "height"), [(390, 800), (1180, 820)])
def test_what_to_do_the_pressure_and_the_call_are_seen_without_scrolling(
    browser: Browser, address: str, width: int, height: int
) -> None:
    """Sentence, charted pressure, slots and the call for the veterinarian stand on the first screen of a touch screen.

    They do so too where readings wait for the network.

    Oracle: by construction, the boxes on the screen.
    """
    context = browser.new_context(viewport={"width": width, "height": height}, has_touch=True)
    page = context.new_page()
    sign_in(page, address)
    page.goto(f"{address}/start")
    page.get_by_role("textbox", name="Animal:").fill(f"Vetch {width}")
    page.get_by_label("Species").select_option("cat")
    act(page)
    page.get_by_label("Instrument").select_option(label="grey box")
    act(page)
    expect(page.get_by_label("Systolic", exact=True)).to_be_focused()

    def is_seen_whole(*each: str) -> None:
        bar = page.locator("nav.parts").bounding_box()
        assert bar is not None
        end = bar["y"] if bar["y"] > height / 2 else height
        for one in each if width < 1000 else [*each, ".picture"]:
            expect(page.locator(one).first).to_be_visible()
            top, bottom = page.locator(one).first.evaluate(
                "e => [e.getBoundingClientRect().top, e.getBoundingClientRect().bottom]"
            )
            assert 0 <= top < bottom <= end, one

    parts = ("#sentence", ".charted b", "#slots", ".reasons", "#call button")
    for n, numbers in enumerate(("166 134 113 178", "164 131 110 176", "163 130 109 177")):
        type_reading(page, numbers)
        expect(page.locator(".readings tbody tr")).to_have_count(n + 1)
    expect(page.locator("#strip")).to_have_text("saved")
    is_seen_whole(*parts)
    context.set_offline(True)
    for n, numbers in enumerate(("162 130 108 175", "161 129 108 176")):
        type_reading(page, numbers)
        expect(page.locator("#kept li")).to_have_count(n + 1)
    is_seen_whole(*parts)
    context.close()


def test_the_improbable_is_asked_about_in_place(page: Page, address: str) -> None:
    """The slot gets the focus with the question; saved again, it is taken.

    Oracle: by construction.
    """
    sign_in(page, address)
    page.get_by_role("link", name="Thistle").first.click()
    page.get_by_label("Systolic", exact=True).fill("150")
    page.get_by_label("Diastolic", exact=True).fill("140")
    act(page)
    expect(page.locator("#entry-said")).to_contain_text("10 mmHg apart")
    expect(page.get_by_label("Diastolic", exact=True)).to_be_focused()
    act(page)
    expect(page.locator("#strip")).to_have_text("saved")
