"""Walking through the clinic's pages by keyboard, and looking at them."""

from __future__ import annotations

from pathlib import Path

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Locator, Page, expect

from clinic.examples import PASSWORD


def sign_in(page: Page, address: str, name: str = "wren") -> None:
    """By keyboard: the first field has the focus."""
    page.goto(f"{address}/sign-in")
    expect(page.get_by_label("Name")).to_be_focused()
    page.keyboard.type(name)
    page.keyboard.press("Tab")
    page.keyboard.type(PASSWORD)
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="Today")).to_be_visible()


def looked_at(page: Page, name: str, screenshots: Path | None) -> None:
    """No trouble for who listens to the page or sees little, in light or dark; nothing wider than the screen."""
    assert page.evaluate("document.documentElement.scrollWidth") <= page.viewport_size["width"]
    for theme in ("dark", "light"):
        page.emulate_media(color_scheme=theme)
        found = Axe().run(page)
        assert found.violations_count == 0, f"{name}, {theme}: {found.generate_report()}"
        if screenshots is not None:
            page.evaluate("Promise.all([...document.images].map(image => image.decode()))")
            page.screenshot(path=screenshots / f"{name}-{theme}.png", full_page=True)


def act(page: Page) -> None:
    """The page's main action, once its scripts are there: a person would press again."""
    page.wait_for_load_state("domcontentloaded")
    page.keyboard.press("Control+Enter")


def tab_to(page: Page, wanted: Locator) -> None:
    """Forward by Tab alone until it has the focus."""
    expect(wanted).to_be_visible()
    for _ in range(120):
        if wanted.evaluate("element => element === document.activeElement"):
            return
        page.keyboard.press("Tab")
    raise AssertionError(f"Tab never reaches {wanted}")
