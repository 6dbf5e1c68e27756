"""The page for the record: always one sheet, always the same bytes, always printable or refused with the reason."""

from __future__ import annotations

import re
import shutil
import subprocess
from dataclasses import replace
from pathlib import Path

import pytest

from figures.examples import CAT, categories, charted, interpretation, uncharted
from quietlimb.engine.circumstances import Circumstances
from quietlimb.engine.errors import ParameterError
from quietlimb.engine.interpretation.interpret import interpret
from quietlimb.engine.session.charted import ChartedPressure
from quietlimb.figures.export import svg
from quietlimb.figures.invented import INVENTED_WORDS
from quietlimb.figures.session import session_figure
from quietlimb.reports.errors import ReportError
from quietlimb.reports.page import MOST_COMPACT, PAGE_PICTURE_PX, report_pdf, report_png
from quietlimb.reports.typesetting import Paper
from quietlimb.words.categories import heading

HEADING = {"practice": "Millpond Animal Practice", "owner": "T. Rowan", "age": "12 years", "number": "204-7"}
CREATED = "2031-03-03T09:40"
LONG = "Settled slowly and hissed at the second inflation; a dog barked in the waiting room. " * 12


def text_of(pdf: bytes, folder: Path) -> str:
    """The text of the PDF in one line, by poppler."""
    if shutil.which("pdftotext") is None:
        pytest.skip("pdftotext (poppler) is not installed")
    path = folder / "page.pdf"
    path.write_bytes(pdf)
    done = subprocess.run(["pdftotext", "-layout", path, "-"], capture_output=True, text=True, check=True)
    return " ".join(done.stdout.split())


def whole_page(given: ChartedPressure, paper: Paper = "a4") -> bytes:
    """The page with everything on it."""
    told = interpret(given, organs={"brain": "absent"})
    picture = svg(session_figure(given, told, width=PAGE_PICTURE_PX))
    return report_pdf(given, told, paper=paper, heading=HEADING, figure_svg=picture, created=CREATED)


@pytest.mark.parametrize("paper", ["a4", "us-letter"])
@pytest.mark.parametrize("n", [1, 6, 10, 12, 13, 60])
def test_it_is_one_sheet(n: int, paper: Paper) -> None:
    """Any number of readings, with very long remarks and names, fits on one sheet of either paper.

    Oracle: by construction: the typesetter gives one picture for each sheet.
    """
    circumstances = replace(CAT, remarks=LONG, animal="Pebble " * 30, instrument="Simulator")
    given = charted(n, circumstances=circumstances)
    told = interpret(given)
    picture = svg(session_figure(given, told, width=PAGE_PICTURE_PX))
    sheets = report_png(given, told, paper=paper, heading=HEADING, figure_svg=picture, created=CREATED)
    assert len(sheets) == 1
    width, height = (int.from_bytes(sheets[0][k : k + 4], "big") for k in (16, 20))
    # 144 dots an inch: A4 is 210 mm x 297 mm, US letter 8.5 in x 11 in; one dot for rounding.
    expected = (210 / 25.4 * 144, 297 / 25.4 * 144) if paper == "a4" else (8.5 * 144, 11 * 144)
    assert (width, height) == pytest.approx(expected, abs=1)


def test_what_stands_beside_is_on_the_same_sheet(tmp_path: Path) -> None:
    """Two converted values in long sentences, with long remarks and ten readings: the end of both is on the one sheet.

    Oracle: by construction; the text as poppler's pdftotext reads it, where it is installed.
    """
    given = charted(10, circumstances=replace(CAT, remarks=LONG))
    told = interpret(given)
    picture = svg(session_figure(given, told, width=PAGE_PICTURE_PX))
    beside = [f"Systolic as measured; converted {'by a study of many words ' * 20} the end of {k}." for k in (1, 2)]
    asked = {"heading": HEADING, "figure_svg": picture, "created": CREATED}
    (tmp_path / "page.pdf").write_bytes(report_pdf(given, told, beside=beside, **asked))  # type: ignore[arg-type]
    if shutil.which("pdftotext") is None:
        pytest.skip("pdftotext (poppler) is not installed")
    asked_of = ["pdftotext", "-l", "1", tmp_path / "page.pdf", "-"]
    sheet = " ".join(subprocess.run(asked_of, capture_output=True, text=True, check=True).stdout.split())
    assert all(f"the end of {k}." in sheet for k in (1, 2))
    assert "signature of the veterinarian" in sheet
    assert given.fingerprint[:8] in sheet


