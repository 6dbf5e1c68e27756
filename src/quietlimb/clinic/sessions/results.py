"""The reading of a recording as JSON and back, to the last digit, so that a series need not read its recordings again.

The evidence is left out: it is drawn from the recording itself.
"""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from quietlimb.clinic.sessions.models import Reading as Row
from quietlimb.engine.findings import Finding, verdict_of
from quietlimb.engine.reading import Reading
from quietlimb.engine.values import Estimate
from quietlimb.engine.version import ENGINE_VERSION

QUANTITIES = ("systolic", "mean", "diastolic", "pulse_rate")


def result_object(reading: Reading) -> dict[str, Any]:
    """What to keep of a reading."""
    estimates = {name: getattr(reading, name) for name in QUANTITIES}
    return {
        **{name: None if estimate is None else asdict(estimate) for name, estimate in estimates.items()},
        "method": reading.method,
        "findings": [{**asdict(finding), "numbers": dict(finding.numbers)} for finding in reading.findings],
    }


def values_of(row: Row) -> tuple[float | None, ...]:
    """What stands for a reading: as it was typed, or as this engine read the recording."""
    if row.recording is None:
        return tuple(getattr(row, name) for name in QUANTITIES)
    result = row.recording.results.get(ENGINE_VERSION) or {}
    return tuple(None if result.get(name) is None else float(result[name]["value"]) for name in QUANTITIES)


def reading_of(result: dict[str, Any]) -> Reading:
    """The reading that was kept."""
    estimates = {name: None if result[name] is None else Estimate(**result[name]) for name in QUANTITIES}
    findings = tuple(Finding(**{**told, "touches": tuple(told["touches"])}) for told in result["findings"])
    return Reading(
        **estimates,
        method=result["method"],
        findings=findings,
        verdict=verdict_of(findings),
        evidence=None,
    )
