"""A comparison as one JSON object; what each member means is written in `schemas/comparison.json`.

Nothing in it depends on place or day, so that the same pairs and the same analysis give the same bytes.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, is_dataclass
from typing import Any, Final

import numpy as np

from quietlimb.agreement.line_summary import summarise_lines
from quietlimb.agreement.pair_rows import PairRows
from quietlimb.agreement.pairs import Pairs
from quietlimb.agreement.plan import Analysis, PlanDeviation
from quietlimb.agreement.recruitment import Recruitment
from quietlimb.agreement.spread import Spread
from quietlimb.agreement.summary import Comparison
from quietlimb.engine.errors import QuietlimbError
from quietlimb.engine.version import ENGINE_VERSION
from quietlimb.exchange.json_values import JsonObject, error_object, number_or_null
from quietlimb.exchange.plan_json import PlanFile, analysis_object
from quietlimb.words import comparison as words
from quietlimb.words.comparison_cautions import cautions_before

COMPARISON: Final = "quietlimb/comparison/1"
DECIMALS: Final = 6
# What the figures rest on stands elsewhere in the object, or in the table of pairs.
_NOT_TOLD: Final = (Pairs, Spread)


def comparison_object(
    rows: PairRows,
    compared: Sequence[tuple[Comparison, Sequence[Recruitment]]],
    analysis: Analysis,
    *,
    plan: PlanFile | None = None,
    departs: Sequence[PlanDeviation] = (),
) -> JsonObject:
    """What was compared, how, and everything that came of it.

    compared : each quantity with what it still lacks, one a scheme
    """
    lines = summarise_lines(rows)
    return {
        "schema": COMPARISON,
        "tested": rows.tested_name,
        "reference": rows.reference_name,
        "truth": rows.truth,
        "reference_is": rows.reference_is,
        "blinded": rows.blinded,
        "invented": rows.invented,
        "animals": len(rows.animals),
        "rows": len(rows.rows),
        "line": None if lines is None else plain(lines),
        "before": cautions_before(rows, [each for each, _ in compared]),
        "cautions": words.cautions_after(rows),
        "analysis": analysis_object(analysis),
        "plan": None if plan is None else _plan(plan, departs),
        "compared": [quantity_object(comparison, lacks) for comparison, lacks in compared],
        "methods": words.methods_paragraph(
            rows, [each for each, _ in compared], analysis, plan=None if plan is None else plan.plan
        ),
        "engine": ENGINE_VERSION,
    }


def comparison_error_object(path: str, error: QuietlimbError, schema: str = COMPARISON) -> JsonObject:
    """A file that could not be compared, in the words of the schema that the others have."""
    return {"schema": schema, "path": path, "error": error_object(error), "engine": ENGINE_VERSION}


def comparison_text(told: Mapping[str, Any]) -> str:
    """The object as the text of a file."""
    return json.dumps(told, ensure_ascii=False, allow_nan=False, indent=1) + "\n"


def quantity_object(comparison: Comparison, lacks: Sequence[Recruitment]) -> JsonObject:
    """What came of one pressure."""
    pairs = comparison.pairs
    sd = None if comparison.limits is None else comparison.limits.sd
    counts = {name: getattr(pairs, name) for name in ("attempts", "failed_tested", "failed_reference")}
    return {
        "quantity": comparison.quantity,
        "unit": pairs.unit,
        "animals": len(pairs.animals),
        "pairs": pairs.n,
        **counts,
        **plain(comparison),
        "sd_of_limits": number_or_null(sd, DECIMALS),
        "recruitment": [plain(each) for each in lacks],
        "says": words.comparison_sentences(comparison),
    }


def plain(value: Any) -> Any:
    """A figure of the statistics as JSON has it: their own field names, numbers rounded, null for what is not finite.

    A scheme is told by its key.
    """
    if isinstance(value, bool | str) or value is None:
        return value
    if isinstance(value, int | float | np.number):
        return int(value) if isinstance(value, int | np.integer) else number_or_null(float(value), DECIMALS)
    if isinstance(value, Mapping):
        return {str(name): plain(each) for name, each in value.items()}
    if isinstance(value, tuple | list):
        return [plain(each) for each in value]
    if isinstance(value, np.ndarray):
        return plain(value.tolist())
    if not is_dataclass(value):
        raise AssertionError(f"{type(value).__name__} has no place in a comparison")
    if type(value).__name__ == "Scheme":
        return getattr(value, "key")  # noqa: B009
    told = {each.name: getattr(value, each.name) for each in fields(value)}
    return {name: plain(each) for name, each in told.items() if not isinstance(each, _NOT_TOLD)}


@dataclass(frozen=True, slots=True, kw_only=True)
class Differing:
    """A member of the results that came out otherwise.

    where     : as `compared/0/bias/bias/low`
    then, now : None also where it was not there
    """

    where: str
    then: Any
    now: Any


def differing(then: Any, now: Any, where: tuple[str, ...] = ()) -> tuple[Differing, ...]:
    """Members of two results that are not the same, in their order; lists of unequal length differ as a whole."""
    if isinstance(then, dict) and isinstance(now, dict):
        names = dict.fromkeys([*then, *now])
        parts = [(name, then.get(name), now.get(name)) for name in names]
    elif isinstance(then, list) and isinstance(now, list) and len(then) == len(now):
        parts = [(str(k), *pair) for k, pair in enumerate(zip(then, now, strict=True))]
    else:
        return () if then == now else (Differing(where="/".join(where), then=then, now=now),)
    return tuple(each for name, one, other in parts for each in differing(one, other, (*where, name)))


def _plan(plan: PlanFile, departs: Sequence[PlanDeviation]) -> JsonObject:
    return {
        "title": plan.plan.title,
        "made_on": plan.plan.made_on,
        "fingerprint": plan.fingerprint,
        "as_planned": not departs,
        "departs": [{**plain(each), "says": words.deviation_sentence(each)} for each in departs],
    }
