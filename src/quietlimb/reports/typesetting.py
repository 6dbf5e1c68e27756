"""From data and a template to a page. All text reaches the typesetter as data and is never read as markup."""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Literal

from quietlimb.engine.errors import ParameterError
from quietlimb.figures.look import FONT_DIRECTORY
from quietlimb.reports.errors import LetterNotPrintableError, ReportError
from quietlimb.words.language import _

MOST_SUBSTITUTED = 60  # runs of letters; the typesetter names one at a time
Paper = Literal["a4", "us-letter"]

_UNPRINTABLE = re.compile(r"the text `\"(?P<text>.*?)\"` could not be displayed", re.DOTALL)


def cleaned(text: str, longest: int) -> str:
    """The text on one line without control characters, cut where it would push the rest off the page."""
    line = " ".join("".join(c if unicodedata.category(c) != "Cc" else " " for c in text).split())
    if len(line) <= longest:
        return line
    return line[: longest - 1].rsplit(" ", 1)[0] + " … " + _("(cut here; whole in the record)")


def moment_of(created: str | None) -> datetime | None:
    """The moment of an ISO 8601 text; without a zone it is taken for UTC.

    Raises ParameterError for another text (`not-a-date`).
    """
    if created is None:
        return None
    try:
        moment = datetime.fromisoformat(created)
    except ValueError as error:
        raise ParameterError(
            "not-a-date", f"created is {created!r}", "give an ISO 8601 date or date and time, like 2031-03-03T09:10"
        ) from error
    return moment if moment.tzinfo else moment.replace(tzinfo=UTC)


def typeset(
    template: Path,
    content: Mapping[str, Any],
    created: str | None,
    form: Literal["pdf", "png"],
    *,
    substitute: str | None = None,
) -> list[bytes]:
    """The sheets of a template with its content: one PDF, or a picture at 144 dots an inch for each.

    created    : ISO 8601 date or date and time, kept in the file
    substitute : stands for each letter that no font has; None refuses the page

    Raises
    ------
    ParameterError : another date (`not-a-date`).
    ReportError    : no font has a letter (`letter-not-printable`, naming letter and field), or the page cannot be set.
    """
    for _time in range(MOST_SUBSTITUTED):
        try:
            return _compiled(template, content, created, form)
        except ReportError as error:
            if substitute is None or not isinstance(error, LetterNotPrintableError):
                raise
            content = _replaced(content, error.letters, substitute)
    return _compiled(template, content, created, form)


def _compiled(
    template: Path, content: Mapping[str, Any], created: str | None, form: Literal["pdf", "png"]
) -> list[bytes]:
    import typst

    moment = moment_of(created)
    options: dict[str, Any] = {"pdf_standards": "ua-1"} if form == "pdf" else {}
    try:
        made = typst.compile(
            template.read_bytes(),
            format=form,
            font_paths=[str(FONT_DIRECTORY)],
            ignore_system_fonts=True,
            sys_inputs={"content": json.dumps(content, ensure_ascii=True, allow_nan=False)},
            timestamp=0 if moment is None else int(moment.timestamp()),
            **options,
        )
    except typst.TypstError as error:
        raise _report_error(error.message, content) from error
    return [bytes(made)] if isinstance(made, bytes) else [bytes(page) for page in made]


def _fields(content: Any, path: str = "") -> list[tuple[str, str]]:
    """Every text in the content with the name of the field that it stands in."""
    if isinstance(content, str):
        return [(path, content)]
    if isinstance(content, Mapping):
        if set(content) == {"name", "value"}:  # a circumstance is known by its own name
            return _fields(content["value"], str(content["name"]).lower())
        return [pair for name, part in content.items() for pair in _fields(part, str(name))]
    if isinstance(content, list):
        return [pair for part in content for pair in _fields(part, path)]
    return []


def _replaced(content: Any, letters: str, substitute: str) -> Any:
    """The content with these letters replaced wherever they stand."""
    if isinstance(content, str):
        return "".join(substitute if letter in letters and not letter.isspace() else letter for letter in content)
    if isinstance(content, Mapping):
        return {name: _replaced(part, letters, substitute) for name, part in content.items()}
    if isinstance(content, list):
        return [_replaced(part, letters, substitute) for part in content]
    return content


def _report_error(message: str, content: Mapping[str, Any]) -> ReportError:
    found = _UNPRINTABLE.search(message)
    if found is None:
        return ReportError(
            "page-not-set", f"the page could not be set: {message}", "report this with the session's data"
        )
    text = found["text"]
    field = next((name for name, part in _fields(content) if text in part), "the page")
    return LetterNotPrintableError(
        text,
        f"no font here has the letter {text} (in {field})",
        "write it in Latin, Greek or Cyrillic letters for the printed page",
    )
