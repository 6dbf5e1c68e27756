"""The clock at the table, with a clock of the test's own in the browser."""

from __future__ import annotations

from datetime import UTC, datetime

from playwright.sync_api import Page, expect

from clinic.browser.walking import act, sign_in


def test_the_clock_counts_rests_and_blocks_nothing(page: Page, address: str) -> None:
    """30 s after a reading, then a full minute is better; three tries in two minutes rest for two; 90 s of pressure.

    Oracle: common practice for 30 to 60 s, 90 s and three tries in two minutes; invented for the two minutes of rest.
    """
    page.clock.install(time=datetime.now(UTC))
    sign_in(page, address)
    page.get_by_role("link", name="Start a session").click()
    page.get_by_role("textbox", name="Animal:").fill("Sedge")
    page.get_by_label("Species").select_option("cat")
    act(page)
    page.get_by_label("Method").select_option("doppler")
    act(page)
    clock, slot = page.get_by_role("timer"), page.get_by_label("Systolic", exact=True)
    expect(slot).to_be_focused()
    expect(clock).to_have_text("")

    def reads(value: int) -> None:
        slot.fill(str(value))
        act(page)
        expect(page.locator("#strip")).to_have_text("saved")

    reads(150)
    expect(clock).to_contain_text("limb at rest:")
    page.clock.run_for(31_000)
    expect(clock).to_contain_text("a full minute is better")
    page.clock.run_for(30_000)
    expect(clock).to_have_text("")
    page.clock.run_for(60_000)
    for value in (151, 152, 153):
        reads(value)
    expect(clock).to_contain_text("Three tries")
    page.clock.run_for(100_000)
    expect(clock).to_contain_text("Three tries")
    page.clock.run_for(25_000)
    expect(clock).to_have_text("")
    cuff = page.get_by_role("button", name="Cuff goes up")
    cuff.click()
    page.clock.run_for(80_000)
    expect(clock).not_to_contain_text("Let the air out")
    page.clock.run_for(11_000)
    expect(clock).to_contain_text("Let the air out")
    cuff.click()
    expect(clock).to_contain_text("Long under pressure")
    page.clock.run_for(121_000)
    expect(clock).to_have_text("")
