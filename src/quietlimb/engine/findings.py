"""Findings and verdicts: what was seen in a recording or a reading, as a code with numbers.

The sentences and remedies that belong to the codes are in `quietlimb.words`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

Verdict = Literal["keep", "doubtful", "discard"]
Severity = Literal["note", "doubt", "spoils"]
Quantity = Literal["systolic", "mean", "diastolic", "pulse_rate"]

# code -> (when it is found, the numbers that it carries)
FINDING_CODES: Mapping[str, tuple[str, ...]] = {
    # one recording
    "no-deflation": ("fall_mmhg",),
    "fall-not-read": ("fall_mmhg",),
    "no-pulse": ("pulses",),
    "few-pulses": ("pulses", "needed"),
    "weak-pulse": ("peak_mmhg", "noise_mmhg"),
    "systolic-side-missing": ("highest_mmhg", "inflate_to_mmhg"),
    "diastolic-side-missing": ("lowest_mmhg",),
    "limb-moved": ("seconds", "share"),
    "limb-kept-moving": ("seconds", "share"),
    "limb-loaded": ("wander_mmhg",),
    "irregular-rhythm": ("interval_cv",),
    "vibration": ("frequency_hz", "amplitude_mmhg"),
    "vibration-alias": ("frequency_hz", "sampling_hz", "looks_like_per_min"),
    "rate-doubled": ("share", "other_per_min"),
    "rate-halved": ("share", "other_per_min"),
    "one-pulse-a-step": ("share",),
    "deflation-too-fast": ("mmhg_per_pulse",),
    "leak": ("mmhg_per_s",),
    "no-envelope": ("explained", "pulses"),
    "two-peaked": ("dip", "lower_mmhg", "upper_mmhg"),
    "poor-fit": ("misfit",),
    "families-disagree": ("spread_mmhg",),
    "wide-interval": ("half_width_mmhg",),
    "saturated": ("seconds", "at_mmhg"),
    "samples-missing": ("seconds", "gaps"),
    "cut-above": ("pressure_mmhg",),
    "cut-below": ("pressure_mmhg",),
    "capture-cut": ("pressure_mmhg",),
    "coarse-steps": ("step_mmhg", "peak_mmhg"),
    # the cuff against the limb
    "cuff-loose": ("peak_mmhg",),
    "cuff-narrow": ("ratio", "circumference_cm", "width_cm"),
    "cuff-wide": ("ratio", "circumference_cm", "width_cm"),
    # one reading, by whoever took it
    "set-aside": (),
    # one typed reading
    "mean-outside-pulse": ("share",),
    "diastolic-by-doppler": (),
    # a series
    "far-from-series": ("distance_mmhg",),
    "one-reading-only": (),
    "no-usable-reading": ("readings",),
    "not-consistent": ("spread", "limit"),
    "still-falling": ("mmhg_per_min",),
    "same-value-repeated": ("value", "times"),
    "long-pause": ("minutes",),
}

# said while the pressure falls, of what is to be done now
REMARK_CODES: Mapping[str, tuple[str, ...]] = {
    "valve-open-now": ("pressure_mmhg", "inflated_s"),
    "limb-moved-too-long": ("seconds", "goes_on"),
    "limb-moving": ("seconds",),
    "cuff-pressed": ("seconds",),
    "falling-too-fast": ("mmhg_per_s",),
    "no-artery-yet": ("fallen_mmhg",),
    "held-inflated": ("pressure_mmhg", "held_s"),
    "enough": (),
    "inflate-higher": ("to_mmhg",),
    "recording-cut": ("pressure_mmhg",),
    "recording-refused": (),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One thing seen: a code of `FINDING_CODES` or `REMARK_CODES`, how much it matters, where, and its numbers.

    severity : `note` changes nothing, `doubt` makes the verdict at most doubtful, `spoils` makes it discard
    touches  : which values the finding is about; empty means all of them
    at_s     : seconds from the start of the recording, where there is one moment
    at_mmhg  : cuff pressure there
    numbers  : the figures named beside the code
    told     : the reason in the words of whoever gave it, for a reading set aside or a recording refused; changes
               nothing
    """

    code: str
    severity: Severity
    touches: tuple[Quantity, ...] = ()
    at_s: float | None = None
    at_mmhg: float | None = None
    numbers: Mapping[str, float] = field(default_factory=dict)
    told: str | None = None

    def __post_init__(self) -> None:
        expected = FINDING_CODES[self.code] if self.code in FINDING_CODES else REMARK_CODES[self.code]
        if set(self.numbers) != set(expected):
            raise AssertionError(f"{self.code} carries {expected}, not {tuple(self.numbers)}")


def verdict_of(findings: tuple[Finding, ...]) -> Verdict:
    """The verdict that a set of findings leads to: the worst severity decides."""
    severities = {finding.severity for finding in findings}
    if "spoils" in severities:
        return "discard"
    return "doubtful" if "doubt" in severities else "keep"
