"""Cuff pressure over time, as measured, with its circumstances."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from quietlimb.engine.circumstances import Circumstances
from quietlimb.engine.errors import RecordingError
from quietlimb.engine.quantiles import median

LOWEST_MMHG = -20.0
HIGHEST_MMHG = 350.0
SLOWEST_HZ, FASTEST_HZ = 45.0, 5000.0
SHORTEST_S = 3.0
LONGEST_GAP_S = 0.5
KPA_SUSPECTED_BELOW_MMHG = 45.0

Samples = NDArray[np.float64]
CutBy = Literal["sensor", "capture"]
CutEnd = Literal["start", "end"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Cut:
    """Where a recording begins or ends though nobody's hand began or ended it there.

    at          : the end of the recording where that is
    by          : `sensor`: it was silent, went away or changed its unit; `capture`: whatever listened broke off, which
                  can only be at the end
    pressure_mmhg : in the cuff there [mmHg]
    """

    at: CutEnd
    by: CutBy
    pressure_mmhg: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Recording:
    """Cuff pressure of one inflation and deflation, or of any part of it.

    time_s             : (n,) seconds, strictly increasing, no gap over 0.5 s, at least 45 samples a second
    cuff_pressure_mmhg : (n,) mmHg, within -20..350
    circumstances      : under which it was taken
    cuts               : where it was cut off, one at most for either end; no part of the fingerprint

    Raises
    ------
    RecordingError : with a code (`not-finite`, `time-backwards`, `gap`, `out-of-range`, `too-short`, `too-slow`,
                     `too-fast`, `flat`, `kpa-suspected`, `shape`) and the sample at fault.
    """

    time_s: Samples
    cuff_pressure_mmhg: Samples
    circumstances: Circumstances
    cuts: tuple[Cut, ...] = ()

    def __post_init__(self) -> None:
        time, pressure = self.time_s, self.cuff_pressure_mmhg
        if time.ndim != 1 or time.shape != pressure.shape:
            raise RecordingError(
                "shape",
                f"time has shape {time.shape} but cuff pressure has {pressure.shape}",
                "give two columns of equal length",
            )
        if time.size < 2:
            raise RecordingError("too-short", f"only {time.size} samples", "record a whole deflation")
        for name, column in (("time", time), ("cuff pressure", pressure)):
            bad = np.flatnonzero(~np.isfinite(column))
            if bad.size:
                raise RecordingError(
                    "not-finite", f"sample {bad[0] + 1}: {name} is not a number", "leave such rows out and export again"
                )
        step = np.diff(time)
        if (step <= 0).any():
            k = int(np.flatnonzero(step <= 0)[0])
            raise RecordingError(
                "time-backwards",
                f"sample {k + 2}: time goes from {time[k]:g} s to {time[k + 1]:g} s",
                "sort the rows by time, or export one recording a file",
            )
        outside = np.flatnonzero((pressure < LOWEST_MMHG) | (pressure > HIGHEST_MMHG))
        if outside.size:
            k = int(outside[0])
            raise RecordingError(
                "out-of-range",
                f"sample {k + 1}: {pressure[k]:g} mmHg is outside {LOWEST_MMHG:g} to {HIGHEST_MMHG:g} mmHg",
                "check the unit and the sensor's zero",
            )
        if step.max() > LONGEST_GAP_S:
            k = int(step.argmax())
            raise RecordingError(
                "gap",
                f"sample {k + 2}: nothing for {step[k]:.2f} s after {time[k]:g} s",
                f"record without gaps over {LONGEST_GAP_S:g} s",
            )
        if time[-1] - time[0] < SHORTEST_S:
            raise RecordingError(
                "too-short", f"only {time[-1] - time[0]:.1f} s", f"record at least {SHORTEST_S:g} s of deflation"
            )
        if self.sampling_rate_hz < SLOWEST_HZ:
            raise RecordingError(
                "too-slow",
                f"{self.sampling_rate_hz:.0f} samples a second",
                "record at 50 or more a second: fewer cannot hold the pulse of a cat",
            )
        if self.sampling_rate_hz > FASTEST_HZ:
            raise RecordingError(
                "too-fast",
                f"{self.sampling_rate_hz:.0f} samples a second",
                f"record at {FASTEST_HZ:g} a second or fewer, or check the unit of the time",
            )
        mean_hz = (time.size - 1) / float(time[-1] - time[0])
        if mean_hz < SLOWEST_HZ:
            raise RecordingError(
                "gap",
                f"only {mean_hz:.0f} samples a second on average, but {self.sampling_rate_hz:.0f} between gaps",
                "record without gaps",
            )
        if float(np.ptp(pressure)) < 1.0:
            raise RecordingError(
                "flat", f"the pressure stays within {np.ptp(pressure):.2f} mmHg", "check that the sensor was connected"
            )
        if pressure.max() < KPA_SUSPECTED_BELOW_MMHG:
            raise RecordingError(
                "kpa-suspected",
                f"the pressure never exceeds {pressure.max():.1f} mmHg, too low for any cuff reading",
                "if these numbers are kPa, name the column cuff_pressure_kPa",
            )

    @property
    def sampling_rate_hz(self) -> float:
        """Median sampling rate [Hz]."""
        return float(1.0 / median(np.diff(self.time_s)))

    @property
    def fingerprint(self) -> str:
        """sha256 of time and pressure as little-endian float64, time first."""
        digest = hashlib.sha256(self.time_s.astype("<f8").tobytes())
        digest.update(self.cuff_pressure_mmhg.astype("<f8").tobytes())
        return digest.hexdigest()


def recording(
    time_s: ArrayLike, cuff_pressure_mmhg: ArrayLike, circumstances: Circumstances, cuts: Sequence[Cut] = ()
) -> Recording:
    """A recording from anything that numpy can turn into float columns; the arrays are copied and made read-only."""
    columns = []
    for values in (time_s, cuff_pressure_mmhg):
        column = np.array(values, dtype=np.float64)
        column.setflags(write=False)
        columns.append(column)
    return Recording(time_s=columns[0], cuff_pressure_mmhg=columns[1], circumstances=circumstances, cuts=tuple(cuts))
