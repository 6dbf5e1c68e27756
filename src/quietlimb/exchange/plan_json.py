"""A plan of a comparison, and the analysis that was run, as JSON; the fingerprint is that of the file's own content.

The fingerprint tells that a plan is still what it was when somebody wrote the fingerprint down elsewhere. It cannot
tell when that was.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import date
from typing import Any, Final

from quietlimb.agreement.pair_rows import QUANTITIES
from quietlimb.agreement.plan import Analysis, Plan
from quietlimb.agreement.window_rule import Rule
from quietlimb.engine.errors import ParameterError
from quietlimb.exchange.errors import FileError
from quietlimb.exchange.json_values import JsonObject
from quietlimb.exchange.schemas import faults
from quietlimb.exchange.text_file import read_text

PLAN: Final = "quietlimb/comparison-plan/1"


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanFile:
    """A plan and its fingerprint."""

    plan: Plan
    fingerprint: str


def analysis_object(analysis: Analysis) -> JsonObject:
    """An analysis as JSON."""
    return {
        **{name: getattr(analysis, name) for name in ("truth", "reference_is", "error_ratio", "confidence")},
        "quantities": list(analysis.quantities),
        "schemes": list(analysis.schemes),
        "bounds": {name: list(analysis.bounds[name]) if name in analysis.bounds else None for name in QUANTITIES},
        "rule": None if analysis.rule is None else asdict(analysis.rule),
    }


def analysis_from(told: Mapping[str, Any]) -> Analysis:
    """The analysis of such an object.

    Raises
    ------
    ParameterError : a value that means nothing.
    """
    rest = {name: told[name] for name in ("truth", "reference_is", "error_ratio", "confidence")}
    return Analysis(
        **rest,
        quantities=tuple(told["quantities"]),
        schemes=tuple(told["schemes"]),
        bounds={name: (pair[0], pair[1]) for name, pair in told["bounds"].items() if pair is not None},
        rule=None if told["rule"] is None else Rule(**told["rule"]),
    )


def plan_object(plan: Plan) -> JsonObject:
    """A plan as JSON, with its fingerprint."""
    about = {name: getattr(plan, name) for name in _ABOUT}
    content: JsonObject = {"schema": PLAN, **about, "analysis": analysis_object(plan.analysis)}
    return {**content, "fingerprint": fingerprint_of(content)}


def plan_text(plan: Plan) -> str:
    """A plan as the text of its file; the same plan gives the same bytes."""
    return _pretty(plan_object(plan))


_ABOUT: Final = (
    "title",
    "question",
    "tested",
    "reference",
    "primary",
    "animals",
    "readings",
    "made_on",
    "reasons",
)


def read_plan(path: str | os.PathLike[str]) -> PlanFile:
    """The plan in a file.

    Raises
    ------
    FileError : no plan, a value that means nothing, or changed since it was made (`plan-changed`).
    """
    told = read_json(path, "comparison-plan")
    content = {name: value for name, value in told.items() if name != "fingerprint"}
    found = fingerprint_of(content)
    if found != told["fingerprint"]:
        raise FileError(
            "plan-changed",
            f"the plan was changed after it was made: its fingerprint is {found[:12]} and not "
            f"{told['fingerprint'][:12]}",
            "use the plan as it was made, or make a new one and say so",
            path=path,
        )
    try:
        date.fromisoformat(told["made_on"])
        plan = Plan(**{name: told[name] for name in _ABOUT}, analysis=analysis_from(told["analysis"]))
    except (ParameterError, ValueError) as error:
        says = error.says if isinstance(error, ParameterError) else f"made_on is {told['made_on']!r}"
        raise FileError("impossible-plan", says, "make the plan anew", path=path) from None
    return PlanFile(plan=plan, fingerprint=found)


def fingerprint_of(content: Mapping[str, Any]) -> str:
    """SHA-256 of the content in one line, keys in order: blanks and line ends of the file are no matter."""
    text = json.dumps(content, sort_keys=True, ensure_ascii=True, allow_nan=False, separators=(",", ":"))
    return hashlib.sha256(text.encode("ascii")).hexdigest()


def read_json(path: str | os.PathLike[str], schema_name: str) -> dict[str, Any]:
    """The object in a file of ours, checked by its schema.

    Raises
    ------
    FileError : `not-json`, or `not-as-described` with where in the file.
    """
    try:
        told = json.loads(read_text(path))
    except (json.JSONDecodeError, RecursionError) as error:
        line = error.lineno if isinstance(error, json.JSONDecodeError) else None
        raise FileError(
            "not-json", "this is no JSON", "name the file as it was written", path=path, line=line
        ) from None
    try:
        json.dumps(told, allow_nan=False)
    except ValueError:
        raise FileError(
            "not-json", "a number in it is not finite", "name the file as it was written", path=path
        ) from None
    kind = schema_name.rpartition("-")[2]  # a plan, a conversion
    if not isinstance(told, dict) or not str(told.get("schema", "")).startswith(f"quietlimb/{schema_name}/"):
        remedy = f"name a file of '{schema_name}', as it was written"
        raise FileError("not-as-described", f"this file is no {kind}", remedy, path=path)
    found = faults(schema_name, told)
    if found:
        raise FileError("not-as-described", found[0], f"name a file of '{schema_name}'", path=path)
    assert isinstance(told, dict)
    return told


def _pretty(content: Mapping[str, Any]) -> str:
    return json.dumps(content, ensure_ascii=False, allow_nan=False, indent=1) + "\n"
