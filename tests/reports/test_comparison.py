"""The report of a comparison."""

from __future__ import annotations

import json
import shutil
import subprocess
from dataclasses import replace
from pathlib import Path

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


def test_the_report_tells_what_stands_before_the_figures_and_every_table(tmp_path: Path) -> None:
    """Cautions, verdicts by range, other figures and why some are missing are in the text of the sheets.

    Oracle: reference library, poppler's pdftotext, where it is installed.
    """
    if shutil.which("pdftotext") is None:
        pytest.skip("pdftotext (poppler) is not installed")
    rows, analysis = as_run(replace(invented_rows(1), blinded=False), Analysis(quantities=("systolic",)))
    compared = compare_rows(rows, analysis)
    told = comparison_object(rows, [(each.comparison, each.lacks) for each in compared], analysis)
    path = tmp_path / "report.pdf"
    path.write_bytes(comparison_pdf(rows, [each.comparison for each in compared], told))
    text = subprocess.run(["pdftotext", "-layout", path, "-"], capture_output=True, text=True, check=True).stdout
    text = " ".join(text.split())
    for part in (
        "The methods were read with knowledge of each other",
        "by range",
        "lowest third (under",
        "slope of the difference on the reference",
        "weighted kappa of categories, quadratic",
        "No intraclass correlation",
    ):
        assert part in text, part
    assert text.index("knowledge of each other") < text.index("Systolic pressure")
