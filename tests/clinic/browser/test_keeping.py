"""Nothing is lost at the table: no network, an expired sign-in, a browser or a server that dies, a full disk."""

from __future__ import annotations

import contextlib
import os
import re
import resource
import shutil
import signal
import subprocess
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, Playwright, Route, expect

from clinic.browser.conftest import AS_ROOT, QUIET
from clinic.examples import PASSWORD, SHORT_CODE
from clinic.missing import missing
from clinic.ports import free_port
from clinic.serving import asked, ended, filled, rested, started, verified

ON_POSTGRESQL = "QUIETLIMB_DATABASE" in os.environ
ROWS = """
SELECT r.systolic, r.ordinal, saver.name, typist.name FROM measuring_reading r
JOIN people_person saver ON saver.id = r.saved_by_id LEFT JOIN people_person typist ON typist.id = r.typed_by_id
ORDER BY r.saved_at, r.ordinal
"""


class Running:
    """A clinic of its own that can be ended and started again."""

    def __init__(self, data: Path) -> None:
        self.data, self.port = data, free_port()
        self.address = f"http://localhost:{self.port}"
        filled(data)
        self.process, _ = started(data, self.port)

    def start(self) -> None:
        """Once more, on the same data and port."""
        assert self.process.poll() is not None
        self.process, _ = started(self.data, self.port)

    def rows(self) -> list[tuple[Any, ...]]:
        """Systolic, ordinal, who saved and who typed, in the order saved."""
        return asked(self.data, ROWS)

    def systolic(self) -> list[float]:
        """Of every row, in the order saved."""
        return [row[0] for row in self.rows()]

    def holds(self) -> None:
        """The journal fits, and tells of each reading once."""
        done = verified(self.data)
        assert done.returncode == 0, done.stderr
        told = "SELECT count(*), count(DISTINCT thing_id) FROM journal_entry WHERE what = 'reading added'"
        assert asked(self.data, told) == [(len(self.rows()), len(self.rows()))]
        if not ON_POSTGRESQL:
            assert asked(self.data, "PRAGMA integrity_check") == [("ok",)]


@pytest.fixture
def running(tmp_path: Path) -> Iterator[Running]:
    """A clinic with the invented practice."""
    clinic = Running(tmp_path / "data")
    yield clinic
    ended(clinic.process)


def at_the_table(page: Page, clinic: Running, username: str = "wren") -> Page:
    """Signed in, at the table of the open session."""
    page.goto(f"{clinic.address}/sign-in")
    page.get_by_label("Name").fill(username)
    page.get_by_label("Password").fill(PASSWORD)
    page.keyboard.press("Enter")
    page.get_by_role("link", name="Thistle").first.click()
    expect(page.get_by_label("Systolic", exact=True)).to_be_focused()
    return page


def type_systolic(page: Page, *values: int) -> None:
    """Readings with a systolic pressure alone."""
    for value in values:
        page.get_by_label("Systolic", exact=True).fill(str(value))
        page.keyboard.press("Control+Enter")
        expect(page.get_by_label("Systolic", exact=True)).to_have_value("")


def says(page: Page, words: str, wait_s: float = 15) -> None:
    """The strip says this."""
    expect(page.locator("#strip")).to_contain_text(words, timeout=1000 * wait_s)


def test_without_network_readings_are_kept_dashed_beside_the_band_and_sent_in_order(
    page: Page, running: Running
) -> None:
    """Typed without network they stand dashed right of the band, which does not move; then each is one row, in order.

    Oracle: by construction, the browser's own switch for the network.
    """
    at_the_table(page, running)
    type_systolic(page, 150)
    says(page, "saved")
    band = page.locator(".picture .band")
    before = band.evaluate("e => [e.getAttribute('y'), e.getAttribute('height')]")
    page.context.set_offline(True)
    type_systolic(page, 172, 168, 166)
    says(page, "3 kept on this tablet only")
    expect(page.locator(".picture .unsaved")).to_have_count(3)
    expect(page.locator("#kept li")).to_have_count(3)
    end = float(band.get_attribute("x") or 0) + float(band.get_attribute("width") or 0)
    for dot in page.locator(".picture .unsaved").all():
        assert float(dot.get_attribute("cx") or 0) - float(dot.get_attribute("r") or 0) > end
    assert band.evaluate("e => [e.getAttribute('y'), e.getAttribute('height')]") == before
    assert running.systolic() == [150]
    page.context.set_offline(False)
    expect(page.locator("#strip")).to_have_text("saved", timeout=15_000)
    expect(page.locator(".picture .unsaved")).to_have_count(0)
    assert [row[:2] for row in running.rows()] == [(150, 0), (172, 1), (168, 2), (166, 3)]
    running.holds()


