"""Arterial traces made by the simulator, for the tests of the room."""

from __future__ import annotations

import numpy as np

from quietlimb.agreement.arterial_trace import ArterialTrace, arterial_trace
from quietlimb.simulator.animals import draw_animal
from quietlimb.simulator.beats import BeatPressures, beat_pressures, draw_beats
from quietlimb.simulator.catheter_line import CatheterLine

RATE_HZ = 1000.0
STIFF = CatheterLine(natural_hz=100.0, damping=0.6)


def simulated(
    seed: int,
    *,
    line: CatheterLine | None = STIFF,
    flushes_s: tuple[tuple[float, float], ...] = (),
    duration_s: float = 30.0,
    rate_hz: float = RATE_HZ,
    systolic: float = 140.0,
    diastolic: float = 90.0,
    pulse_rate: float = 180.0,
) -> tuple[ArterialTrace, BeatPressures]:
    """A trace of a cat through a line, and what its beats were at the tip of the catheter."""
    rng = np.random.default_rng(seed)
    animal = draw_animal(rng, "cat", systolic=systolic, diastolic=diastolic, pulse_rate=pulse_rate)
    beats = draw_beats(rng, animal, duration_s)
    time = np.arange(int(duration_s * RATE_HZ)) / RATE_HZ
    pressure = beats.pressure(time)
    told = pressure if line is None else line.tells(pressure, RATE_HZ, flushes_s)
    every = round(RATE_HZ / rate_hz)
    return arterial_trace(time[::every], told[::every]), beat_pressures(beats, pressure, RATE_HZ, 0.5, duration_s - 0.5)
