"""What a screen needs of a moment, as numbers and sentences."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from quietlimb.engine.live.moment import Moment
from quietlimb.engine.pulses import Pulses
from quietlimb.engine.reading import Reading
from quietlimb.engine.values import Estimate
from quietlimb.words.live import pulses_line, say

DRAWN_HZ = 50.0  # as many points of the trace as a screen can show


def samples_told(time_s: NDArray[np.float64], pressure: NDArray[np.float64]) -> dict[str, object]:
    """Points of the trace: means of so many samples that there are about 50 a second."""
    span = float(time_s[-1] - time_s[0])
    together = max(1, round((time_s.size - 1) / span / DRAWN_HZ)) if span > 0 else 1
    cuts = np.arange(0, time_s.size, together)
    count = np.diff(np.append(cuts, time_s.size))
    return {
        "t": np.round(np.add.reduceat(time_s, cuts) / count, 3).tolist(),
        "p": np.round(np.add.reduceat(pressure, cuts) / count, 2).tolist(),
    }


def moment_told(moment: Moment) -> dict[str, object]:
    """What stands now."""
    first = moment.remarks[0] if moment.remarks else None
    return {
        "t": round(moment.time_s, 3),
        "now": round(moment.pressure_mmhg),
        "phase": moment.phase,
        "inflated_s": round(moment.inflated_s, 1),
        "fall": None if moment.fall_mmhg_per_s is None else round(moment.fall_mmhg_per_s, 1),
        "says": "" if first is None else say(first),
        "at_once": first is not None and first.code == "valve-open-now",
        "counted": "" if moment.pulses_counted is None else pulses_line(moment.pulses_counted, moment.pulses_dropped),
        "values": values_told(moment.reading),
    }


def values_told(reading: Reading | None) -> dict[str, list[int]]:
    """Value, low and high of what is known, rounded as at the table."""
    if reading is None:
        return {}
    known: dict[str, Estimate | None] = {
        "systolic": reading.systolic,
        "mean": reading.mean,
        "diastolic": reading.diastolic,
        "pulse_rate": reading.pulse_rate,
    }
    return {
        name: [round(each.value), round(each.low), round(each.high)] for name, each in known.items() if each is not None
    }


def pulses_told(pulses: Pulses | None) -> list[list[float]]:
    """Time, cuff pressure, height and 1 for one that is kept."""
    if pulses is None:
        return []
    columns = (pulses.time_s, pulses.cuff_pressure_mmhg, pulses.height_mmhg, pulses.kept.astype(np.float64))
    return np.round(np.column_stack(columns), 3).tolist()  # type: ignore[no-any-return]
