"""Sessions in, and the researcher's page, in a real browser by keyboard alone."""

from __future__ import annotations

import io
import zipfile
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from clinic.browser.test_lead import SIZES, go, tab_to_role
from clinic.browser.walking import act, looked_at, sign_in, tab_to
from clinic.examples import PASSWORD
from exchange.invented_bundles import ANIMAL, FIRST, bundle, key
from quietlimb.exchange.fhir_bundle import bundle_text


def bundle_of(days: int) -> str:
    """The invented session as if it were so many days ago; a session of its own for each number of days."""
    back = FIRST.started_at - datetime.now(UTC).replace(microsecond=0) + timedelta(days=days)
    rows = tuple(replace(each, key=key(n), taken_at=each.taken_at - back) for n, each in enumerate(FIRST.readings, 50))
    moved = replace(
        FIRST,
        key=key(1000 + days),
        started_at=FIRST.started_at - back,
        ended_at=FIRST.started_at - back + timedelta(minutes=20),
        readings=rows,
        value=None,
    )
    return bundle_text(bundle(moved, animal=replace(ANIMAL, name="Bramble")))


@pytest.mark.parametrize(("size", "days"), [("phone", 2), ("desk", 3)])
def test_the_lead_imports_a_session_by_keyboard(
    quiet_page: Page, address: str, size: str, days: int, screenshots: Path | None, tmp_path: Path
) -> None:
    """From the animal's page over the look to the import, and the session says that it was not measured here.

    Oracle: reference library, axe-core as in axe-playwright-python of the lock file, all its rules.
    """
    page, mark = quiet_page, size
    page.set_viewport_size({"width": SIZES[size][0], "height": SIZES[size][1]})
    sign_in(page, address, "alder")
    go(page, "link", "Animals", "Animals")
    page.goto(f"{address}/animals?q=thistle")
    tab_to_role(page, "link", "Thistle")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="For other records")).to_be_visible()
    go(page, "link", "Import sessions", "Import sessions of Thistle")
    looked_at(page, f"exchange-file-{mark}", screenshots)
    path = tmp_path / "there.json"
    path.write_text(bundle_of(days), encoding="utf-8")
    page.get_by_label("FHIR bundle").set_input_files(path)  # the system's own dialogue, which no page can be tested in
    act(page)
    expect(page.get_by_role("heading", name="What would happen to Thistle")).to_be_visible()
    expect(page.get_by_text("Is this the same animal?")).to_be_visible()
    looked_at(page, f"exchange-plan-{mark}", screenshots)
    tab_to(page, page.get_by_role("checkbox", name="Yes: the animal of the file is Thistle"))
    page.keyboard.press("Space")
    act(page)
    expect(page.get_by_role("heading", name="1 session imported")).to_be_visible()
    looked_at(page, f"exchange-done-{mark}", screenshots)
    act(page)
    expect(page.get_by_text("imported", exact=True).first).to_be_visible()
    looked_at(page, f"exchange-animal-{mark}", screenshots)
    go(page, "link", "Today", "Today")
    expect(page.get_by_text("imported", exact=True).first).to_be_visible()


@pytest.mark.parametrize("size", SIZES)
def test_the_researcher_s_day_by_keyboard(quiet_page: Page, address: str, size: str, screenshots: Path | None) -> None:
    """She signs in, comes to the export, and one key brings the ZIP down.

    Oracle: reference library, axe-core as in axe-playwright-python of the lock file, all its rules.
    """
    page, mark = quiet_page, size
    page.set_viewport_size({"width": SIZES[size][0], "height": SIZES[size][1]})
    page.goto(f"{address}/sign-in")
    expect(page.get_by_label("Name")).to_be_focused()
    page.keyboard.type("sorrel")
    page.keyboard.press("Tab")
    page.keyboard.type(PASSWORD)
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="De-identified export")).to_be_visible()
    looked_at(page, f"research-export-{mark}", screenshots)
    with page.expect_download() as downloaded:
        act(page)
    content = Path(downloaded.value.path()).read_bytes()
    names = zipfile.ZipFile(io.BytesIO(content)).namelist()
    assert names == ["README.txt", "animals.csv", "sessions.csv", "readings.csv"]