def test_an_expired_sign_in_never_blocks_entry_and_a_colleague_takes_over(page: Page, running: Running) -> None:
    """Typing goes on; Linnet's short code sends what Wren typed, under both names.

    Oracle: by construction; the rest is 21 of the 20 allowed minutes.
    """
    at_the_table(page, running)
    rested(running.data, 21)
    type_systolic(page, 161, 159)
    says(page, "2 kept on this tablet only")
    assert running.rows() == []
    page.get_by_role("link", name="Say who is here").click()
    says(page, "2 kept on this tablet only")
    page.get_by_label("Who").select_option(label="Linnet")
    page.get_by_label("Short code").fill(SHORT_CODE)
    page.keyboard.press("Enter")
    expect(page.locator("#strip")).to_have_text("saved", timeout=15_000)
    type_systolic(page, 158)
    expect(page.locator("tr[id^=reading-]")).to_have_count(3)
    assert running.rows() == [(161, 0, "Linnet", "Wren"), (159, 1, "Linnet", "Wren"), (158, 2, "Linnet", None)]
    running.holds()


def test_after_a_change_of_person_in_another_tab_the_first_tab_still_saves(page: Page, running: Running) -> None:
    """The form's token is new then; the page fetches it. What was typed on Wren's page stays Wren's.

    Oracle: by construction.
    """
    at_the_table(page, running)
    other = page.context.new_page()
    other.goto(f"{running.address}/sign-in")
    other.get_by_label("Who").select_option(label="Linnet")
    other.get_by_label("Short code").fill(SHORT_CODE)
    other.keyboard.press("Enter")
    expect(other.get_by_role("heading", name="Today")).to_be_visible()
    type_systolic(page, 163)
    expect(page.locator("#strip")).to_have_text("saved", timeout=15_000)
    assert running.rows() == [(163, 0, "Linnet", "Wren")]


def test_two_tabs_send_what_is_kept_once(page: Page, running: Running) -> None:
    """Both wake up when the network is back; each reading goes out once and is one row.

    Oracle: by construction; the requests are counted in the browser.
    """
    at_the_table(page, running)
    other = page.context.new_page()
    other.goto(page.url)
    page.context.set_offline(True)
    type_systolic(page, 171, 169, 167, 165)
    says(page, "4 kept on this tablet only")
    sent: list[str] = []
    page.context.on("requestfinished", lambda asked: sent.append(asked.url) if asked.method == "POST" else None)
    page.context.set_offline(False)
    expect(page.locator("#strip")).not_to_contain_text("kept", timeout=15_000)
    expect(page.locator("#kept li")).to_have_count(0)
    assert running.systolic() == [171, 169, 167, 165]
    assert len(sent) == 4
    running.holds()


def test_only_the_clinic_s_own_acknowledgement_clears_a_reading(page: Page, running: Running) -> None:
    """A good answer that does not name the key, as of a network that asks for a fee first, is none.

    Oracle: by construction.
    """
    at_the_table(page, running)
    page.route(re.compile("/readings$"), lambda route: route.fulfill(status=200, body="<html>Welcome</html>"), times=1)
    type_systolic(page, 164)
    says(page, "1 kept on this tablet only")
    assert running.rows() == []
    expect(page.locator("#strip")).to_have_text("saved", timeout=15_000)
    assert running.systolic() == [164]


