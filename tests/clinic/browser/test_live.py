"""A whole live session in a browser, followed by a second one.

Oracle: by construction (the simulator's animal), and the clinic's own rows beside what the pages show.
"""

from __future__ import annotations

import re
import signal
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from clinic.browser.walking import act, looked_at, sign_in
from clinic.ports import free_port
from clinic.serving import asked, ended, filled, serving, started

AN_INFLATION_MS = 120_000  # it lasts some 30 s, and the machine may be busy


@pytest.fixture(scope="module")
def invented(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[str, Path]]:
    """A clinic whose practice is invented, so that an invented animal may be listened to."""
    data, port = tmp_path_factory.mktemp("clinic") / "data", free_port()
    filled(data, invented=True)
    with serving(data, port):
        yield f"http://localhost:{port}", data


def test_a_live_session_on_two_screens(
    quiet_page: Page, invented: tuple[str, Path], browser: Browser, screenshots: Path | None
) -> None:
    """From Listen to the reading in the list: both screens follow one capture; what was read is saved by itself."""
    (address, data), page = invented, quiet_page
    sign_in(page, address)
    page.get_by_role("link", name="Start a session").first.click()
    page.get_by_role("textbox", name="Animal:").fill("Burdock")
    page.get_by_label("Species").select_option("cat")
    act(page)
    page.get_by_label("Instrument").select_option(label="grey box")
    act(page)
    page.get_by_text("Live from the cuff").click()
    page.get_by_label("From", exact=True).select_option(label="an invented animal")
    page.get_by_role("button", name="Listen", exact=True).click()
    now = page.locator("[data-live=now]")
    expect(now).to_have_text(re.compile(r"^\d{2,3}$"), timeout=30_000)
    with browser.new_context(viewport={"width": 390, "height": 844}, color_scheme="dark") as beside:
        second = beside.new_page()
        sign_in(second, address, "linnet")
        second.goto(page.url)
        expect(second.locator("[data-live=phase]")).not_to_be_empty()
        expect(second.locator("[data-live=systolic]")).to_have_text(re.compile(r"^\d+$"), timeout=AN_INFLATION_MS)
        looked_at(second, "live-phone", screenshots)
        looked_at(page, "live", screenshots)
        rows = page.locator("table.readings tbody tr")
        expect(rows).to_have_count(1, timeout=AN_INFLATION_MS)
        expect(second.locator("table.readings tbody tr")).to_have_count(1)
    page.get_by_role("button", name="Stop listening").click()
    expect(page.get_by_text("The capture has ended.")).to_be_visible()
    kept = asked(data, "select count(*) from measuring_reading where recording_id is not null")
    assert kept[0][0] >= 1
    assert len(asked(data, "select id from measuring_recording")) == kept[0][0]


def test_what_a_killed_clinic_had_received_is_read_afterwards(page: Page, tmp_path: Path) -> None:
    """The clinic is killed while air is let out; started again, it offers what was kept, and reads it once."""
    data, port = tmp_path / "data", free_port()
    filled(data, invented=True)
    address = f"http://localhost:{port}"
    process, _said = started(data, port)
    try:
        sign_in(page, address)
        page.get_by_role("link", name="Start a session").first.click()
        page.get_by_role("textbox", name="Animal:").fill("Burdock")
        page.get_by_label("Species").select_option("cat")
        act(page)
        page.get_by_label("Instrument").select_option(label="grey box")
        act(page)
        page.get_by_text("Live from the cuff").click()
        page.get_by_label("From", exact=True).select_option(label="an invented animal")
        page.get_by_role("button", name="Listen", exact=True).click()
        expect(page.locator("[data-live=mean]")).to_have_text(re.compile(r"^\d+$"), timeout=AN_INFLATION_MS)
    finally:
        ended(process, signal.SIGKILL)
    assert asked(data, "select count(*) from measuring_recording") == [(0,)]
    with serving(data, port):
        page.reload()
        page.get_by_role("button", name="Read what was kept").click()
        expect(page.locator("table.readings tbody tr")).to_have_count(1)
        expect(page.get_by_role("button", name="Read what was kept")).to_have_count(0)
    assert asked(data, "select count(*) from measuring_recording") == [(1,)]
