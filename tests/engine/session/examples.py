"""Series of invented animals for the tests of this room."""

from __future__ import annotations

from collections.abc import Sequence

from quietlimb.engine.circumstances import Circumstances, Technique
from quietlimb.engine.findings import Finding
from quietlimb.engine.session.series import Series, series_from_values

MOVED = (Finding(code="limb-kept-moving", severity="spoils", numbers={"seconds": 9.0, "share": 0.8}),)
SHAKY = (Finding(code="limb-moved", severity="doubt", numbers={"seconds": 1.0, "share": 0.3}),)


def series_of(
    systolic: Sequence[float | None],
    *,
    minute: Sequence[float] | None = None,
    method: Technique = "oscillometric",
    findings: dict[int, tuple[Finding, ...]] | None = None,
    mean: Sequence[float | None] | None = None,
    diastolic: Sequence[float | None] | None = None,
    pulse_rate: Sequence[float | None] | None = None,
) -> Series:
    """A typed series of a cat, a reading every 1.2 minutes unless told; findings by the reading's place from 0."""
    return series_from_values(
        circumstances=Circumstances(species="cat", method=method),
        minute=[1.2 * k for k in range(len(systolic))] if minute is None else minute,
        systolic=systolic,
        mean=mean,
        diastolic=diastolic,
        pulse_rate=pulse_rate,
        findings=[(findings or {}).get(k, ()) for k in range(len(systolic))],
    )