def test_what_was_refused_stays_through_a_reload_until_it_is_put_right_or_left_out(
    page: Page, running: Running
) -> None:
    """The strip counts it; it comes back into the slots; put right it keeps its place; left out it is gone.

    Oracle: by construction.
    """
    at_the_table(page, running)
    page.get_by_label("Systolic", exact=True).fill("412")
    page.keyboard.press("Control+Enter")
    says(page, "1 kept on this tablet only")
    page.reload()
    expect(page.get_by_label("Systolic", exact=True)).to_have_value("412")
    page.get_by_label("Systolic", exact=True).fill("142")
    page.keyboard.press("Control+Enter")
    expect(page.locator("#strip")).to_have_text("saved")
    assert [row[:2] for row in running.rows()] == [(142, 0)]
    page.get_by_label("Systolic", exact=True).fill("9")
    page.keyboard.press("Control+Enter")
    page.get_by_role("button", name="Leave this reading out").click()
    expect(page.locator("#strip")).not_to_contain_text("kept")
    page.reload()
    expect(page.locator("#kept li")).to_have_count(0)
    assert running.systolic() == [142]


def test_an_end_without_network_leaves_the_table_as_it_is(page: Page, running: Running) -> None:
    """The page stays and says so, also for a new series; typing goes on; with network again the end is asked about
    while a reading is not saved, and pressed again it ends.

    Oracle: by construction, the browser's own switch for the network.
    """
    at_the_table(page, running)
    page.context.set_offline(True)
    page.get_by_role("button", name="She has had enough").click()  # nothing is unsaved: it is sent, in vain
    expect(page.locator("#ending [role=status]")).to_contain_text("still open")
    page.get_by_text("a new series", exact=False).first.click()
    page.get_by_role("button", name="Open the series").click()
    expect(page.get_by_text("there is no new series yet")).to_be_visible()
    type_systolic(page, 158)
    says(page, "1 kept on this tablet only")
    page.context.set_offline(False)
    expect(page.locator("#strip")).to_have_text("saved", timeout=15_000)
    page.get_by_label("Systolic", exact=True).fill("412")
    page.keyboard.press("Control+Enter")
    expect(page.locator("#entry-said")).to_contain_text("outside")
    page.get_by_role("button", name="Done: to the veterinarian").click()
    expect(page.locator("#ending [role=status]")).to_contain_text("is not saved")
    assert asked(running.data, "SELECT ending FROM measuring_session") == [("",)]
    page.get_by_role("button", name="Done: to the veterinarian").click()
    expect(page.get_by_role("heading", name="Today")).to_be_visible()
    assert asked(running.data, "SELECT ending FROM measuring_session") == [("closed",)]
    assert running.systolic() == [158]


def test_what_was_kept_while_the_session_was_signed_finds_its_place(page: Page, running: Running) -> None:
    """Typed without network, and signed meanwhile elsewhere: sent, it stands beside, and the tablet keeps nothing.

    Oracle: by construction.
    """
    at_the_table(page, running)
    type_systolic(page, 161)
    expect(page.locator("#strip")).to_have_text("saved")
    result = f"{page.url}/result"
    page.context.set_offline(True)
    type_systolic(page, 158, 156)
    says(page, "2 kept on this tablet only")
    desk = page.context.browser.new_page()
    desk.goto(f"{running.address}/sign-in")
    desk.get_by_label("Name").fill("heron")
    desk.get_by_label("Password").fill(PASSWORD)
    desk.keyboard.press("Enter")
    expect(desk.get_by_role("heading", name="Today")).to_be_visible()
    desk.goto(result)
    desk.get_by_label("nothing more comes from the table").check()
    desk.get_by_role("button", name="Sign", exact=True).click()
    expect(desk.locator(".signed")).to_be_visible()
    page.context.set_offline(False)
    expect(page.locator("#strip")).to_have_text("saved", timeout=15_000)
    expect(page.locator("#series")).to_contain_text("Came after the signature")
    assert running.systolic() == [161]
    assert asked(running.data, "SELECT systolic FROM measuring_latereading ORDER BY saved_at") == [(158,), (156,)]
    desk.goto(running.address)
    expect(desk.get_by_role("heading", name="Came after the signature")).to_be_visible()
    assert verified(running.data).returncode == 0


