"""The owner's page as a print."""

from __future__ import annotations

import shutil
import subprocess
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from quietlimb.engine.errors import ParameterError
from quietlimb.figures.invented import INVENTED_WORDS
from quietlimb.reports.errors import ReportError
from quietlimb.reports.owner import BOXES, MOST_LINES, OwnerPage, owner_pdf, owner_png
from quietlimb.words import owner as words

PAGE = OwnerPage(
    practice="Millpond Animal Practice",
    animal="Pebble",
    day="Cat, measured on 3 March 2031",
    sentence=words.height_sentence("high", animal="Pebble", mmhg="168"),
    not_looked_at="Not looked at this time: brain, heart and vessels.",
    next=words.next_sentence("2031-03-10", "2031-03-17", today="2031-03-03"),
    preparing=tuple(words.preparing("cat", animal="Pebble", treated=True)),
    danger=words.danger_sentence("Pebble"),
    by_day="555 0100",
    by_night="",
    tablets=words.tablets_sentence("Pebble"),
    ticked_from=date(2031, 2, 26),
    signed="signed by M. Alder, 3 March 2031",
    invented=None,
)


def text_of(pdf: bytes, folder: Path) -> str:
    """The text of the PDF in one line, by poppler."""
    if shutil.which("pdftotext") is None:
        pytest.skip("pdftotext (poppler) is not installed")
    path = folder / "owner.pdf"
    path.write_bytes(pdf)
    done = subprocess.run(["pdftotext", "-layout", path, "-"], capture_output=True, text=True, check=True)
    return " ".join(done.stdout.split())


def test_everything_is_on_one_sheet(tmp_path: Path) -> None:
    """With treatment and our own words it is one sheet of either paper, and every sentence stands on it.

    Oracle: by construction, one picture for each sheet; the text as poppler finds it.
    """
    for paper in ("a4", "us-letter"):
        assert len(owner_png(PAGE, paper=paper)) == 1
    text = text_of(owner_pdf(PAGE, created="2031-03-03"), tmp_path)
    for told in (PAGE.practice, PAGE.sentence, PAGE.not_looked_at, PAGE.next, PAGE.danger, PAGE.tablets, PAGE.signed):
        assert told in text
    assert all(line in text for line in PAGE.preparing)
    assert "555 0100" in text


def test_the_tick_list_goes_on_day_by_day() -> None:
    """Four weeks over the end of a month; none without treatment.

    Oracle: by construction, the calendar.
    """
    assert PAGE.boxes[:4] == ["26 Feb", "27 Feb", "28 Feb", "1 Mar"]
    assert len(PAGE.boxes) == BOXES == 28
    assert replace(PAGE, ticked_from=None).boxes == []


def test_long_words_of_a_practice_go_on_to_further_sheets() -> None:
    """Long lines are cut as on the page for the record, and no more than a few are taken.

    Oracle: by construction.
    """
    page = replace(PAGE, preparing=("Bring the basket. " * 40,) * (2 * MOST_LINES), animal="Pebble " * 12)
    assert 2 <= len(owner_png(page)) <= 3


def test_the_same_page_is_the_same_bytes() -> None:
    """Nothing of the clock of the machine is in it.

    Oracle: by construction.
    """
    assert owner_pdf(PAGE, created="2031-03-03") == owner_pdf(PAGE, created="2031-03-03")
    assert owner_pdf(PAGE, created="2031-03-03") != owner_pdf(PAGE, created="2031-03-04")


def test_text_is_never_read_as_markup(tmp_path: Path) -> None:
    """What would be a command of the typesetter is printed as it was typed.

    Oracle: by construction.
    """
    page = replace(PAGE, animal="#panic() *x* $y$", invented=INVENTED_WORDS)
    text = text_of(owner_pdf(page), tmp_path)
    assert "#panic() *x* $y$" in text
    assert INVENTED_WORDS in text


def test_what_cannot_be_printed_is_refused() -> None:
    """Another paper, another date, a letter that no font has.

    Oracle: by construction.
    """
    with pytest.raises(ParameterError, match="paper"):
        owner_pdf(PAGE, paper="a3")  # type: ignore[arg-type]
    with pytest.raises(ParameterError, match="ISO 8601"):
        owner_pdf(PAGE, created="yesterday")
    with pytest.raises(ReportError, match="animal"):
        owner_pdf(replace(PAGE, animal="ድመት"))
