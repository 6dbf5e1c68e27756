"""What a signed value rests on, frozen as plain values, and its fingerprint worked out from them again."""

from __future__ import annotations

import math
from dataclasses import asdict
from typing import Any

import numpy as np

from quietlimb.engine.circumstances import Circumstances
from quietlimb.engine.findings import Finding
from quietlimb.engine.session.charted import ChartedPressure
from quietlimb.engine.session.series import COLUMNS, Series


def frozen_series(charted: ChartedPressure) -> dict[str, Any]:
    """Readings, circumstances and parameters of a charted pressure, to the last digit; missing values are None."""
    series = charted.series
    return {
        "columns": {
            name: [None if math.isnan(value) else value for value in getattr(series, name).tolist()] for name in COLUMNS
        },
        "findings": [
            [{**asdict(finding), "numbers": dict(finding.numbers)} for finding in each] for each in series.findings
        ],
        "circumstances": asdict(series.circumstances),
        "origin": series.origin,
        "reading_method": series.reading_method,
        "parameters": dict(charted.parameters),
    }


def thawed_series(frozen: dict[str, Any]) -> Series:
    """The series that was frozen."""
    columns = {
        name: np.array([np.nan if value is None else value for value in values], dtype=np.float64)
        for name, values in frozen["columns"].items()
    }
    findings = tuple(
        tuple(Finding(**{**told, "touches": tuple(told["touches"])}) for told in each) for each in frozen["findings"]
    )
    return Series(
        circumstances=Circumstances(**frozen["circumstances"]),
        origin=frozen["origin"],
        reading_method=frozen["reading_method"],
        findings=findings,
        **columns,
    )


def fingerprint_of(frozen: dict[str, Any]) -> str:
    """The fingerprint of what was frozen; empty where nothing was charted."""
    if frozen.get("series") is None:
        return ""
    return thawed_series(frozen["series"]).fingerprint_with(frozen["series"]["parameters"])
