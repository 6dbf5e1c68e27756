"""The reading: what one recording, one typed display or one Doppler determination says."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from quietlimb.engine.findings import Finding, Verdict
from quietlimb.engine.pulses import Pulses
from quietlimb.engine.recording import Recording
from quietlimb.engine.values import Estimate


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Evidence:
    """What a reading rests on: enough to draw why.

    deflation_s             : (start, end) of the deflation [s]; None where none was found
    pulses                  : None where none were found
    envelope_pressure_mmhg  : (m,) rising cuff pressures [mmHg]; empty without a fit
    envelope_height_mmhg    : (m,) fitted pulse height there [mmHg]
    """

    recording: Recording
    deflation_s: tuple[float, float] | None
    pulses: Pulses | None
    envelope_pressure_mmhg: NDArray[np.float64]
    envelope_height_mmhg: NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Reading:
    """Systolic, mean, diastolic [mmHg] and pulse rate [/min] with verdict, findings and how they were found.

    A value that cannot be given is None and a finding says why. `method` is `artery fit` or `fixed ratios`.
    `evidence` is None for a reading that did not come from a recording.
    """

    systolic: Estimate | None
    mean: Estimate | None
    diastolic: Estimate | None
    pulse_rate: Estimate | None
    method: str
    findings: tuple[Finding, ...]
    verdict: Verdict
    evidence: Evidence | None
