"""Time and cuff pressure from any file, checked and made a recording."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Literal, Protocol

import numpy as np
from numpy.typing import NDArray

from quietlimb.engine.circumstances import Circumstances
from quietlimb.engine.errors import RecordingError
from quietlimb.engine.recording import Cut, Recording, recording
from quietlimb.engine.units import mmhg_from_kpa
from quietlimb.engine.values import Cited
from quietlimb.exchange.errors import FileError

PressureUnit = Literal["mmHg", "kPa"]

# Shorter clipping is left for the reading to judge (finding `saturated`): the values below the limit may still be good.
SATURATED_S = Cited(5.0, "s", "Quietlimb", "this file", "invented")
SATURATED_SHARE = Cited(1 / 3, "of the samples", "Quietlimb", "this file", "invented")

# One short gap is bridged; many of them leave pulses that were never seen.
GAP_INTERVALS = Cited(3.0, "sampling intervals", "Quietlimb", "this file", "invented")
GAP_SHARE = Cited(0.10, "of the time", "Quietlimb", "this file", "invented")

_SAMPLE = re.compile(r"sample (\d+): ")


class Objection(Protocol):
    """How a file format says what is wrong with its samples.

    sample : 0-based; None where no single one is to blame
    """

    def __call__(self, code: str, says: str, remedy: str, sample: int | None) -> FileError:
        """The error to raise."""


def checked_recording(
    time_s: NDArray[np.float64],
    cuff_pressure: NDArray[np.float64],
    unit: PressureUnit,
    circumstances: Circumstances,
    objection: Objection,
    cuts: Sequence[Cut] = (),
) -> Recording:
    """The recording of (n,) times [s] and (n,) pressures in `unit`.

    Raises
    ------
    FileError : from `objection`, for whatever `Recording` refuses, and for `gap` and `saturated`.
    """
    try:
        # Differences and conversions of absurd numbers may overflow to inf, which the recording then refuses.
        with np.errstate(over="ignore"):
            if unit == "kPa":
                cuff_pressure = mmhg_from_kpa(cuff_pressure)
            found = recording(time_s, cuff_pressure, circumstances, cuts)
    except RecordingError as error:
        sample = _SAMPLE.match(error.says)
        if sample is None:
            raise objection(error.code, error.says, error.remedy, None) from None
        raise objection(error.code, error.says[sample.end() :], error.remedy, int(sample[1]) - 1) from None
    _refuse_gaps(found, objection)
    _refuse_saturated(found, objection)
    return found


def _refuse_gaps(recording: Recording, objection: Objection) -> None:
    step = np.diff(recording.time_s)
    # Differences of decimal times err in their last places: three whole intervals are no gap.
    gaps = step > (1.0 + 1e-6) * GAP_INTERVALS.value / recording.sampling_rate_hz
    share = float(step[gaps].sum() / step.sum())
    if share > GAP_SHARE.value:
        count = int(np.count_nonzero(gaps))
        raise objection(
            "gap",
            f"{share:.0%} of the time from first to last sample is missing in {count} gap{'s' if count > 1 else ''}, "
            "of which the first ends here",
            "export every sample with its own time, or record again without interruptions",
            int(gaps.argmax()) + 1,
        )


def _refuse_saturated(recording: Recording, objection: Objection) -> None:
    time, pressure = recording.time_s, recording.cuff_pressure_mmhg
    at_top = np.concatenate(([False], pressure == pressure.max(), [False]))
    edges = np.flatnonzero(np.diff(at_top))
    first, after = edges[::2], edges[1::2]
    longest = int((after - first).argmax())
    start, end = int(first[longest]), int(after[longest]) - 1
    seconds = float(time[end] - time[start])
    if seconds >= SATURATED_S.value and (end - start + 1) >= SATURATED_SHARE.value * pressure.size:
        raise objection(
            "saturated",
            f"the pressure stands at {pressure[start]:g} mmHg, its highest value, for {seconds:.1f} s",
            "the sensor or its amplifier is at its limit: use one that reaches higher",
            start,
        )
