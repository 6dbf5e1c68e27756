"""The practice lead's day in a real browser, by keyboard alone, on a phone and at a desk, light and dark."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from clinic.browser.walking import act, looked_at, sign_in, tab_to
from clinic.ports import free_port
from clinic.quarter import filled_with_a_quarter
from clinic.serving import serving

SIZES = {"phone": (390, 844), "desk": (1280, 800)}
HER_OWN = "the hedge is high in May"


@pytest.fixture(scope="module")
def lead_address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Where a clinic with a quarter of a year in it answers."""
    data, port = tmp_path_factory.mktemp("quarter") / "data", free_port()
    filled_with_a_quarter(data)
    with serving(data, port):
        yield f"http://localhost:{port}"


def tab_to_role(page: Page, role: str, name: str) -> None:
    """Reach the first of this role and name by Tab alone."""
    tab_to(page, page.get_by_role(role, name=name, exact=True).first)  # type: ignore[arg-type]


def go(page: Page, role: str, name: str, to: str) -> None:
    """Tab to it, press Enter, and be on the page with this heading."""
    tab_to_role(page, role, name)
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name=to, level=1)).to_be_visible()


def fill(page: Page, name: str, text: str) -> None:
    """Tab to a field, replace what stands in it."""
    tab_to_role(page, "textbox", name)
    page.keyboard.press("Control+a")
    page.keyboard.type(text)


