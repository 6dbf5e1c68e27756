"""Checks of instruments as JSON objects; what each member means is written in `schemas/check.json` and `drift.json`."""

from __future__ import annotations

from typing import Final

from quietlimb.engine.errors import QuietlimbError
from quietlimb.engine.values import Cited
from quietlimb.engine.version import ENGINE_VERSION
from quietlimb.exchange.json_values import JsonObject, error_object, number_or_null
from quietlimb.instruments.checks import CheckResult, Figure, Kind
from quietlimb.instruments.drift import Drift
from quietlimb.words import checks as words

CHECK: Final = "quietlimb/check/1"
DRIFT: Final = "quietlimb/drift/1"


def check_object(path_as_given: str, result: CheckResult, instrument: str | None = None) -> JsonObject:
    """What `check` tells about one file.

    instrument : by which it was recorded, as the recording says; `simulator` of an invented one
    """
    return {
        "schema": CHECK,
        "file": path_as_given,
        "instrument": instrument,
        "kind": result.kind,
        "verdict": result.verdict,
        "limit": result.limit,
        "figures": [_figure(name, figure) for name, figure in result.figures.items()],
        "findings": [
            {
                "code": finding.code,
                "says": words.says(finding),
                "remedy": words.remedy(finding),
                "numbers": {name: number_or_null(value, 4) for name, value in finding.numbers.items()},
            }
            for finding in result.findings
        ],
        "says": words.check_sentence(result),
        "engine": ENGINE_VERSION,
    }


def check_error_object(path_as_given: str, kind: Kind, error: QuietlimbError) -> JsonObject:
    """What `check` tells about a file that cannot be read."""
    return {"schema": CHECK, "file": path_as_given, "kind": kind, "error": error_object(error)}


def drift_object(path_as_given: str, drift: Drift) -> JsonObject:
    """What `check drift` tells about many checks."""
    chart, forecast = drift.chart, drift.forecast
    return {
        "schema": DRIFT,
        "file": path_as_given,
        "limit": _limit(drift.limit),
        "checks": [
            {
                "date": point.on.isoformat(),
                "error": number_or_null(point.error_mmhg),
                "ewma": None if chart is None else number_or_null(float(chart.ewma_mmhg[k])),
                "ewma_half_width": None if chart is None else number_or_null(float(chart.ewma_half_mmhg[k])),
                "signals": [] if chart is None else [each.rule for each in chart.signals if each.at == k],
            }
            for k, point in enumerate(drift.points)
        ],
        "chart": None
        if chart is None
        else {
            "centre": number_or_null(chart.centre_mmhg),
            "sd": number_or_null(chart.sd_mmhg),
            "half_width": number_or_null(chart.half_mmhg),
            "range_limit": number_or_null(chart.range_limit_mmhg),
            "baseline": chart.baseline,
        },
        "forecast": {
            "reach": forecast.reach,
            "slope_per_year": number_or_null(forecast.slope),
            "slope_low": number_or_null(forecast.slope_low),
            "slope_high": number_or_null(forecast.slope_high),
            "on": _day(forecast.on),
            "earliest": _day(forecast.earliest),
            "latest": _day(forecast.latest),
            "service_by": _day(forecast.service_by),
            "reach_ends": _day(forecast.reach_ends),
        },
        "says": words.drift_sentences(drift),
        "engine": ENGINE_VERSION,
    }


def drift_error_object(path_as_given: str, error: QuietlimbError) -> JsonObject:
    """What `check drift` tells about a file that cannot be read."""
    return {"schema": DRIFT, "file": path_as_given, "error": error_object(error)}


def _figure(name: str, figure: Figure) -> JsonObject:
    return {
        "name": name,
        "value": number_or_null(figure.value),
        "low": number_or_null(figure.low),
        "high": number_or_null(figure.high),
        "unit": figure.unit,
        "at_mmHg": number_or_null(figure.at_mmhg),
        "least": None if figure.least is None else _limit(figure.least),
        "most": None if figure.most is None else _limit(figure.most),
        "verdict": figure.verdict,
    }


def _limit(limit: Cited) -> JsonObject:
    return {
        "value": number_or_null(limit.value),
        "unit": limit.unit,
        "source": limit.source,
        "place": limit.place,
        "standing": limit.standing,
    }


def _day(day: object) -> str | None:
    return None if day is None else str(day)
