"""Pictures as files: the right format, the same bytes, nothing from outside."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from figures.examples import MOVED, charted, interpretation, reading
from quietlimb.engine.errors import ParameterError
from quietlimb.figures.export import pdf, png, save, svg
from quietlimb.figures.look import FONT
from quietlimb.figures.recording import recording_figure
from quietlimb.figures.session import session_figure


@pytest.mark.parametrize(("suffix", "magic"), [(".svg", b"<svg"), (".png", b"\x89PNG\r\n\x1a\n"), (".PDF", b"%PDF-")])
def test_the_suffix_chooses_the_format(tmp_path: Path, suffix: str, magic: bytes) -> None:
    """Each suffix, in any case, gives a file that starts as its format must.

    Oracle: published. PNG specification, 5.2 (signature); ISO 32000-1, 7.5.2 (header); SVG root element.
    """
    path = tmp_path / f"picture{suffix}"
    save(session_figure(charted(6), interpretation()), path)
    content = path.read_bytes()
    assert content.startswith(magic)
    assert len(content) > 3000


def test_png_is_twice_the_nominal_size() -> None:
    """A picture 390 px wide becomes a PNG of 780.

    Oracle: published. PNG specification, 11.2.2: width is bytes 16 to 19, big endian.
    """
    content = png(session_figure(charted(6), interpretation(), width=390))
    assert int.from_bytes(content[16:20], "big") == 780


@pytest.mark.parametrize("draw", [svg, png, pdf])
def test_the_same_reading_gives_the_same_bytes(draw: object) -> None:
    """Specification and file are made twice from the same reading and do not differ by a byte.

    Oracle: by construction; equality.
    """
    assert callable(draw)
    assert draw(recording_figure(reading(findings=(MOVED,)))) == draw(recording_figure(reading(findings=(MOVED,))))


def test_pdf_is_one_page_with_its_text(tmp_path: Path) -> None:
    """The PDF of a picture is one page and its labels are text, not outlines.

    Oracle: reference library. poppler's pdfinfo and pdftotext, where they are installed.
    """
    if shutil.which("pdfinfo") is None or shutil.which("pdftotext") is None:
        pytest.skip("pdfinfo and pdftotext (poppler) are not installed")
    path = tmp_path / "picture.pdf"
    save(recording_figure(reading()), path)
    told = subprocess.run(["pdfinfo", path], capture_output=True, text=True, check=True).stdout
    assert "Pages:           1" in told
    text = subprocess.run(["pdftotext", path, "-"], capture_output=True, text=True, check=True).stdout
    assert "systolic 143 (137 to 149)" in text


def test_text_is_set_in_our_font() -> None:
    """Every text names Noto Sans, so that all machines draw alike.

    Oracle: by construction.
    """
    drawn = svg(recording_figure(reading()))
    texts = [piece for piece in drawn.split("<text")[1:]]
    assert texts
    assert all(FONT in piece.split(">")[0] for piece in texts)


@pytest.mark.parametrize("name", ["picture.jpg", "picture", "picture.svg.gz"])
def test_another_suffix_is_refused_with_the_three_named(tmp_path: Path, name: str) -> None:
    """An unknown suffix is a ParameterError that names the three, and nothing is written.

    Oracle: by construction.
    """
    with pytest.raises(ParameterError, match=r"\.svg, \.png, \.pdf") as caught:
        save(session_figure(charted(2), None), tmp_path / name)
    assert caught.value.code == "unknown-picture-format"
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_does_not_exist_is_said(tmp_path: Path) -> None:
    """A place that cannot be written is an error of ours with a remedy, not a traceback.

    Oracle: by construction.
    """
    with pytest.raises(ParameterError, match="choose a folder that exists"):
        save(session_figure(charted(2), None), tmp_path / "missing" / "picture.svg")


def test_data_from_outside_are_refused() -> None:
    """A specification that names an address is not followed.

    Oracle: by construction: `example.invalid` can never be resolved (RFC 2606), and the error speaks of permission.
    """
    spec = {"data": {"url": "https://example.invalid/data.csv"}, "mark": "point", "encoding": {}}
    with pytest.raises(ValueError, match=r"(?i)allowed"):
        svg(spec)


def test_importing_the_room_does_not_import_the_drawing_libraries() -> None:
    """Commands start quickly: altair, vl-convert and typst are imported only when something is drawn.

    Oracle: by construction, in a fresh interpreter.
    """
    code = (
        "import sys, quietlimb.figures.recording, quietlimb.figures.session, quietlimb.figures.export, "
        "quietlimb.reports.page; print(sorted({'altair', 'vl_convert', 'typst'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=120)
    assert done.stdout.strip() == "[]"
