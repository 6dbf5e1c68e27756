"""How many animals a comparison needs, as one JSON object; its members are described in `comparison-size.json`."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from quietlimb.agreement.design import RUNS, Expected, SizeRow
from quietlimb.engine.version import ENGINE_VERSION
from quietlimb.exchange.comparison_json import plain
from quietlimb.exchange.json_values import JsonObject

SIZE: Final = "quietlimb/comparison-size/1"


def size_object(expected: Expected, rows: Sequence[SizeRow], *, seed: int) -> JsonObject:
    """What `compare size` tells."""
    return {
        "schema": SIZE,
        "expected": plain(expected),
        "wishes": [plain(row) for row in rows],
        "seed": seed,
        "runs": RUNS,
        "engine": ENGINE_VERSION,
    }
