"""From the bytes of a file of pairs, and what was chosen, to everything that `quietlimb compare` tells of them."""

from __future__ import annotations

import tempfile
from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import Any, Final

from django.utils.translation import gettext as _

from quietlimb.agreement.comparing import Compared, as_run, compare_rows
from quietlimb.agreement.pair_rows import QUANTITIES, PairRows
from quietlimb.agreement.plan import Analysis, PlanDeviation, deviations
from quietlimb.engine.errors import QuietlimbError
from quietlimb.exchange.comparison_json import comparison_object
from quietlimb.exchange.errors import FileError
from quietlimb.exchange.pairs_csv import read_pairs
from quietlimb.exchange.plan_json import PlanFile, read_plan

MOST_BYTES: Final = 400_000  # as text within a form's megabyte, with a plan beside it
MOST_PLAN_BYTES: Final = 50_000
MOST_ROWS: Final = 2_000  # they take some 2 s; the slopes through any two points are their square [invented]
PAIRS, PLAN = "pairs.csv", "plan.json"


class ComparisonError(QuietlimbError):
    """This cannot be compared here."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Chosen:
    """What was chosen on the page. Where it is empty, it is as the file or the plan tells it, or else as usual."""

    tested: str = ""
    reference: str = ""
    truth: str = ""
    reference_is: str = ""
    quantities: tuple[str, ...] = ()
    schemes: tuple[str, ...] = ()

    @classmethod
    def of(cls, told: Mapping[str, Any]) -> Chosen:
        """Of a form or a kept row; other names are left alone."""
        names = cls.__dataclass_fields__
        found: dict[str, Any] = {}
        for name in names:
            if told.get(name):
                found[name] = tuple(told[name]) if isinstance(told[name], list) else told[name]
        return cls(**found)

    def as_json(self) -> dict[str, Any]:
        """As a row keeps it."""
        return {name: list(value) if isinstance(value, tuple) else value for name, value in asdict(self).items()}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Made:
    """Everything that came of a file.

    left_out : lines that could not be used
    departs  : where it was not done as planned
    told     : all of it as JSON
    """

    rows: PairRows
    left_out: tuple[FileError, ...]
    compared: tuple[Compared, ...]
    analysis: Analysis
    plan: PlanFile | None
    departs: tuple[PlanDeviation, ...]
    told: Mapping[str, Any]

    @property
    def comparisons(self) -> list[Any]:
        """Pressure by pressure, without what is missing."""
        return [each.comparison for each in self.compared]


@lru_cache(maxsize=4)  # a page asks for its pictures one after the other
def made_of(content: bytes, plan: bytes, chosen: Chosen) -> Made:
    """The comparison; the same bytes and choices give the same.

    plan : bytes of a plan, or none

    Raises
    ------
    FileError       : no pairs, or no plan; its path ends in `PAIRS` or `PLAN`.
    PairsError, ParameterError : pairs, plan and choices contradict each other.
    ComparisonError : more than `MOST_ROWS` determinations.
    """
    with tempfile.TemporaryDirectory(prefix="quietlimb-comparison-") as folder:
        pairs_at, plan_at = Path(folder) / PAIRS, Path(folder) / PLAN
        pairs_at.write_bytes(content)
        file = read_pairs(pairs_at, truth=chosen.truth or None)  # type: ignore[arg-type]
        planned = None
        if plan:
            plan_at.write_bytes(plan)
            planned = read_plan(plan_at)
    if len(file.rows.rows) > MOST_ROWS:
        raise ComparisonError(
            "too-many",
            _("There are {rows} determinations, more than {most}").format(rows=len(file.rows.rows), most=MOST_ROWS),
            _("compare so many by the command line: quietlimb compare pairs"),
        )
    rows = replace(
        file.rows,
        tested_name=chosen.tested or file.rows.tested_name,
        reference_name=chosen.reference or file.rows.reference_name,
    )
    base = Analysis() if planned is None else planned.plan.analysis
    rows, analysis = as_run(rows, replace(_chosen(base, chosen), rule=rows.rule))
    compared = compare_rows(rows, analysis)
    departs = () if planned is None else deviations(planned.plan, rows, analysis)
    told = comparison_object(
        rows, [(each.comparison, each.lacks) for each in compared], analysis, plan=planned, departs=departs
    )
    return Made(
        rows=rows,
        left_out=file.left_out,
        compared=compared,
        analysis=analysis,
        plan=planned,
        departs=departs,
        told=told,
    )


def _chosen(base: Analysis, chosen: Chosen) -> Analysis:
    told: dict[str, Any] = {
        "truth": chosen.truth,
        "reference_is": chosen.reference_is,
        "quantities": tuple(each for each in QUANTITIES if each in chosen.quantities),
        "schemes": chosen.schemes,
    }
    return replace(base, **{name: value for name, value in told.items() if value})
