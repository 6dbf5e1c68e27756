"""A browser and a clinic that runs; without Chromium these tests are skipped, or fail (see `clinic.missing`)."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, ConsoleMessage, Page, Playwright, expect, sync_playwright

from clinic.missing import missing
from clinic.ports import free_port
from clinic.serving import filled, serving

CHROMIUM = os.environ.get("QUIETLIMB_CHROMIUM") or shutil.which("chromium")


expect.set_options(timeout=15_000)  # a busy machine is slower than a person would wait for

QUIET = ["--disable-background-networking", "--disable-component-update", "--disable-sync"]
AS_ROOT = ["--no-sandbox"] if hasattr(os, "geteuid") and os.geteuid() == 0 else []  # it would refuse to start


@pytest.fixture(scope="session")
def chromium() -> str:
    """Debian's Chromium."""
    return CHROMIUM or missing("there is no Chromium here; QUIETLIMB_CHROMIUM names one")


@pytest.fixture(scope="module")
def playwright() -> Iterator[Playwright]:
    """Ends with the file, not with the run: its event loop would be in the way of all that start one."""
    with sync_playwright() as driver:
        yield driver


@pytest.fixture(scope="module")
def browser(playwright: Playwright, browser_type_launch_args: dict[str, Any], chromium: str) -> Iterator[Browser]:
    """Chromium, quiet; without its sandbox only as root."""
    started = playwright.chromium.launch(**browser_type_launch_args, executable_path=chromium, args=[*QUIET, *AS_ROOT])
    yield started
    started.close()


@pytest.fixture(scope="module")
def browser_context_args() -> dict[str, Any]:
    """Nothing beside what a test asks for."""
    return {}


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Where a clinic with the invented practice answers; each file has one of its own."""
    data, port = tmp_path_factory.mktemp("clinic") / "data", free_port()
    filled(data)
    with serving(data, port):
        yield f"http://localhost:{port}"


@pytest.fixture
def quiet_page(page: Page) -> Iterator[Page]:
    """A page that may not say anything on its console: a blocked script or a missing file would."""
    said: list[str] = []

    def hear(message: ConsoleMessage) -> None:
        said.append(f"{message.type}: {message.text}")

    page.on("console", hear)
    page.on("pageerror", lambda error: said.append(str(error)))
    yield page
    assert said == []


@pytest.fixture
def screenshots() -> Path | None:
    """Where to put pictures of pages for people to look at; None where nobody asked."""
    folder = os.environ.get("QUIETLIMB_SCREENSHOTS")
    return Path(folder) if folder else None
