"""A day at the bench in a real browser, by keyboard alone, on a phone and at a desk, light and dark."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from clinic.browser.walking import act, looked_at, sign_in, tab_to

SIZES = {"phone": (390, 844), "desk": (1280, 800)}
POINTS = (0, 50, 100, 150, 200, 250, 200, 150, 100, 50, 0)


def go(page: Page, role: str, name: str) -> None:
    """Reach the first of this role and name by Tab alone, and press Enter."""
    tab_to(page, page.get_by_role(role, name=name, exact=True).first)  # type: ignore[arg-type]
    page.keyboard.press("Enter")


def fill(page: Page, name: str, text: str) -> None:
    """Tab to a field, replace what stands in it."""
    tab_to(page, page.get_by_role("textbox", name=name, exact=True))
    page.keyboard.press("Control+a")
    page.keyboard.type(text)


def in_the_register(page: Page, kind: str, name: str) -> None:
    """The lead adds an instrument of a kind."""
    page.get_by_role("link", name="Instruments").first.press("Enter")
    act(page)
    expect(page.get_by_role("heading", name="Add an instrument")).to_be_visible()
    fill(page, "Instrument:", name)
    page.get_by_label("Kind").select_option(label=kind)
    act(page)
    expect(page.get_by_role("link", name=name)).to_be_visible()


@pytest.mark.parametrize("size", SIZES)
def test_a_day_at_the_bench_by_keyboard(quiet_page: Page, address: str, size: str, screenshots: Path | None) -> None:
    """A reference with its certificate, a leak with the timer, static points up and down: good, then 9 mmHg off and
    out of service. Every page passes axe, fits the width and keeps the console quiet.

    Oracle: reference library, axe-core as in axe-playwright-python of the lock file, all its rules.
    """
    page, mark = quiet_page, size
    page.set_viewport_size({"width": SIZES[size][0], "height": SIZES[size][1]})
    gauge, standard = f"gauge {mark}", f"standard {mark}"
    sign_in(page, address, "alder")
    in_the_register(page, "manometer", gauge)
    in_the_register(page, "reference manometer", standard)
    looked_at(page, f"bench-register-{mark}", screenshots)

    go(page, "link", standard)
    expect(page.get_by_role("heading", name="How it stands")).to_be_visible()
    act(page)
    expect(page.get_by_role("heading", name="service certificate")).to_be_visible()
    fill(page, "Issued by:", "Invented Laboratory")
    page.get_by_label("within its limits", exact=True).check()
    page.get_by_label("Its uncertainty, mmHg").fill("0.8")
    page.get_by_label("Correction, mmHg").fill("0")
    looked_at(page, f"bench-certificate-{mark}", screenshots)
    act(page)
    expect(page.get_by_text("Good", exact=True)).to_be_visible()

    page.context.clear_cookies()  # somebody else comes
    sign_in(page, address)
    page.get_by_role("link", name="Instruments").first.press("Enter")
    go(page, "link", gauge)
    expect(page.get_by_role("heading", name="How it stands")).to_be_visible()
    looked_at(page, f"bench-unchecked-{mark}", screenshots)
    go(page, "link", "Leak")
    start = page.get_by_label("At the start").first
    tab_to(page, start)
    page.keyboard.type("250")
    go(page, "button", "Start the time")
    expect(page.get_by_label("Seconds").first).not_to_have_value("")
    page.get_by_role("button", name="Stop the time").press("Enter")
    expect(page.get_by_label("At the end").first).to_be_focused()
    page.get_by_label("Seconds").first.fill("60")  # nobody waits for a minute here
    page.get_by_label("At the end").first.fill("248")
    looked_at(page, f"bench-leak-{mark}", screenshots)
    act(page)
    expect(page.get_by_text("Good", exact=True)).to_be_visible()
    looked_at(page, f"bench-leak-good-{mark}", screenshots)

    for off, verdict in ((1, "Good"), (9, "Failed")):
        go(page, "link", gauge)
        expect(page.get_by_role("heading", name="How it stands")).to_be_visible()
        act(page)
        expect(page.get_by_role("heading", name="static accuracy")).to_be_visible()
        page.get_by_label("Reference manometer").select_option(label=standard)
        page.get_by_label("Instrument:", exact=True).first.focus()
        for pressure in POINTS:
            page.keyboard.type(str(pressure + off))
            page.keyboard.press("Enter")
        expect(page.get_by_role("button", name="Judge and keep")).to_be_focused()
        expect(page.locator("[data-difference]").first).to_have_text(f"+{off}")
        looked_at(page, f"bench-static-{off}-{mark}", screenshots)
        page.keyboard.press("Enter")
        expect(page.get_by_text(verdict, exact=True)).to_be_visible()
        looked_at(page, f"bench-static-{verdict.lower()}-{mark}", screenshots)
    expect(page.get_by_text("Out of service.")).to_be_visible()
    go(page, "link", gauge)
    expect(page.get_by_text("Out of service", exact=True)).to_be_visible()
    looked_at(page, f"bench-instrument-{mark}", screenshots)


def test_a_cuff_that_failed_is_followed_to_its_end(quiet_page: Page, address: str, screenshots: Path | None) -> None:
    """From the bench over Today and the check's page to the page of the session: one decision closes it.

    Oracle: by construction; axe-core as above.
    """
    page = quiet_page
    page.set_viewport_size({"width": SIZES["desk"][0], "height": SIZES["desk"][1]})

    def look(name: str) -> None:
        """At the page in both sizes."""
        for size, (width, height) in SIZES.items():
            page.set_viewport_size({"width": width, "height": height})
            looked_at(page, f"{name}-{size}", screenshots)

    sign_in(page, address)
    page.get_by_role("link", name="Instruments").first.press("Enter")
    go(page, "link", "the small one")
    go(page, "link", "Look over")
    page.get_by_label("not fit for use").check()
    look("bench-look")
    act(page)
    expect(page.get_by_text("Failed", exact=True)).to_be_visible()

    page.context.clear_cookies()
    sign_in(page, address, "heron")
    look("bench-today")
    go(page, "link", "1 session to decide")
    expect(page.get_by_role("heading", name="Sessions in doubt")).to_contain_text("1 of 1 to decide")
    look("bench-doubt")
    page.get_by_label("Decision").select_option(label="stands")
    page.get_by_label("Why").fill("far from any boundary")
    tab_to(page, page.get_by_role("button", name="Decide"))
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="Sessions in doubt")).to_contain_text("0 of 1 to decide")
    look("bench-decided")
    go(page, "link", "Thistle")
    expect(page.get_by_text("Decided: stands, by Heron")).to_be_visible()
    look("bench-session")
