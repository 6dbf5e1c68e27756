"""The JSON Schemas (draft 2020-12) of what Quietlimb writes: `capture`, `read`, `chart`, `interpret`, `cuff`, `follow`,
`place`, `screen`, `check`, and `drift` by `check drift`.

The number at the end of an object's "schema" member rises whenever a member is taken away or changes its meaning.
"""

from __future__ import annotations

import json
from importlib.resources import files
from typing import Any, Final

NAMES: Final = ("capture", "read", "chart", "interpret", "cuff", "follow", "place", "screen", "check", "drift")


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