def test_pdf_is_one_tagged_page() -> None:
    """The PDF has one page, is tagged, and has a title.

    Oracle: reference library. poppler's pdfinfo, where it is installed.
    """
    if shutil.which("pdfinfo") is None:
        pytest.skip("pdfinfo (poppler) is not installed")
    made = whole_page(charted(6))
    assert made.startswith(b"%PDF-")
    told = subprocess.run(["pdfinfo", "-"], input=made, capture_output=True, check=True).stdout.decode()
    facts = dict(line.split(":", 1) for line in told.splitlines() if ":" in line)
    assert facts["Pages"].strip() == "1"
    assert facts["Tagged"].strip() == "yes"
    assert facts["Title"].strip() == "Blood pressure: Pebble"


def test_the_page_says_what_it_must(tmp_path: Path) -> None:
    """Who, when, circumstances, pressures, average, category, organs, standing, fingerprint, signature, disclaimer.

    Oracle: by construction: the numbers are those of the example.
    """
    given = charted(6)
    text = text_of(whole_page(given), tmp_path)
    for part in (
        "Pebble",
        "Millpond Animal Practice",
        "owner: T. Rowan",
        "Measured 3 March 2031, 09:10",
        "2.5 cm wide on a limb of 7.1 cm, 35 %",
        "95 % interval 142 to 155",
        "112 (107 to 117)",
        "151/114/93 from readings 2, 4 to 6",
        "Prehypertensive",
        "not examined",
        "no damage",
        "from memory",
        "The limb moved",
        given.fingerprint,
        "signature of the veterinarian",
        "It advises, the veterinarian decides; not a certified medical device.",
    ):
        assert part in text, part
    assert INVENTED_WORDS not in text
    assert text.count("from memory") == 3  # of the boundaries, of the average's rule, and of all steps together
    assert "Category by ACVIM 2018, from memory" in text


@pytest.mark.parametrize("paper", ["a4", "us-letter"])
def test_the_words_of_the_picture_are_7_pt_or_more(paper: Paper, tmp_path: Path) -> None:
    """With ten readings and long remarks the smallest words of the picture, the names of its categories, stay legible.

    Oracle: reference library: poppler's pdftotext tells the height of a word's box, which is 1.362 times the size of
    the type in Noto Sans (ascender 1.069, descender 0.293). Tolerance: 0.01 pt for rounding.
    """
    if shutil.which("pdftotext") is None:
        pytest.skip("pdftotext (poppler) is not installed")
    given = charted(10, circumstances=replace(CAT, remarks=LONG, animal="Pebble " * 30))
    told = interpret(given)
    picture = svg(session_figure(given, told, width=PAGE_PICTURE_PX))
    path = tmp_path / "page.pdf"
    path.write_bytes(report_pdf(given, told, paper=paper, heading=HEADING, figure_svg=picture, created=CREATED))
    boxes = subprocess.run(["pdftotext", "-bbox", path, "-"], capture_output=True, text=True, check=True).stdout
    found = re.findall(r'yMin="([\d.]+)" xMax="[\d.]+" yMax="([\d.]+)">(severely|normotensive|minutes)<', boxes)
    sizes = {word: (float(bottom) - float(top)) / 1.362 for top, bottom, word in found}
    assert set(sizes) == {"severely", "normotensive", "minutes"}
    assert min(sizes.values()) > 7.0 - 0.01


def test_an_open_category_heads_the_page_as_open(tmp_path: Path) -> None:
    """The value's category has 21 %, another 42 %: the page has the heading of `words` for an open category.

    Oracle: by construction.
    """
    if shutil.which("pdftotext") is None:
        pytest.skip("pdftotext (poppler) is not installed")
    told = replace(interpretation(), today=categories(0.42, 0.21, 0.20, 0.17))
    path = tmp_path / "page.pdf"
    path.write_bytes(report_pdf(charted(6), told))
    # Without -layout the lines of one column stay together.
    raw = subprocess.run(["pdftotext", path, "-"], capture_output=True, text=True, check=True).stdout
    assert heading(told) in " ".join(raw.split())
    assert heading(interpretation()) not in " ".join(raw.split())


