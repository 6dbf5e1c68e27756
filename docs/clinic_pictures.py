"""Photograph the invented clinic for the docs. By hand, for its times are today's; needs Chromium and test packages.

python docs/clinic_pictures.py
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from playwright.sync_api import Page, sync_playwright

PICTURES = Path(__file__).parent / "pictures"
CODE = """
from pathlib import Path
from quietlimb.cli.demo_clinic import serve_invented_clinic
serve_invented_clinic(Path({!r}), port=8139)
"""
SIZE = {"width": 1000, "height": 1120}


def sign_in(page: Page, address: str, username: str, password: str) -> None:
    """Somebody of the invented clinic."""
    page.goto(f"{address}sign-in")
    page.get_by_label("Name").fill(username)
    page.get_by_label("Password").fill(password)
    page.keyboard.press("Enter")
    page.wait_for_url(address)


def photograph(page: Page, name: str) -> None:
    """What is seen without scrolling."""
    page.wait_for_load_state("networkidle")
    page.screenshot(path=PICTURES / f"clinic-{name}.png")


def main() -> None:
    """Start the invented clinic, look at three pages, stop it."""
    with tempfile.TemporaryDirectory() as folder:
        code = CODE.format(str(Path(folder) / "clinic"))
        log = Path(folder) / "said"
        with log.open("wb") as said:
            clinic = subprocess.Popen(
                [sys.executable, "-u", "-c", code], stdout=said, stderr=said, env={**os.environ, "BROWSER": "true"}
            )
        try:
            while "Stop it with" not in log.read_text(encoding="utf-8"):
                if clinic.poll() is not None:
                    sys.exit(log.read_text(encoding="utf-8"))
                time.sleep(0.5)
            told = log.read_text(encoding="utf-8")
            address = re.search(r"http://localhost:\d+/", told)
            password = re.search(r"the password ([a-z0-9-]+)", told)
            assert address
            assert password
            with sync_playwright() as playwright:
                browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=["--no-sandbox"])
                for username, animal, name in (
                    ("dunnock", "Clover", "table"),
                    ("heron", "Quince", "veterinarian"),
                    ("heron", "Bramble", "animal"),
                ):
                    page = browser.new_page(viewport=SIZE)
                    sign_in(page, address[0], username, password[1])
                    page.get_by_role("link", name=animal).first.click()
                    photograph(page, name)
                    page.close()
                browser.close()
        finally:
            clinic.terminate()
            clinic.wait(timeout=20)


if __name__ == "__main__":
    main()
