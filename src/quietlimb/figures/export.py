"""A chart specification as SVG, PNG or PDF, without a browser and without the network.

The same specification gives the same bytes. Fonts come from this package, so all machines draw alike.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any

from quietlimb.engine.errors import ParameterError
from quietlimb.figures.look import FONT_DIRECTORY

SUFFIXES = (".svg", ".png", ".pdf")
PNG_SCALE = 2.0


@cache
def _register_fonts() -> None:
    import vl_convert

    vl_convert.register_font_directory(str(FONT_DIRECTORY.resolve()))


def svg(spec: Mapping[str, Any]) -> str:
    """The picture as SVG text; no data from outside the specification is fetched."""
    import vl_convert

    _register_fonts()
    return str(vl_convert.vegalite_to_svg(dict(spec), allowed_base_urls=[]))


def png(spec: Mapping[str, Any]) -> bytes:
    """The picture as PNG at twice its nominal size."""
    import vl_convert

    _register_fonts()
    return bytes(vl_convert.vegalite_to_png(dict(spec), scale=PNG_SCALE, allowed_base_urls=[]))


# The size of the page is that of the picture; the description becomes the text for readers who listen to the page.
_PAGE = b"""
#let picture = json(bytes(sys.inputs.picture))
#set document(title: picture.description, date: none)
#set page(width: auto, height: auto, margin: 0pt)
#image(bytes(picture.svg), format: "svg", alt: picture.description)
"""


def pdf(spec: Mapping[str, Any]) -> bytes:
    """The picture as one PDF page of its own size, with its description as the text for screen readers.

    The page is set from the SVG by the same typesetter as the report: vl-convert's own PDF differs from run to run.
    """
    import typst

    picture = {"svg": svg(spec), "description": spec.get("description", "picture")}
    options: dict[str, Any] = {
        "font_paths": [str(FONT_DIRECTORY)],
        "ignore_system_fonts": True,
        "sys_inputs": {"picture": json.dumps(picture)},
        "pdf_standards": "ua-1",
        "timestamp": 0,
    }
    return bytes(typst.compile(_PAGE, **options))


def save(spec: Mapping[str, Any], path: str | Path) -> None:
    """Write the picture in the format of the path's suffix: .svg, .png or .pdf.

    Raises
    ------
    ParameterError : any other suffix (`unknown-picture-format`), or a place that cannot be written
                     (`picture-not-written`).
    """
    target = Path(path)
    suffix = target.suffix.lower()
    if suffix not in SUFFIXES:
        raise ParameterError(
            "unknown-picture-format",
            f"{target.name} ends in {suffix or 'no suffix'}",
            f"use one of: {', '.join(SUFFIXES)}",
        )
    draw = {".svg": lambda: svg(spec).encode("utf-8"), ".png": lambda: png(spec), ".pdf": lambda: pdf(spec)}
    content = draw[suffix]()
    try:
        target.write_bytes(content)
    except OSError as error:
        raise ParameterError(
            "picture-not-written", f"{target} cannot be written ({error.strerror})", "choose a folder that exists"
        ) from error
