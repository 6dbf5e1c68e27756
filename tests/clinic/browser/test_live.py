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


def at_the_table(page: Page, address: str, animal: str) -> None:
    """A session of a new cat, by an oscillometric instrument."""
    sign_in(page, address)
    page.get_by_role("link", name="Start a session").first.click()
    page.get_by_role("textbox", name="Animal:").fill(animal)
    page.get_by_label("Species").select_option("cat")
    act(page)
    page.get_by_label("Instrument").select_option(label="grey box")
    act(page)


def listens(page: Page) -> None:
    """The invented animal, live."""
    page.get_by_text("Live from the cuff").click()
    page.get_by_label("From", exact=True).select_option(label="an invented animal")
    page.get_by_role("button", name="Listen", exact=True).click()


def test_a_live_session_on_two_screens(
    quiet_page: Page, invented: tuple[str, Path], browser: Browser, screenshots: Path | None
) -> None:
    """From Listen to the reading in the list: both screens follow one capture; what was read is saved by itself."""
    (address, data), page = invented, quiet_page
    at_the_table(page, address, "Burdock")
    listens(page)
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


def test_a_page_opened_before_follows_by_itself_and_both_tell_of_a_cuff_left_full(
    quiet_page: Page, invented: tuple[str, Path], browser: Browser, screenshots: Path | None
) -> None:
    """A telephone on the table's page hears of the capture that begins later, and shows the reading that came.

    Listening ends while air is let out: both pages show no number, say what to do, also when loaded anew, and the clock
    does not let the next reading start; until somebody has seen the cuff empty.
    """
    (address, _data), page = invented, quiet_page
    at_the_table(page, address, "Tansy")
    with browser.new_context(viewport={"width": 390, "height": 844}) as beside:
        second = beside.new_page()
        sign_in(second, address, "linnet")
        second.goto(page.url)
        expect(second.locator("[data-live=now]")).to_be_hidden()
        listens(page)
        now = second.locator("[data-live=now]")
        expect(now).to_have_text(re.compile(r"^\d{1,3}$"), timeout=30_000)
        expect(second.locator("table.readings tbody tr")).to_have_count(1, timeout=AN_INFLATION_MS)
        for each in (page, second):
            expect(each.locator("[data-live=phase]")).to_have_text("falling", timeout=AN_INFLATION_MS)
            expect(each.get_by_role("timer")).to_contain_text("Cuff up for")
        for name in ("systolic", "mean", "diastolic"):
            second.locator("[data-live=now]").scroll_into_view_if_needed()
            expect(second.locator(f"[data-live={name}]")).to_be_in_viewport()
        looked_at(second, "live-phone-falling", screenshots)
        page.get_by_role("button", name="Stop listening").click()
        second.evaluate("window.scrollTo(0, document.body.scrollHeight)")
        for each in (page, second, second):
            expect(each.locator("[data-live=says]")).to_contain_text("Let the air out", timeout=30_000)
            expect(each.locator("[data-live=now]")).to_have_text("-")
            expect(each.locator("[data-live=now]")).to_be_visible()
            expect(each.get_by_role("timer")).to_have_text("Nobody sees the cuff. Let the air out")
            second.reload()
        looked_at(second, "live-phone-left-full", screenshots)
        second.get_by_role("button", name="The air is out").click()
        for each in (second, page):
            expect(each.locator("[data-live=says]")).to_be_hidden(timeout=30_000)
            expect(each.get_by_role("timer")).not_to_contain_text("Let the air out")


# Stands in for the browser's own, so that the test says what comes and when.
TOLD_BY_THE_TEST = """
window.EventSource = class extends EventTarget {
  constructor() {
    super();
    window.told = (news) => this.dispatchEvent(new MessageEvent("message", { data: JSON.stringify(news) }));
  }
  close() {}
};
"""


def test_no_number_stands_that_nobody_renews(quiet_page: Page, invented: tuple[str, Path]) -> None:
    """The sensor is unplugged, then back, then the network is silent: a dash and what to do, or the pressure now.

    Oracle: by construction, the news that the clinic tells; 2.5 s of silence are invented.
    """
    (address, _data), page = invented, quiet_page
    page.add_init_script(TOLD_BY_THE_TEST)
    page.clock.install()
    at_the_table(page, address, "Sorrel")
    listens(page)
    now, says, clock = page.locator("[data-live=now]"), page.locator("[data-live=says]"), page.get_by_role("timer")
    moment = {"kind": "moment", "now": 144, "phase": "deflating", "inflated_s": 12.0, "fall": 5.1, "says": ""}
    moment |= {"at_once": False, "values": {}, "full": True}

    def tell(**news: object) -> None:
        page.evaluate("(news) => window.told(news)", news)

    expect(now).to_be_visible(timeout=30_000)
    page.clock.pause_at(page.evaluate("Date.now()") / 1000 + 1.0)
    tell(**moment)
    page.clock.run_for(2_000)
    expect(now).to_have_text("144")
    expect(clock).to_contain_text("Cuff up for")
    tell(kind="lost", says="Look at the manometer, and let the air out.", full=True, at_once=True)
    expect(now).to_have_text("-")
    expect(page.locator("[data-live=fall]")).to_have_text("")
    expect(says).to_have_text("Look at the manometer, and let the air out.")
    expect(clock).to_have_text("Nobody sees the cuff. Let the air out")
    tell(**{**moment, "now": 120})
    expect(now).to_have_text("120")
    expect(says).to_have_text("")
    expect(clock).to_contain_text("Cuff up for")
    page.clock.run_for(3_000)  # in which nothing comes
    expect(says).to_contain_text("No news from the clinic")
    expect(now).to_have_text("-")
    expect(clock).to_have_text("Nobody sees the cuff. Let the air out")
    tell(**{**moment, "now": 2, "phase": "emptied", "inflated_s": 0.0, "full": False})
    expect(now).to_have_text("2")
    expect(clock).not_to_contain_text("Let the air out")


def test_what_a_killed_clinic_had_received_is_read_afterwards(page: Page, tmp_path: Path) -> None:
    """The clinic is killed while air is let out; started again, it offers what was kept, and reads it once."""
    data, port = tmp_path / "data", free_port()
    filled(data, invented=True)
    address = f"http://localhost:{port}"
    process, _said = started(data, port)
    try:
        at_the_table(page, address, "Burdock")
        listens(page)
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
