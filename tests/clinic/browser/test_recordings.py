"""Recordings at the table in a real browser."""

from __future__ import annotations

import base64
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from clinic.browser.walking import act, sign_in
from quietlimb.clinic.recordings.limits import MOST_BYTES
from quietlimb.exchange.recording_csv import write_recording
from quietlimb.simulator.sessions import simulate_session

DROP = """([name, packed]) => {
  const bytes = Uint8Array.from(atob(packed), (letter) => letter.charCodeAt(0));
  const carried = new DataTransfer();
  carried.items.add(new File([bytes], name));
  document.body.dispatchEvent(new DragEvent("drop", { dataTransfer: carried, bubbles: true, cancelable: true }));
}"""


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    """Invented recordings without the marks of the simulator, which the clinic would refuse."""
    folder = tmp_path_factory.mktemp("recordings")
    for k, made in enumerate(simulate_session(7, species="cat", course="level").recordings[:3], start=1):
        path = folder / f"r{k}.csv"
        write_recording(made.recording, path)
        lines = path.read_text(encoding="utf-8").splitlines(keepends=True)
        told = ("# instrument", "# animal", "# started_at", "# remarks")
        path.write_text("".join(line for line in lines if not line.startswith(told)), encoding="utf-8")
    return sorted(folder.iterdir())


def test_recordings_are_chosen_and_dropped_and_looked_at(
    quiet_page: Page, address: str, files: list[Path], screenshots: Path | None
) -> None:
    """Two chosen, one dropped on the page: three dots; the recording's page has its picture.

    Oracle: by construction; axe-core of the lock file for the page, all its rules.
    """
    page = quiet_page
    sign_in(page, address)
    page.get_by_role("link", name="Start a session").first.click()
    page.get_by_role("textbox", name="Animal:").fill("Burdock")
    page.get_by_label("Species").select_option("cat")
    act(page)
    expect(page.get_by_role("heading", name="Burdock")).to_be_visible()
    page.get_by_label("Instrument").select_option(label="grey box")
    act(page)
    chooser = page.locator("#recordings input")
    chooser.set_input_files(files[:2])
    expect(page.locator("circle")).to_have_count(2)
    page.evaluate(DROP, [files[2].name, base64.b64encode(files[2].read_bytes()).decode("ascii")])
    expect(page.locator("circle")).to_have_count(3)
    expect(page.locator(".charted")).to_contain_text("charted")
    chooser.set_input_files(files[0])
    expect(page.locator("#recordings li")).to_have_text(f"{files[0].name}: is here already, in the list above")
    expect(page.locator("circle")).to_have_count(3)
    large = {"name": "long.csv", "mimeType": "text/csv", "buffer": b"0" * (MOST_BYTES + 1)}
    chooser.set_input_files(files=[large])  # type: ignore[list-item]  # as the library wants it
    expect(page.locator("#recordings .refused")).to_contain_text("long.csv: too large, at most 16.0")
    page.get_by_role("link", name="recording").first.click()
    expect(page.get_by_role("heading", name="Burdock")).to_be_visible()
    drawn = page.locator("img.drawn")
    expect(drawn).to_be_visible(timeout=30_000)  # it is drawn when it is asked for
    page.wait_for_function("document.querySelector('img.drawn').complete")
    assert page.evaluate("document.querySelector('img.drawn').naturalWidth") > 400
    for name, width in (("desk", 1280), ("phone", 390)):
        page.set_viewport_size({"width": width, "height": 800})
        found = Axe().run(page)
        assert found.violations_count == 0, found.generate_report()
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        if screenshots is not None:
            page.screenshot(path=screenshots / f"recording-{name}.png", full_page=True)


def test_what_is_no_recording_says_why(page: Page, address: str, tmp_path: Path) -> None:
    """The list names file, trouble and remedy; the readings stay as they were.

    Oracle: by construction.
    """
    sign_in(page, address)
    page.get_by_role("link", name="Thistle").first.click()
    expect(page.get_by_label("Systolic", exact=True)).to_be_focused()
    before = page.locator("tr[id^=reading-]").count()
    bad = tmp_path / "bad.csv"
    bad.write_text("time_s,cuff_pressure_mmHg\n0,x\n", encoding="utf-8")
    page.locator("#recordings input").set_input_files([bad])
    expect(page.locator("#recordings .refused")).to_contain_text("bad.csv: ")
    expect(page.locator("tr[id^=reading-]")).to_have_count(before)
