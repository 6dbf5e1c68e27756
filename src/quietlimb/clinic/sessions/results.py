"""The reading of a recording as JSON and back, to the last digit, so that a series need not read its recordings again.

The evidence is left out: it is drawn from the recording itself.
"""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from quietlimb.engine.findings import Finding, verdict_of
from quietlimb.engine.reading import Reading
from quietlimb.engine.values import Estimate

QUANTITIES = ("systolic", "mean", "diastolic", "pulse_rate")


def result_object(reading: Reading) -> dict[str, Any]:
    """What to keep of a reading."""
    estimates = {name: getattr(reading, name) for name in QUANTITIES}
    return {
        **{name: None if estimate is None else asdict(estimate) for name, estimate in estimates.items()},
        "method": reading.method,
        "findings": [{**asdict(finding), "numbers": dict(finding.numbers)} for finding in reading.findings],
    }


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
