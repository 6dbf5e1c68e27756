"""How far the numbers of all standards were verified."""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Iterator
from dataclasses import fields, is_dataclass

from quietlimb.engine import standards
from quietlimb.engine.values import Cited

# sources of which every figure at hand was quoted by another text
SECOND_HAND = {"ACVIM2007", "LeBlanc2011", "Marino2011", "Miller2023", "StepienColumn"}


def _cited(value: object) -> Iterator[Cited]:
    if isinstance(value, Cited):
        yield value
    elif isinstance(value, dict):
        for each in value.values():
            yield from _cited(each)
    elif isinstance(value, (tuple, list)):
        for each in value:
            yield from _cited(each)
    elif is_dataclass(value) and not isinstance(value, type):
        for field in fields(value):
            yield from _cited(getattr(value, field.name))


def _all() -> set[Cited]:
    modules = [
        importlib.import_module(f"{standards.__name__}.{each.name}")
        for each in pkgutil.iter_modules(standards.__path__)
    ]
    return {cited for module in modules for value in vars(module).values() for cited in _cited(value)}


def test_a_figure_quoted_by_another_text_is_never_called_published() -> None:
    """Of sources that were not seen themselves no number is told as checked against a copy.

    Oracle: by construction, the sources of which the notes of the files say `seen as quoted`.
    """
    found = [cited for cited in _all() if cited.source in SECOND_HAND or "quoted" in cited.place]
    assert {cited.source for cited in found} >= SECOND_HAND | {"IRIS2019"}
    assert {cited.standing for cited in found} <= {"as quoted", "from memory"}
    assert {cited for cited in _all() if cited.standing == "as quoted"} <= set(found)