@pytest.mark.parametrize("size", SIZES)
def test_the_lead_s_day_by_keyboard(
    quiet_page: Page, lead_address: str, size: str, screenshots: Path | None, tmp_path: Path
) -> None:
    """Settings, a person who sets her own password, competence, a cuff, an import, technique, a letter, the folder.

    Every page passes axe, fits the width and keeps the console quiet.

    Oracle: reference library, axe-core as in axe-playwright-python of the lock file, all its rules.
    """
    page, mark, address = quiet_page, size, lead_address
    page.set_viewport_size({"width": SIZES[size][0], "height": SIZES[size][1]})
    sign_in(page, address, "alder")
    looked_at(page, f"lead-today-{mark}", screenshots)

    go(page, "link", "Practice", "Practice at the Mill Pond")
    looked_at(page, f"lead-practice-{mark}", screenshots)

    go(page, "link", "Settings", "Settings")
    fill(page, "Telephone by day:", f"01 234 {mark}")
    act(page)
    expect(page.get_by_role("heading", name="Practice at the Mill Pond")).to_be_visible()
    go(page, "link", "Settings", "Settings")
    expect(page.get_by_text(f"01 234 {mark}")).to_be_visible()
    looked_at(page, f"lead-settings-{mark}", screenshots)

    go(page, "link", "Practice", "Practice at the Mill Pond")
    go(page, "link", "People", "People")
    looked_at(page, f"lead-people-{mark}", screenshots)
    act(page)
    expect(page.get_by_role("heading", name="Add a person")).to_be_visible()
    fill(page, "Name, as others should see it:", f"Plover {mark}")
    fill(page, "Name to sign in:", f"plover-{mark}")
    tab_to_role(page, "checkbox", "nurse")
    page.keyboard.press("Space")
    looked_at(page, f"lead-person-add-{mark}", screenshots)
    act(page)
    code = page.locator("p.code").inner_text()
    looked_at(page, f"lead-code-{mark}", screenshots)
    act(page)
    expect(page.get_by_role("heading", name=f"Plover {mark}")).to_be_visible()

    act(page)
    expect(page.get_by_role("heading", name=f"What Plover {mark} has been taught")).to_be_visible()
    fill(page, "What:", "Doppler in cats")
    looked_at(page, f"lead-competence-{mark}", screenshots)
    act(page)
    expect(page.get_by_role("link", name="Doppler in cats")).to_be_visible()
    go(page, "button", "Give the role: researcher", f"Plover {mark}")
    expect(page.get_by_role("button", name="End the role: researcher")).to_be_visible()
    looked_at(page, f"lead-person-{mark}", screenshots)

    go(page, "link", "Instruments", "Instruments")
    looked_at(page, f"lead-instruments-{mark}", screenshots)
    tab_to_role(page, "link", "grey box")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="How it stands")).to_be_visible()
    looked_at(page, f"lead-instrument-{mark}", screenshots)
    go(page, "link", "Change the register", "grey box")
    looked_at(page, f"lead-instrument-edit-{mark}", screenshots)
    go(page, "link", "Instruments", "Instruments")
    go(page, "link", "Add a cuff", "Add a cuff")
    fill(page, "Cuff:", f"the cuff of {mark}")
    tab_to_role(page, "spinbutton", "Width of the bladder, cm:")
    page.keyboard.type("4.5")
    act(page)
    expect(page.get_by_role("link", name=f"the cuff of {mark}")).to_be_visible()

    go(page, "link", "Practice", "Practice at the Mill Pond")
    go(page, "link", "Import", "Import animals and owners")
    looked_at(page, f"lead-import-{mark}", screenshots)
    table = tmp_path / "clients.csv"
    table.write_text(
        f"animal_id;animal;species;owner_id;owner\n{mark};Burdock;dog;{mark};Ms Reed\nx{mark};Y;horse;;\n",
        encoding="utf-8",
    )
    page.get_by_label("CSV file").set_input_files(table)  # the system's own dialogue, which no page can be tested in
    act(page)
    expect(page.get_by_role("heading", name="What would happen")).to_be_visible()
    expect(page.get_by_text("write cat or dog")).to_be_visible()
    looked_at(page, f"lead-import-plan-{mark}", screenshots)
    act(page)
    expect(page.get_by_role("heading", name="Imported")).to_be_visible()
    looked_at(page, f"lead-import-done-{mark}", screenshots)

    go(page, "link", "Practice", "Practice at the Mill Pond")
    go(page, "link", "Technique", "Technique")
    go(page, "link", "The same by who read", "Technique")
    expect(page.get_by_role("rowheader", name="Wren")).to_be_visible()
    looked_at(page, f"lead-technique-{mark}", screenshots)

    go(page, "link", "Today", "Today")
    go(page, "button", "Bramble: contacted", "Today")
    expect(page.get_by_role("button", name="Bramble: contacted")).to_have_attribute("aria-pressed", "true")
    looked_at(page, f"lead-due-{mark}", screenshots)
    go(page, "link", "Letter for Bramble", "Time to measure Bramble's blood pressure")
    looked_at(page, f"lead-letter-{mark}", screenshots)
    page.emulate_media(media="print")
    expect(page.get_by_role("button", name="Print")).to_be_hidden()
    expect(page.locator("nav.parts")).to_be_hidden()
    if screenshots is not None:
        page.screenshot(path=screenshots / f"lead-letter-print-{mark}.png", full_page=True)
    page.emulate_media(media="screen")
    go(page, "link", "Today", "Today")
    go(page, "button", "Bramble: contacted", "Today")
    expect(page.get_by_role("button", name="Bramble: contacted")).to_have_attribute("aria-pressed", "false")

    go(page, "link", "Practice", "Practice at the Mill Pond")
    go(page, "link", "Inspection folder", "Inspection folder")
    looked_at(page, f"lead-inspection-{mark}", screenshots)
    go(page, "link", "Practice", "Practice at the Mill Pond")
    with page.expect_download() as downloaded:
        act(page)
    content = Path(downloaded.value.path()).read_bytes()
    assert {"README.txt", "check.py", "journal.jsonl"} <= set(zipfile.ZipFile(io.BytesIO(content)).namelist())

    go(page, "link", "Practice", "Practice at the Mill Pond")
    page.goto(f"{address}/welcome")
    looked_at(page, f"lead-welcome-{mark}", screenshots)
    fill(page, "Name to sign in:", f"plover-{mark}")
    fill(page, "Code from the practice lead:", code)
    tab_to_password(page)
    page.keyboard.type(HER_OWN)
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name=f"Plover {mark}")).to_be_visible()


def tab_to_password(page: Page) -> None:
    """A password field has no role."""
    for _ in range(5):
        page.keyboard.press("Tab")
        if page.get_by_label("New password").evaluate("element => element === document.activeElement"):
            return
    pytest.fail("Tab never reaches the password")
