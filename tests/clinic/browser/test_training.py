"""One case with the training animal in a browser, from the door to the debrief, in fast time. Oracle: by construction,
the case's hidden truth and the stores' own rows."""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from clinic.browser.walking import looked_at, sign_in
from clinic.ports import free_port
from clinic.serving import asked, filled, serving
from quietlimb.simulator.training import CASES

AN_INFLATION_MS = 120_000
CASE = CASES["just-arrived"]


@pytest.fixture(scope="module")
def taught(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[str, Path]]:
    """A clinic, and its data folder."""
    data, port = tmp_path_factory.mktemp("clinic") / "data", free_port()
    filled(data)
    with serving(data, port):
        yield f"http://localhost:{port}", data


def test_a_case_from_door_to_debrief(quiet_page: Page, taught: tuple[str, Path], screenshots: Path | None) -> None:
    """Wait, choose, inflate three times, end, sign, see the truth; the practice's store holds the result alone."""
    (address, data), page = taught, quiet_page
    before = asked(data, "select count(*) from measuring_session")
    sign_in(page, address)
    page.get_by_role("link", name="Teaching").click()
    looked_at(page, "teaching", screenshots)
    page.get_by_role("button", name=f"Take on: {CASE.title}").click()
    expect(page.get_by_role("heading", name=CASE.story.animal)).to_be_visible()
    expect(page.get_by_text("TRAINING ANIMAL - not a patient")).to_be_visible()
    page.get_by_label("Instrument").select_option(label="training cuff and sensor")
    page.get_by_label("Place").select_option(label="in the carrier")
    page.get_by_label("Position").select_option(label="chest down")
    page.get_by_label("Site").select_option(label="forelimb")
    page.get_by_label("Limb circumference, cm").fill(str(CASE.circumference_cm["forelimb"]))
    page.locator("#id_cuff option", has_text="cuff 3.2").first.wait_for(state="attached")
    page.locator("#id_cuff").select_option(
        label=page.locator("#id_cuff option", has_text="cuff 3.2").first.inner_text()
    )
    page.get_by_role("button", name="Start").click()
    looked_at(page, "training-table", screenshots)
    page.get_by_role("button", name="Let it be for 10 min").click()
    expect(page.get_by_text(re.compile("In here for 1[0-9] min"))).to_be_visible()
    page.get_by_role("button", name="Hold the display against the manometer").click()
    for k in (1, 2, 3):
        page.get_by_label("Inflate to, mmHg").fill("180")
        page.get_by_label("Let it fall, mmHg a second").fill("4")
        page.get_by_label("A hand sees that no weight rests on the limb").check()
        page.get_by_role("button", name="Inflate", exact=True).click()
        expect(page.locator("[data-live=now]")).to_have_text(re.compile(r"^\d{2,3}$"), timeout=AN_INFLATION_MS)
        expect(page.locator("table.readings tbody tr")).to_have_count(k, timeout=AN_INFLATION_MS)
        expect(page.get_by_role("button", name="Inflate", exact=True)).to_be_visible(timeout=AN_INFLATION_MS)
    page.get_by_role("button", name="Done: to the veterinarian").click()
    page.get_by_role("link", name=CASE.story.animal).first.click()
    page.get_by_role("button", name="Sign").first.click()
    page.goto(f"{address}/teaching")
    page.get_by_role("link", name="Go on").click()
    page.get_by_label("The pressure is fine today").check()
    looked_at(page, "training-owner", screenshots)
    page.get_by_role("button", name="See the truth: this ends the case").click()
    expect(
        page.get_by_text(re.compile(f"{CASE.resting.systolic:.0f}/{CASE.resting.diastolic:.0f} mmHg"))
    ).to_be_visible()
    expect(page.get_by_role("heading", name="What the owner was told")).to_be_visible()
    looked_at(page, "debrief", screenshots)
    page.get_by_role("button", name="Put it beside my competence").click()
    expect(page.get_by_text("in my record")).to_be_visible()
    assert asked(data, "select count(*) from measuring_session") == before
    [(error, person)] = asked(data, "select error_mmhg, person_id from teaching_trainingresult")
    assert person is not None
    assert abs(error) < 25.0
    with closing(sqlite3.connect(data / "teaching.sqlite3")) as store:
        assert store.execute("select count(*) from measuring_reading").fetchone()[0] == 3