def test_a_stranger_s_sign_in_neither_sends_nor_shows_what_is_kept(page: Page, running: Running) -> None:
    """Somebody of another practice on the same tablet: it stays, is counted, and waits for its own practice.

    Oracle: by construction.
    """
    at_the_table(page, running)
    page.context.set_offline(True)
    type_systolic(page, 177)
    says(page, "1 kept on this tablet only")
    # before there is a network again: a page that is being left may still send, and would rightly be believed
    page.context.clear_cookies()
    page.goto("about:blank")
    page.context.set_offline(False)
    page.goto(f"{running.address}/sign-in")
    page.get_by_label("Name").fill("magpie")
    page.get_by_label("Password").fill(PASSWORD)
    page.keyboard.press("Enter")
    says(page, "1 of another practice")
    expect(page.locator("body")).not_to_contain_text("177")
    page.wait_for_timeout(6000)  # longer than the time after which it tries again
    assert running.rows() == []
    page.goto("about:blank")
    page.context.clear_cookies()
    at_the_table(page, running)
    expect(page.locator("#kept li")).to_have_count(0, timeout=15_000)
    assert running.systolic() == [177]


def test_a_page_older_than_what_was_sent_before_it_catches_up(page: Page, running: Running) -> None:
    """The page left the clinic before readings got there that the page before it sent: it shows them all the same.

    Oracle: by construction, the older page is given to the browser by hand.
    """
    at_the_table(page, running)
    table = page.url
    older = page.request.get(table).text()
    type_systolic(page, 166, 164)
    expect(page.locator("tr[id^=reading-]")).to_have_count(2)
    says(page, "saved")

    def give_the_older(route: Route) -> None:
        route.fulfill(body=older, content_type="text/html", status=200)

    page.route(table, give_the_older, times=1)
    page.goto(table)
    expect(page.locator("tr[id^=reading-]")).to_have_count(2)
    type_systolic(page, 162)
    expect(page.locator("tr[id^=reading-]")).to_have_count(3)
    assert [(row[0], row[1]) for row in running.rows()] == [(166, 0), (164, 1), (162, 2)]


@contextlib.contextmanager
def own_browser(playwright: Playwright, program: str, profile: Path) -> Iterator[Browser]:
    """A Chromium with a profile that stays; killed at the end, with all of its processes and without a warning."""
    port = free_port()
    process = subprocess.Popen(
        [program, "--headless=new", f"--remote-debugging-port={port}", f"--user-data-dir={profile}", *QUIET, *AS_ROOT],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        start_new_session=True,
    )
    try:
        for _ in range(100):
            try:
                browser = playwright.chromium.connect_over_cdp(f"http://127.0.0.1:{port}")
                break
            except Exception:
                time.sleep(0.2)
        yield browser
    finally:
        os.killpg(process.pid, signal.SIGKILL)
        process.wait(timeout=10)


def test_what_is_kept_survives_a_browser_that_is_killed(
    playwright: Playwright, chromium: str, running: Running, tmp_path: Path
) -> None:
    """Typed without network; the moment the strip says kept, kill -9. Started again and signed in, it is sent.

    Oracle: by construction. The network stays out through a server that is ended, as no switch outlives the browser.
    """
    with own_browser(playwright, chromium, tmp_path / "profile") as browser:
        page = at_the_table(browser.contexts[0].new_page(), running)
        ended(running.process)
        type_systolic(page, 166, 164)
        says(page, "2 kept on this tablet only")
    running.start()
    with own_browser(playwright, chromium, tmp_path / "profile") as browser:
        page = browser.contexts[0].new_page()
        page.context.clear_cookies()  # whether cookies outlive the kill is not what is asked here
        page.goto(f"{running.address}/sign-in")
        says(page, "2 kept on this tablet only")
        at_the_table(page, running)
        expect(page.locator("#kept li")).to_have_count(0, timeout=15_000)
        expect(page.locator("tr[id^=reading-]")).to_have_count(2)
    assert running.systolic() == [166, 164]
    running.holds()


