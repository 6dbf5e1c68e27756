"""Lists that are sorted and filtered by their address, with the choices offered above them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, TypeVar

from django.core.paginator import Page, Paginator
from django.http import HttpRequest

PAGE = 20
Row = TypeVar("Row")


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """One thing to choose of a list: in the address under `name`; the first option is what holds without it."""

    name: str
    label: Any
    options: tuple[tuple[str, Any], ...]
    chosen: str

    @property
    def is_usual(self) -> bool:
        """Whether it is as without an address."""
        return self.chosen == self.options[0][0]


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What an address asks of a list.

    kept : what else stands in the address and has to stay in it
    """

    choices: tuple[Choice, ...]
    kept: tuple[tuple[str, str], ...]

    def of(self, name: str) -> str:
        """What was chosen under this name."""
        return next(choice.chosen for choice in self.choices if choice.name == name)

    @property
    def is_usual(self) -> bool:
        """Whether nothing was chosen."""
        return all(choice.is_usual for choice in self.choices)


def asked_of_a_list(
    request: HttpRequest, choices: Mapping[str, tuple[Any, Sequence[tuple[str, Any]]]], *, keep: Sequence[str] = ()
) -> Asked:
    """What the address of a page asks of its list; what it asks in vain is as if it had not.

    choices : name in the address -> label, options
    keep    : other names in the address
    """
    found = []
    for name, (label, options) in choices.items():
        asked = request.GET.get(name, "")
        chosen = asked if asked in dict(options) else options[0][0]
        found.append(Choice(name=name, label=label, options=tuple(options), chosen=chosen))
    kept = tuple((name, request.GET[name]) for name in keep if request.GET.get(name))
    return Asked(choices=tuple(found), kept=kept)


def page_of(request: HttpRequest, rows: Sequence[Row] | Any) -> Page[Row]:
    """The page of a long list that the address asks for; the nearest where there is none so far."""
    asked = request.GET.get("page", "1")
    number = int(asked) if asked.isascii() and asked.isdigit() and len(asked) < 7 else 1
    return Paginator(rows, PAGE).get_page(number)


def query_without_page(request: HttpRequest) -> str:
    """The rest of the address, for links to other pages of the list."""
    told = request.GET.copy()
    told.pop("page", None)
    return f"{told.urlencode()}&" if told else ""
