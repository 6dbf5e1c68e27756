"""Streams made by plain formulas, and how they are fed to a watch."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from engine.recordings import CAT, Array, line, ride, whole_course
from quietlimb.engine.live import Finished, Moment, Watch

RATE_HZ = 100.0


def inflation(start_mmhg: float = 180.0, stop_mmhg: float = 55.0, mmhg_per_s: float = 6.0) -> Array:
    """Rest, rise, a straight fall through a bell of pulses, dump. (n,) at 100 Hz [mmHg]"""
    base = line(start_mmhg, stop_mmhg, mmhg_per_s, RATE_HZ)
    falling, _ = ride(base, RATE_HZ, np.arange(0.13, base.size / RATE_HZ, 0.4))
    noise = 0.02 * np.random.default_rng(7).normal(size=falling.size)
    return whole_course(falling + noise, RATE_HZ)


def fed(watch: Watch, pressure: Array, *, piece: int = 10, from_s: float = 0.0) -> list[Moment]:
    """The moments of a stream at 100 Hz, fed in pieces of so many samples."""
    time = from_s + np.arange(pressure.size) / RATE_HZ
    return [watch.add(time[k : k + piece], pressure[k : k + piece]) for k in range(0, time.size, piece)]


def watched(pressure: Array, *, piece: int = 10) -> list[Moment]:
    """The moments of a stream, by a fresh watch."""
    return fed(Watch(CAT), pressure, piece=piece)


def finished(moments: Sequence[Moment]) -> list[Finished]:
    """What came to its end in these moments."""
    return [moment.finished for moment in moments if moment.finished is not None]


def codes(moments: Sequence[Moment]) -> set[str]:
    """Codes of all that was said."""
    return {remark.code for moment in moments for remark in moment.remarks}
