"""A browser and a clinic that runs; without Chromium these tests are skipped."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import ConsoleMessage, Page

from clinic.serving import filled, free_port, serving

CHROMIUM = os.environ.get("QUIETLIMB_CHROMIUM") or shutil.which("chromium")


@pytest.fixture(scope="session")
def browser_type_launch_args(browser_type_launch_args: dict[str, Any]) -> dict[str, Any]:
    """Debian's Chromium, quiet; without its sandbox only where it would refuse to start, as root."""
    if CHROMIUM is None:
        pytest.skip("there is no Chromium here")
    quiet = ["--disable-background-networking", "--disable-component-update", "--disable-sync"]
    root = hasattr(os, "geteuid") and os.geteuid() == 0
    return {
        **browser_type_launch_args,
        "executable_path": CHROMIUM,
        "args": [*quiet, *(["--no-sandbox"] if root else [])],
    }


@pytest.fixture(scope="session")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Where a clinic with the invented practice answers."""
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
