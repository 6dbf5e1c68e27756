"""One session told three times: as text, as a note for the record, as a page."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import pytest

from figures.examples import charted, uncharted
from quietlimb.cli.session_text import session_lines
from quietlimb.engine.interpretation.interpret import interpret
from quietlimb.reports.note import chart_note
from quietlimb.reports.page import report_pdf

IN_ORDER = ("forelimb", "charted", "course", "guideline average", "acvim", "organs", "next", "caution")
# The page has a table of its own for the readings, and its headings say the same in other words.
ON_THE_PAGE = {"next": "what to do next"}


def in_order(told: str, words: tuple[str, ...]) -> None:
    """Assert that each stands after the one before it."""
    at = 0
    for word in words:
        at = told.find(word, at)
        assert at >= 0, word


def printed(pdf: bytes, folder: Path) -> str:
    """The text of a PDF in the order in which it is read aloud, by poppler."""
    if shutil.which("pdftotext") is None:
        pytest.skip("pdftotext (poppler) is not installed")
    path = folder / "page.pdf"
    path.write_bytes(pdf)
    done = subprocess.run(["pdftotext", "-raw", path, "-"], capture_output=True, text=True, check=True)
    return done.stdout


@pytest.mark.parametrize("has_pressure", [True, False])
def test_text_note_and_page_tell_a_session_in_one_order(has_pressure: bool, tmp_path: Path):
    """Circumstances, charted pressure, course, guideline average, category, organs, next, cautions; where nothing was
    charted, why stands after the guideline average.

    Oracle: by construction, our own order.
    """
    given = charted(6) if has_pressure else uncharted()
    told = interpret(given)
    text = "\n".join(session_lines("session.csv", given, told)).casefold()
    text = text[text.index("forelimb") :]  # above it stands the answer in one line
    note, page = chart_note(given, told).casefold(), printed(report_pdf(given, told), tmp_path).casefold()
    # without a pressure there is no course, and no category to tell in the note
    wanted = IN_ORDER if has_pressure else ("forelimb", "charted", "guideline average", "(taken: 3)", "organs", "next")
    in_order(text, wanted)
    in_order(note, wanted)
    in_order(page, tuple(ON_THE_PAGE.get(word, word) for word in wanted))
