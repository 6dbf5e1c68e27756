"""The JSON Schemas (draft 2020-12) of what Quietlimb writes: `capture`, `read`, `chart`, `interpret`, `cuff`, `follow`,
`place`, `screen`, `check`, `drift` (of `check drift`), and of comparisons `comparison`, `comparison-plan`,
`comparison-planned` (of `compare plan`), `comparison-missing`, `comparison-rerun`, `comparison-size`, `conversion`,
`methods`.

The number at the end of an object's "schema" member rises whenever a member is taken away or changes its meaning.
"""

from __future__ import annotations

import json
from importlib.resources import files
from typing import Any, Final

NAMES: Final = (
    "capture",
    "read",
    "chart",
    "interpret",
    "cuff",
    "follow",
    "place",
    "screen",
    "check",
    "drift",
    "comparison",
    "comparison-plan",
    "comparison-planned",
    "comparison-missing",
    "comparison-rerun",
    "comparison-size",
    "conversion",
    "methods",
)
MOST_FAULTS: Final = 3
LONGEST_FAULT: Final = 200


def schema(name: str) -> dict[str, Any]:
    """The schema of one of `NAMES`.

    Raises
    ------
    KeyError : there is no such schema.
    """
    if name not in NAMES:
        raise KeyError(name)
    loaded: dict[str, Any] = json.loads((files(__name__) / f"{name}.json").read_text(encoding="utf-8"))
    return loaded


def faults(name: str, told: Any) -> list[str]:
    """Where an object departs from the schema of that name, a sentence each, at most three; empty where nowhere.

    Raises
    ------
    KeyError : there is no such schema.
    """
    from jsonschema import Draft202012Validator

    found = sorted(Draft202012Validator(schema(name)).iter_errors(told), key=lambda error: list(map(str, error.path)))
    return [
        f"{'/'.join(map(str, error.path)) or 'the whole'}: {error.message[:LONGEST_FAULT]}"
        for error in found[:MOST_FAULTS]
    ]
