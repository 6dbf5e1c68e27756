"""Readings that are entered after they were taken, in a real browser and by keyboard."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from clinic.browser.walking import act, looked_at, sign_in

SIZES = {"phone": (390, 844), "desk": (1280, 800)}


def new_session(page: Page, address: str, name: str, *, slot: str = "Systolic") -> None:
    """A session of an animal of its own, by keyboard; the first slot has the focus."""
    page.goto(f"{address}/start")
    page.get_by_role("textbox", name="Animal:").focus()
    page.keyboard.type(name)
    page.get_by_label("Species").select_option("cat")
    act(page)
    expect(page.get_by_role("heading", name=name)).to_be_visible()
    page.get_by_label("Instrument").select_option(label="grey box")
    act(page)
    expect(page.get_by_label(slot, exact=True)).to_be_focused()


def hour(page: Page, minutes_ago: int) -> str:
    """The time of the day so long ago, by the practice's clock, which is UTC here."""
    code = "m => new Date(Date.now() - m * 60000).toISOString().slice(11, 16)"
    return str(page.evaluate(code, minutes_ago))


@pytest.mark.parametrize("size", SIZES)
def test_lines_and_the_slot_for_the_time_take_readings_with_their_own_times(
    quiet_page: Page, address: str, size: str, screenshots: Path | None
) -> None:
    """Three lines, one of them spoiled, and one by the slot for the time, stand in the order taken with their times.

    Oracle: by construction; reference library, axe-core as in axe-playwright-python of the lock file, all its rules.
    """
    page = quiet_page
    page.set_viewport_size({"width": SIZES[size][0], "height": SIZES[size][1]})
    sign_in(page, address)
    new_session(page, address, f"Later {size}")
    times = [hour(page, ago) for ago in (9, 7, 5, 3)]
    page.get_by_text("Several taken before").press("Enter")
    field = page.get_by_label("Time, then the numbers")
    field.focus()
    page.keyboard.type(f"{times[0]} 162/128/104 180\nearly 150")
    act(page)
    expect(page.locator("#lines [role=status]")).to_contain_text("early 150")
    expect(page.locator("tr[id^=reading-]")).to_have_count(0)
    field.fill(f"{times[0]} 162/128/104 180\n{times[1]} - moved\n{times[3]} 155/122/99")
    act(page)
    expect(page.locator("tr[id^=reading-]")).to_have_count(3)
    expect(field).to_have_value("")
    page.get_by_role("button", name="Taken earlier").press("Enter")
    taken = page.get_by_label("Taken at")
    expect(taken).to_be_focused()
    page.keyboard.press("Enter")
    page.keyboard.type("158")
    act(page)
    expect(page.locator("#entry-said")).to_contain_text("as 09:12")
    expect(taken).to_be_focused()
    page.keyboard.type(times[2])
    act(page)
    expect(page.locator("tr[id^=reading-]")).to_have_count(4)
    assert page.locator("tr[id^=reading-] time").all_inner_texts() == times
    cells = [row.split("\t")[2:6] for row in page.locator("tr[id^=reading-]").all_inner_texts()]
    assert [row[0] for row in cells] == ["162", "-", "158", "155"]
    assert cells[0] == ["162", "128", "104", "180"]
    expect(page.locator("#sentence[aria-busy]")).to_have_count(0)
    looked_at(page, f"after-the-fact-{size}", screenshots)


def test_an_unlikely_line_is_asked_about_in_the_slots_and_keeps_its_time(page: Page, address: str) -> None:
    """The same checks: the slots hold its numbers; saved again, it stands at the time of its line.

    Oracle: by construction.
    """
    sign_in(page, address)
    new_session(page, address, "Sedge")
    time = hour(page, 6)
    page.get_by_text("Several taken before").press("Enter")
    page.get_by_label("Time, then the numbers").fill(f"{time} 150/145/140 170")
    act(page)
    expect(page.locator("#entry-said")).to_contain_text("10 mmHg apart")
    expect(page.get_by_label("Diastolic", exact=True)).to_be_focused()
    act(page)
    expect(page.locator("tr[id^=reading-] time")).to_have_text(time)


def test_lines_of_hours_ago_are_asked_about_once_for_all_of_them(page: Page, address: str) -> None:
    """The first is asked about with its day and time; meant so, the others near to it are taken unasked.

    Oracle: by construction.
    """
    sign_in(page, address)
    new_session(page, address, "Yarrow")
    times = [hour(page, ago) for ago in (304, 302, 300)]
    page.get_by_text("Several taken before").press("Enter")
    page.get_by_label("Time, then the numbers").fill("\n".join(f"{time} 15{k}" for k, time in enumerate(times)))
    act(page)
    expect(page.locator("#entry-said")).to_contain_text(f"{times[0]} is more than 2 hours from the session")
    expect(page.get_by_label("Taken at")).to_have_value(times[0])
    expect(page.locator("#kept li.refused")).to_have_count(3)
    act(page)
    expect(page.locator("tr[id^=reading-]")).to_have_count(3)
    expect(page.locator("#strip")).to_have_text("saved")


def test_a_time_of_the_day_is_meant_by_the_practice_s_clock_and_near_the_session(
    quiet_page: Page, address: str
) -> None:
    """Around midnight, east and west; what is no time is none.

    Oracle: by construction.
    """
    page = quiet_page
    sign_in(page, address)
    told = page.evaluate(
        """async () => {
          const { momentOf, clockTime } = await import("/static/lines.js");
          const day = 86400000, began = new Date(Date.now() - 3 * day);
          began.setUTCHours(23, 50, 0, 0);
          const at = (text, offset) => momentOf(text, began.toISOString(), offset)?.getTime();
          return {
            after: (at("00:05", "+00:00") - began) / 60000,
            before: (at("23:45", "+00:00") - began) / 60000,
            east: (at("01:55", "+02:00") - began) / 60000,
            west: (at("18:40", "-05:00") - began) / 60000,
            none: ["25:00", "12:60", "noon", "", "7"].map((text) => at(text, "+00:00") ?? null),
            clock: clockTime(began.toISOString(), "+05:30"),
          };
        }"""
    )
    assert told == {"after": 15, "before": -5, "east": 5, "west": -10, "none": [None] * 5, "clock": "05:20"}
