"""The language that sentences are told in. English is built in; any other comes as a gettext catalogue.

Sentences kept in a table are marked with `mark` where they stand and translated with `_` where they are told, so that a
change of language reaches all of them. Catalogues are collected with `xgettext --keyword=mark
--keyword=plural:1,2`.
"""

from __future__ import annotations

import gettext
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar

_spoken: ContextVar[gettext.NullTranslations] = ContextVar("spoken")
_ENGLISH = gettext.NullTranslations()


def mark(message: str) -> str:
    """The message itself; marks it for the catalogue."""
    return message


def _(message: str) -> str:
    """The message in the language spoken here; in English where no other was chosen or the catalogue lacks it."""
    return _spoken.get(_ENGLISH).gettext(message)


def plural(one: str, many: str, count: float) -> str:
    """The form for this count: `one` for exactly 1, in other languages as their catalogue says."""
    return _spoken.get(_ENGLISH).ngettext(one, many, int(count))


def in_a_sentence(text: str) -> str:
    """A name or sentence as it stands within another: only its first letter small, so that `Stage AP2` keeps its
    letters."""
    return text[:1].lower() + text[1:]


@contextmanager
def speaking(catalogue: gettext.NullTranslations) -> Iterator[None]:
    """Within the block, sentences come from this catalogue (threads and tasks keep their own)."""
    token = _spoken.set(catalogue)
    try:
        yield
    finally:
        _spoken.reset(token)