def test_the_server_is_killed_again_and_again_during_entry(page: Page, running: Running) -> None:
    """Twelve readings, kill -9 at three moments of them, once while an answer is under way: each is one row, in order.

    Oracle: by construction.
    """
    at_the_table(page, running)
    typed = [181, 179, 178, 176, 175, 174, 173, 172, 171, 170, 169, 168]

    def kill_before_the_answer(route: Route) -> None:
        route.fetch()  # the row is written, and nobody hears of it
        ended(running.process, signal.SIGKILL)
        route.abort()

    for k, value in enumerate(typed):
        if k == 2:
            page.route(re.compile("/readings$"), kill_before_the_answer, times=1)
        type_systolic(page, value)
        if k in (5, 9):
            ended(running.process, signal.SIGKILL)
        if k in (4, 7, 11):
            while running.process.poll() is None:  # the one that ends it waits for an answer first
                page.wait_for_timeout(50)
            says(page, "kept on this tablet only")
            running.start()
    expect(page.locator("#strip")).to_have_text("saved", timeout=30_000)
    assert running.systolic() == typed
    running.holds()


def full_folder(clinic: Running) -> Iterator[None]:
    """The data folder is a small file system that is filled to the last byte: every write gets ENOSPC."""
    ballast = clinic.data / "ballast"
    with ballast.open("wb", buffering=0) as file, contextlib.suppress(OSError):
        while True:
            file.write(bytes(4096))
    yield
    ballast.unlink()


def no_file_may_grow(clinic: Running) -> Iterator[None]:
    """The system refuses every write of the server to a file: EFBIG, by a limit set from outside."""
    resource.prlimit(clinic.process.pid, resource.RLIMIT_FSIZE, (0, resource.RLIM_INFINITY))
    yield
    resource.prlimit(clinic.process.pid, resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY,) * 2)


@pytest.fixture(params=[full_folder, no_file_may_grow])
def filling(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[tuple[Running, Any]]:
    """A clinic whose disk can be made full, by either way."""
    if request.param is no_file_may_grow:
        if not hasattr(resource, "prlimit"):
            missing("this system sets no limits on a process from outside")
        clinic = Running(tmp_path / "data")
        yield clinic, no_file_may_grow
        ended(clinic.process)
        return
    data = tmp_path / "data"
    data.mkdir(mode=0o700)
    mount = shutil.which("mount")
    size = ["-t", "tmpfs", "-o", "size=8m,mode=0700", "tmpfs"]
    if mount is None or subprocess.run([mount, *size, str(data)], capture_output=True, check=False).returncode:
        pytest.skip("a small file system cannot be mounted here")  # the other way of filling the disk is left
    try:
        clinic = Running(data)
        yield clinic, full_folder
        ended(clinic.process)
    finally:
        subprocess.run(["umount", str(data)], check=True)


@pytest.mark.skipif(ON_POSTGRESQL, reason="fills the disk of the data folder, and PostgreSQL has its own")
def test_a_full_disk_loses_and_doubles_nothing(page: Page, filling: tuple[Running, Any]) -> None:
    """While nothing can be written no page says saved; with room again everything is sent, once, in order.

    Oracle: by construction. One way fills a small file system (tmpfs, needs the right to mount), the other is a limit
    of the system on the sizes of files.
    """
    clinic, fill = filling
    at_the_table(page, clinic)
    type_systolic(page, 157)
    expect(page.locator("#strip")).to_have_text("saved")
    with contextlib.contextmanager(fill)(clinic):
        type_systolic(page, *range(160, 200))
        says(page, "the clinic cannot write them now")
        written = clinic.systolic()
    assert 1 <= len(written) < 41
    expect(page.locator("#strip")).to_have_text("saved", timeout=30_000)
    assert clinic.systolic() == [157, *range(160, 200)]
    clinic.holds()