def test_a_simulated_session_is_marked(tmp_path: Path) -> None:
    """The words for invented data stand on the page of a simulated session even without its picture.

    Oracle: by construction.
    """
    given = charted(6, circumstances=replace(CAT, instrument="simulator"))
    assert INVENTED_WORDS in text_of(report_pdf(given, None), tmp_path)


def test_no_pressure_is_said(tmp_path: Path) -> None:
    """Without a usable reading the page gives no number, says why and what to do.

    Oracle: by construction.
    """
    text = text_of(report_pdf(uncharted(), interpret(uncharted())), tmp_path)
    assert "No pressure charted" in text
    assert "95 % interval" not in text
    assert "start again" in text


def test_readings_left_out_are_counted(tmp_path: Path) -> None:
    """Of 60 readings 48 are printed, and the page says that 12 are not.

    Oracle: by construction.
    """
    text = text_of(report_pdf(charted(60), None), tmp_path)
    assert f"{60 - MOST_COMPACT} later readings are charted too, but not printed here." in text


def test_the_same_input_gives_the_same_bytes() -> None:
    """Two runs do not differ by a byte, with a date and without; another date gives other bytes.

    Oracle: by construction; equality.
    """
    given = charted(6)
    assert whole_page(given) == whole_page(given)
    assert report_pdf(given, None) == report_pdf(given, None)
    assert report_pdf(given, None, created=CREATED) != report_pdf(given, None, created="2031-03-04")


def test_greek_cyrillic_and_markup_are_printed_as_they_are(tmp_path: Path) -> None:
    """Names in Greek and Cyrillic letters, and signs that the typesetter would read as markup, come out literally.

    Oracle: reference library. poppler's pdftotext reads back what was written.
    """
    name = "Αργώ Мурка #x $y$ *b* _i_ <z>"
    given = charted(2, circumstances=Circumstances(species="cat", animal=name))
    assert name in text_of(report_pdf(given, None), tmp_path)


@pytest.mark.parametrize(("field", "named"), [("remarks", "remarks"), ("animal", "animal"), ("held_by", "held by")])
def test_a_letter_without_a_font_is_refused_with_letter_and_field(field: str, named: str) -> None:
    """A Chinese letter is not printed as an empty box: the error names the letter and where it stands.

    Oracle: by construction: neither our font nor the typesetter's own hold it.
    """
    given = charted(2, circumstances=replace(CAT, **{field: "quiet 猫 here"}))
    with pytest.raises(ReportError) as caught:
        report_pdf(given, None)
    assert caught.value.code == "letter-not-printable"
    assert caught.value.says == f"no font here has the letter 猫 (in {named})"


@pytest.mark.parametrize(
    ("options", "code"),
    [
        ({"paper": "a5"}, "unknown-paper"),
        ({"heading": {"colour": "grey"}}, "unknown-heading"),
        ({"created": "yesterday"}, "not-a-date"),
    ],
)
def test_wrong_options_are_refused(options: dict[str, object], code: str) -> None:
    """Another paper, an unknown heading field and something that is no date are errors of ours.

    Oracle: by construction.
    """
    with pytest.raises(ParameterError) as caught:
        report_pdf(charted(2), None, **options)  # type: ignore[arg-type]
    assert caught.value.code == code


def test_control_characters_are_not_printed(tmp_path: Path) -> None:
    """Line feeds, tabs and zero bytes in what was typed become spaces.

    Oracle: by construction.
    """
    given = charted(2, circumstances=replace(CAT, remarks="one\n\ttwo\x00three\x1b"))
    assert "one two three" in text_of(report_pdf(given, None), tmp_path)


def test_a_letter_without_a_font_can_be_substituted() -> None:
    """Two scripts that no font here has, in the signature and a heading: the page is set, with marks in their place.

    Oracle: by construction; that without a substitute the page is refused is tested above.
    """
    made = report_pdf(
        charted(2, circumstances=CAT),
        None,
        heading={"owner": "\u674e Reed"},
        signed=["Signed: \u4e0d \u0e01."],
        substitute="\ufffd",
    )
    assert made[:5] == b"%PDF-"
