"""One line names file, line and remedy."""

from __future__ import annotations

import pickle

from quietlimb.exchange.errors import LONGEST_QUOTE, FileError, one_line, quoted


def test_an_error_names_file_line_and_remedy_on_one_line() -> None:
    """The text is "file, line n: says; remedy".

    Oracle: by construction.
    """
    error = FileError("gap", "nothing for 2 s", "record again", path="a.csv", line=12)
    assert str(error) == "a.csv, line 12: nothing for 2 s; record again"


def test_an_error_without_a_line_names_the_file() -> None:
    """No line is invented where none is to blame.

    Oracle: by construction.
    """
    assert str(FileError("empty", "zero bytes", "export again", path="a.csv")) == "a.csv: zero bytes; export again"


def test_a_file_name_cannot_break_the_line() -> None:
    """Line ends, control characters and bytes that are no text show as escapes.

    Oracle: by construction; such names are allowed on most file systems.
    """
    text = str(FileError("empty", "zero bytes", "export again", path="a\nb\x1b[31m\udcff.csv"))
    assert text.isprintable()
    assert text.startswith("a\\nb\\x1b[31m\\udcff.csv: ")


def test_an_error_survives_pickling() -> None:
    """An error raised in another process arrives whole.

    Oracle: by construction.
    """
    error = pickle.loads(pickle.dumps(FileError("gap", "nothing for 2 s", "record again", path="a.csv", line=12)))
    assert isinstance(error, FileError)
    assert (error.code, error.path, error.line) == ("gap", "a.csv", 12)
    assert str(error) == "a.csv, line 12: nothing for 2 s; record again"


def test_a_quotation_is_short_and_on_one_line() -> None:
    """What a file said is cut and escaped before it is repeated.

    Oracle: by construction.
    """
    assert quoted("  12x ") == "'12x'"
    assert quoted("a\tb") == "'a\\tb'"
    assert quoted("9" * 1000) == "'" + "9" * LONGEST_QUOTE + "...'"
    assert one_line("Katze, 3 kg – grün") == "Katze, 3 kg – grün"
