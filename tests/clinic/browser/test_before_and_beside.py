"""What stands around the readings at the table: cuffs, time to settle, fetching the veterinarian. By keyboard."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from clinic.browser.test_after_the_fact import SIZES, new_session
from clinic.browser.walking import act, looked_at, sign_in


@pytest.mark.parametrize("size", SIZES)
def test_cuff_time_to_settle_and_call_by_keyboard(
    quiet_page: Page, address: str, size: str, screenshots: Path | None
) -> None:
    """The cuffs turn with the circumference; the time to settle is moved; a call stands first on Today; axe is content.

    Oracle: by construction; reference library, axe-core as in axe-playwright-python of the lock file, all its rules.
    """
    page, name = quiet_page, f"Reed {size}"
    page.set_viewport_size({"width": SIZES[size][0], "height": SIZES[size][1]})
    sign_in(page, address)
    page.goto(f"{address}/start")
    page.get_by_role("textbox", name="Animal:").focus()
    page.keyboard.type(name)
    page.get_by_label("Species").select_option("cat")
    act(page)
    page.get_by_label("Limb circumference").focus()
    page.keyboard.type("8.7")
    expect(page.locator("#id_cuff optgroup").first).to_have_attribute("label", "Fit this limb")
    page.get_by_label("Limb circumference").fill("")
    page.keyboard.type("6.5")
    expect(page.locator("#id_cuff optgroup")).to_have_attribute("label", "Do not fit")
    page.get_by_label("Cuff:").select_option(index=1)
    page.keyboard.press("Tab")
    expect(page.locator("#id_cuff option:checked")).to_contain_text("slightly wide: may read low")
    looked_at(page, f"cuffs-{size}", screenshots)
    page.get_by_label("Instrument").select_option(label="grey box")
    act(page)
    expect(page.get_by_label("Systolic", exact=True)).to_be_focused()
    settling = page.locator("#settling")
    page.get_by_role("button", name="5 min ago").press("Enter")
    expect(settling).to_contain_text("5 min: long enough; 10 minutes are better")
    expect(page.get_by_role("button", name="5 min more")).to_be_focused()
    page.get_by_role("button", name="5 min less").press("Enter")
    expect(settling).to_contain_text("5 minutes still to go")
    page.get_by_label("Systolic", exact=True).fill("150")
    act(page)
    expect(page.locator("#series")).to_contain_text("Started after 0 of 5 minutes to settle: noted.")
    page.get_by_role("button", name="Disturbed: begin again").press("Enter")
    expect(settling).to_contain_text("Undisturbed since")
    page.get_by_role("button", name="Fetch the veterinarian now").press("Enter")
    expect(page.locator("#call")).to_contain_text("Veterinarian called by Wren")
    expect(page.locator("#sentence[aria-busy]")).to_have_count(0)
    looked_at(page, f"called-{size}", screenshots)
    page.goto(f"{address}/")
    expect(page.locator("section[aria-labelledby=waiting] li").first).to_contain_text("called by Wren")
    looked_at(page, f"today-called-{size}", screenshots)


def test_without_network_a_call_says_that_it_has_not_reached_anybody(page: Page, address: str) -> None:
    """The page stays, with what is being typed, and nobody thinks that the veterinarian comes.

    Oracle: by construction, the browser is cut off.
    """
    sign_in(page, address)
    new_session(page, address, "Teasel")
    page.keyboard.type("151")
    page.context.set_offline(True)
    page.get_by_role("button", name="Fetch the veterinarian now").press("Enter")
    expect(page.locator("#call")).to_contain_text("Fetch her yourself")
    expect(page.get_by_label("Systolic", exact=True)).to_have_value("151")
    page.context.set_offline(False)
    page.get_by_role("button", name="Fetch the veterinarian now").press("Enter")
    expect(page.locator("#call")).to_contain_text("called by Wren")
