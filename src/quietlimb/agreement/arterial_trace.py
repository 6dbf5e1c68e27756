"""The pressure inside an artery over time, and its beats: what a cuff is held against."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import uniform_filter1d
from scipy.signal import find_peaks

from quietlimb.engine.errors import RecordingError

Samples = NDArray[np.float64]

SLOWEST_HZ: Final = 45.0
SMOOTHED_OVER_S: Final = 0.02
PULSE_WINDOW_S: Final = 1.5  # holds a whole beat from 40 a minute on
# Of the pulse: a second wave of a beat stands out by less, the smallest beat of an alternating pulse by more [invented]
TOP_STANDS_OUT: Final = 0.25
# A beat: 40 to 300 a minute, with room for one that is late.
SHORTEST_BEAT_S, LONGEST_BEAT_S = 0.15, 2.5


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ArterialTrace:
    """Pressure of an arterial catheter as its transducer gives it.

    time_s        : (n,) seconds, on the clock of the cuff's recording, strictly increasing
    pressure_mmhg : (n,) mmHg; nan where not measured

    Raises
    ------
    RecordingError : `shape`, `time-backwards`, `too-slow`.
    """

    time_s: Samples
    pressure_mmhg: Samples

    def __post_init__(self) -> None:
        if self.time_s.ndim != 1 or self.time_s.shape != self.pressure_mmhg.shape or self.time_s.size < 2:
            raise RecordingError(
                "shape",
                f"arterial pressure has shape {self.pressure_mmhg.shape} for times of shape {self.time_s.shape}",
                "give two columns of equal length",
            )
        step = np.diff(self.time_s)
        if (step <= 0.0).any():
            k = int(np.flatnonzero(step <= 0.0)[0])
            raise RecordingError(
                "time-backwards",
                f"sample {k + 2} of the arterial pressure: time goes from {self.time_s[k]:g} s to "
                f"{self.time_s[k + 1]:g} s",
                "sort the samples by time",
            )
        if self.rate_hz < SLOWEST_HZ:
            raise RecordingError(
                "too-slow",
                f"{self.rate_hz:.0f} samples of arterial pressure a second",
                "record at 50 or more a second: fewer cannot hold the pulse of a cat",
            )

    @property
    def rate_hz(self) -> float:
        """Median sampling rate [Hz]."""
        return float(1.0 / np.median(np.diff(self.time_s)))

    def between(self, start_s: float, end_s: float) -> ArterialTrace | None:
        """The part within these times; None where it holds fewer than two samples."""
        inside = (self.time_s >= start_s) & (self.time_s <= end_s)
        if np.count_nonzero(inside) < 2:
            return None
        return ArterialTrace(time_s=self.time_s[inside], pressure_mmhg=self.pressure_mmhg[inside])


def arterial_trace(time_s: Samples, pressure_mmhg: Samples) -> ArterialTrace:
    """A trace from float columns; they are copied and made read-only."""
    columns = [np.array(column, dtype=np.float64) for column in (time_s, pressure_mmhg)]
    for column in columns:
        column.setflags(write=False)
    return ArterialTrace(time_s=columns[0], pressure_mmhg=columns[1])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ArterialBeats:
    """n whole beats: (n,) begin [s], end [s], and highest, time mean and lowest pressure of each [mmHg]."""

    start_s: Samples
    end_s: Samples
    systolic: Samples
    mean: Samples
    diastolic: Samples

    def __len__(self) -> int:
        return int(self.start_s.size)

    @property
    def rate_per_min(self) -> float:
        """By the median beat [/min]; nan without a beat."""
        return 60.0 / float(np.median(self.end_s - self.start_s)) if len(self) else float("nan")

    def within(self, start_s: float, end_s: float) -> ArterialBeats:
        """Those that begin and end within these times."""
        inside = (self.start_s >= start_s) & (self.end_s <= end_s)
        columns = (self.start_s, self.end_s, self.systolic, self.mean, self.diastolic)
        start, end, systolic, mean, diastolic = (column[inside] for column in columns)
        return ArterialBeats(start_s=start, end_s=end, systolic=systolic, mean=mean, diastolic=diastolic)


def find_beats(trace: ArterialTrace) -> ArterialBeats:
    """The whole beats of a trace, from lowest to lowest pressure; none across a sample that was not measured.

    Tops stand out by a quarter of the pulse; the beat ends where the pressure is lowest between two tops.
    """
    pressure, time = trace.pressure_mmhg, trace.time_s
    measured = np.isfinite(pressure)
    filled = np.interp(time, time[measured], pressure[measured]) if measured.any() else np.zeros_like(pressure)
    rate_hz = trace.rate_hz
    window = int(PULSE_WINDOW_S * rate_hz)
    pieces = filled[: filled.size // window * window].reshape(-1, window)
    pulse = float(np.median(np.ptp(pieces, axis=1))) if pieces.size else float(np.ptp(filled))
    smooth = uniform_filter1d(filled, max(1, round(SMOOTHED_OVER_S * rate_hz)))
    tops, _ = find_peaks(
        smooth, prominence=max(TOP_STANDS_OUT * pulse, 1.0), distance=max(1, int(SHORTEST_BEAT_S * rate_hz))
    )
    feet = np.array([a + int(filled[a:b].argmin()) for a, b in pairwise(tops)], dtype=np.intp)
    found = [
        (time[a], time[b], filled[a:b].max(), filled[a:b].mean(), filled[a:b].min())
        for a, b in pairwise(feet)
        if measured[a : b + 1].all() and SHORTEST_BEAT_S <= time[b] - time[a] <= LONGEST_BEAT_S
    ]
    table = np.array(found, dtype=np.float64).reshape(-1, 5)
    return ArterialBeats(
        start_s=table[:, 0], end_s=table[:, 1], systolic=table[:, 2], mean=table[:, 3], diastolic=table[:, 4]
    )
