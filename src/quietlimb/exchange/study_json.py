"""What is told on the way of a comparison, as one JSON object each: its plan, what it lacks, a bundle run again.

The members are described in `comparison-planned.json`, `comparison-missing.json` and `comparison-rerun.json`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from typing import Final

from quietlimb.agreement.recruitment import Recruitment
from quietlimb.engine.version import ENGINE_VERSION
from quietlimb.exchange.comparison_json import Differing, plain
from quietlimb.exchange.json_values import JsonObject
from quietlimb.exchange.plan_json import PlanFile, plan_object
from quietlimb.words.comparison import recruitment_sentences

PLANNED: Final = "quietlimb/comparison-planned/1"
MISSING: Final = "quietlimb/comparison-missing/1"
RERUN: Final = "quietlimb/comparison-rerun/1"


def planned_object(path: str, plan: PlanFile) -> JsonObject:
    """What `compare plan` tells."""
    return {
        "schema": PLANNED,
        "path": path,
        "fingerprint": plan.fingerprint,
        "plan": plan_object(plan.plan),
        "engine": ENGINE_VERSION,
    }


def missing_object(path: str, lacks: Sequence[Recruitment], *, invented: bool) -> JsonObject:
    """What `compare missing` tells.

    lacks    : pressure by pressure, and of each one a scheme
    invented : whether the pairs are made up or simulated
    """
    return {
        "schema": MISSING,
        "path": path,
        "invented": invented,
        "lacks": [
            {"recruitment": plain(each), "complete": each.complete, "says": recruitment_sentences(each)}
            for each in lacks
        ],
        "engine": ENGINE_VERSION,
    }


def rerun_object(
    path: str,
    *,
    identical: bool,
    changed: Sequence[str],
    differing: Sequence[Differing],
    flushes: int,
    lines: Sequence[Differing],
    engine_then: str,
) -> JsonObject:
    """What `compare rerun` tells."""
    return {
        "schema": RERUN,
        "path": path,
        "identical": identical,
        "changed": list(changed),
        "differing": [asdict(each) for each in differing],
        "flushes": flushes,
        "lines": [asdict(each) for each in lines],
        "engine_then": engine_then,
        "engine": ENGINE_VERSION,
    }
