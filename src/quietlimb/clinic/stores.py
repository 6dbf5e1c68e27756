"""Which database the work at hand goes into: the practice's own, or the one apart in which people learn.

The same pages serve both. What is done while one store is the present one reads and writes there and nowhere else, so
nothing that was learnt on an invented animal can reach the record of a patient.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import ContextDecorator, contextmanager
from contextvars import ContextVar
from types import TracebackType
from typing import Any, Literal, Self

from django.db import DEFAULT_DB_ALIAS, transaction
from django.db.models import Model

Store = Literal["default", "teaching"]
PRACTICE: Store = "default"
TEACHING: Store = "teaching"
assert PRACTICE == DEFAULT_DB_ALIAS

_PRESENT: ContextVar[Store] = ContextVar("store", default=PRACTICE)
# Of the browser and not of what is done in it: who has signed in, and who tried in vain. Kept in one place.
OF_THE_BROWSER = frozenset({"sessions.session", "people.attempts", "people.knownaddress"})


def present() -> Store:
    """The store in which work is done now."""
    return _PRESENT.get()


@contextmanager
def working_in(store: Store) -> Iterator[None]:
    """Work in this store for as long as this lasts."""
    before = _PRESENT.set(store)
    try:
        yield
    finally:
        _PRESENT.reset(before)


class together(ContextDecorator):  # noqa: N801  # reads as a word: `with together():`, `@together()`
    """All of it is written, or nothing, in the store that is the present one when it begins."""

    def _recreate_cm(self) -> Self:
        return type(self)()

    def __enter__(self) -> None:
        self._atomic = transaction.atomic(using=present())
        self._atomic.__enter__()

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._atomic.__exit__(kind, error, trace)


class Router:
    """Tells the framework where rows are read and written: what belongs to a row, in that row's own store."""

    def db_for_read(self, model: type[Model], **hints: Any) -> str:
        """The store of the row from which it is asked, or the present one."""
        if model._meta.label_lower in OF_THE_BROWSER:
            return PRACTICE
        row: Model | None = hints.get("instance")
        return present() if row is None or row._state.db is None else row._state.db

    db_for_write = db_for_read

    def allow_relation(self, one: Model, other: Model, **hints: Any) -> bool:
        """Rows are tied together within one store only."""
        return one._state.db == other._state.db or None in (one._state.db, other._state.db)
