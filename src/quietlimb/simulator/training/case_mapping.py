"""A case as plain numbers and words, so that a practice can write its own, and back."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import MISSING, asdict, fields
from typing import Any, TypeVar

from quietlimb.engine.errors import ParameterError
from quietlimb.simulator.training.case import Case, Fault, Pressures, Story, Temper

Part = TypeVar("Part", Pressures, Story, Temper, Fault, Case)

_PARTS: Mapping[str, type] = {"story": Story, "resting": Pressures, "temper": Temper, "fault": Fault}


def as_mapping(case: Case) -> dict[str, Any]:
    """The case as a mapping of text, numbers, truth values, lists and mappings; `case_from` gives it back."""
    told = asdict(case)
    told["circumference_cm"] = {str(site): float(around) for site, around in case.circumference_cm.items()}
    return {name: list(value) if isinstance(value, tuple) else value for name, value in told.items()}


def case_from(mapping: Mapping[str, Any]) -> Case:
    """The case that a mapping tells.

    Raises
    ------
    ParameterError : `case-not-understood` for a name that is missing or unknown, or a value of the wrong kind, with
                     where it stands; `impossible-case` for a value that no animal or instrument could have.
    """
    _is_mapping("the case", mapping)
    told = dict(mapping)
    for name, part in _PARTS.items():
        if told.get(name) is not None:
            told[name] = _part(part, told[name], name)
    if "circumference_cm" in told:
        _is_mapping("circumference_cm", told["circumference_cm"])
        told["circumference_cm"] = {
            site: _number(f"circumference_cm of {site}", around) for site, around in told["circumference_cm"].items()
        }
    for name in ("places", "teaches"):
        if name in told:
            told[name] = _words(name, told[name])
    return _part(Case, told, "")


def _part(part: type[Part], told: Any, where: str) -> Part:
    _is_mapping(where, told)
    known = {each.name: each for each in fields(part)}
    of = f" of {where}" if where else ""
    for name in told:
        if name not in known:
            raise ParameterError(
                "case-not-understood", f"there is no {name!r}{of}", f"use only: {', '.join(known)}; check the spelling"
            )
    values: dict[str, Any] = {}
    for name, each in known.items():
        if name not in told:
            if each.default is MISSING:
                raise ParameterError("case-not-understood", f"{name}{of} is not told", "add it to the case")
            continue
        values[name] = _value(str(each.type), f"{name}{of}", told[name])
    return part(**values)


def _value(kind: str, where: str, given: Any) -> Any:
    """The value where it is of the kind that the field wants; other kinds are judged by the case itself."""
    if kind == "float":
        return _number(where, given)
    if kind in ("int", "Difficulty") and (isinstance(given, bool) or not isinstance(given, int)):
        raise ParameterError("case-not-understood", f"{where} is {given!r}", "give a whole number")
    if kind == "bool" and not isinstance(given, bool):
        raise ParameterError("case-not-understood", f"{where} is {given!r}", "give true or false")
    if kind in ("str", "Species", "Rhythm", "FaultKind") and not isinstance(given, str):
        raise ParameterError("case-not-understood", f"{where} is {given!r}", "give text")
    return given


def _number(where: str, given: Any) -> float:
    if isinstance(given, bool) or not isinstance(given, int | float):
        raise ParameterError("case-not-understood", f"{where} is {given!r}", "give a number")
    return float(given)


def _words(where: str, given: Any) -> tuple[str, ...]:
    if isinstance(given, str) or not isinstance(given, Sequence) or not all(isinstance(word, str) for word in given):
        raise ParameterError("case-not-understood", f"{where} is {given!r}", "give a list of words")
    return tuple(given)


def _is_mapping(where: str, given: Any) -> None:
    if not isinstance(given, Mapping):
        raise ParameterError("case-not-understood", f"{where} is {given!r}", "give names with their values")
