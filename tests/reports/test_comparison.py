"""The report of a comparison."""

from __future__ import annotations

import json

import pytest

from agreement.invented_rows import invented_rows
from quietlimb.agreement.comparing import as_run, compare_rows
from quietlimb.agreement.plan import Analysis
from quietlimb.engine.errors import ParameterError
from quietlimb.exchange.comparison_json import comparison_object
from quietlimb.reports.comparison import comparison_pdf


def test_the_same_comparison_gives_the_same_bytes() -> None:
    """Twice, with a plan that is missing; another paper is refused.

    Oracle: by construction.
    """
    rows, analysis = as_run(invented_rows(1), Analysis(quantities=("systolic",)))
    compared = compare_rows(rows, analysis)
    told = json.loads(
        json.dumps(comparison_object(rows, [(each.comparison, each.lacks) for each in compared], analysis))
    )
    found = [comparison_pdf(rows, [each.comparison for each in compared], told) for _ in range(2)]
    assert found[0] == found[1]
    assert found[0].startswith(b"%PDF")
    with pytest.raises(ParameterError):
        comparison_pdf(rows, [], told, paper="letter")  # type: ignore[arg-type]
