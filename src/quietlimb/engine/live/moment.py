"""What stands now, and what one inflation came to."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from quietlimb.engine.errors import RecordingError
from quietlimb.engine.findings import Finding
from quietlimb.engine.pulses import Pulses
from quietlimb.engine.reading import Reading
from quietlimb.engine.recording import Cut, Recording

Phase = Literal["idle", "inflating", "deflating", "emptied"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Finished:
    """One inflation that has come to its end: its recording with `read(recording)`, or why it cannot be a recording.

    recording, reading : both None where it was refused
    refused            : the error that `Recording` raised; None otherwise
    cuts               : where it was cut off, by no hand at the valve; those of the recording, where there is one
    """

    recording: Recording | None
    reading: Reading | None
    refused: RecordingError | None = None
    cuts: tuple[Cut, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Moment:
    """What stands at the newest sample.

    time_s          : time of that sample, by the source's clock [s]
    pressure_mmhg   : cuff pressure, median of the last 0.1 s [mmHg]
    phase           : `idle` before the first inflation, `emptied` after one, until the next begins
    inflated_s      : how long the cuff has held pressure; 0 when idle or emptied [s]
    fall_mmhg_per_s : over the last 2 s of the deflation; None outside it, and in its first second
    pulses          : of the newest look, kept and set aside, in the source's time; None before
    pulses_counted  : that the two newest looks keep; None outside an inflation that was looked at
    pulses_dropped  : by how many that is less than it was in this inflation; looks that see more of the fall may find
                      that what seemed a pulse is none
    reading         : of the newest look, then, when emptied, of the finished recording. While the pressure falls its
                      values are None until they are known, and its findings and verdict are those of the part so far
    remarks         : what to say now, the most urgent first; codes of `REMARK_CODES`
    finished        : set once, in the moment in which an inflation has come to its end
    """

    time_s: float
    pressure_mmhg: float
    phase: Phase
    inflated_s: float
    fall_mmhg_per_s: float | None
    pulses: Pulses | None
    pulses_counted: int | None
    pulses_dropped: int
    reading: Reading | None
    remarks: tuple[Finding, ...]
    finished: Finished | None
