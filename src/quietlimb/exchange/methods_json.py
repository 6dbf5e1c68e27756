"""Methods of reading ranked, as one JSON object; its members are described in `schemas/methods.json`."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

from quietlimb.agreement.ranking import Ranked
from quietlimb.engine.errors import QuietlimbError
from quietlimb.engine.version import ENGINE_VERSION
from quietlimb.exchange.comparison_json import plain
from quietlimb.exchange.json_values import JsonObject

METHODS: Final = "quietlimb/methods/1"


def methods_object(
    folder: str,
    ranked: Mapping[str, Sequence[Ranked]],
    recordings: int,
    invented: bool,
    failures: Sequence[tuple[str, str, QuietlimbError]],
) -> JsonObject:
    """What `compare methods` tells.

    ranked   : by pressure, the nearest first
    failures : file, method and error of each plug-in that failed on a recording
    """
    return {
        "schema": METHODS,
        "folder": folder,
        "recordings": recordings,
        "invented": invented,
        "ranked": {quantity: [plain(each) for each in standings] for quantity, standings in ranked.items()},
        "failures": [
            {"file": path, "method": method, "code": error.code, "says": error.says} for path, method, error in failures
        ],
        "engine": ENGINE_VERSION,
    }
