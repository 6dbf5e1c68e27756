"""The animal's beats one after another, and the arterial pressure that they make.

Magnitudes are invented, unless a source stands beside them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from quietlimb.simulator.animals import Animal
from quietlimb.simulator.draws import autocorrelated, log_uniform
from quietlimb.simulator.pulse_shape import PulseShape

Samples = NDArray[np.float64]
Rhythm = Literal["regular", "ectopic", "atrial fibrillation", "alternans", "pulse deficit"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Beats:
    """n beats; each ends at the foot of the next, so there is one foot more than there are beats.

    foot_s         : (n+1,) time of the foot [s]; the first lies before 0
    foot_mmhg      : (n+1,) arterial pressure there [mmHg]
    pulse_pressure : (n,) mmHg, above the line from foot to foot
    absent         : (n,) True where the heart beats and no pulse reaches the limb; None where all do
    """

    foot_s: Samples
    foot_mmhg: Samples
    pulse_pressure: Samples
    shape: PulseShape
    absent: NDArray[np.bool_] | None = None

    def pressure(self, time_s: Samples) -> Samples:
        """Arterial pressure at these times [mmHg]; they must lie between the first foot and the last."""
        position = np.interp(time_s, self.foot_s, np.arange(self.foot_s.size, dtype=np.float64))
        beat = np.minimum(position.astype(np.intp), self.pulse_pressure.size - 1)
        rise = np.diff(self.foot_mmhg)
        phase = position - beat
        pressure: Samples = self.foot_mmhg[beat] + rise[beat] * phase + self.pulse_pressure[beat] * self.shape.at(phase)
        return pressure


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BeatPressures:
    """What each whole beat between two moments really was: (m,) foot [s], period [s], pressures [mmHg]."""

    foot_s: Samples
    period_s: Samples
    systolic: Samples
    mean: Samples
    diastolic: Samples


def beat_pressures(beats: Beats, arterial_mmhg: Samples, rate_hz: float, start_s: float, end_s: float) -> BeatPressures:
    """Highest, time mean and lowest pressure of each beat that begins and ends within start_s..end_s.

    Taken from the sampled trace, which begins at 0 s, so that truth is what happened and not what was asked for. A beat
    that does not reach the limb is none: the one before it lasts on.
    """
    reaches = np.ones(beats.foot_s.size, dtype=np.bool_)
    if beats.absent is not None:
        reaches[:-1] = ~beats.absent
    inside = np.flatnonzero(reaches & (beats.foot_s >= start_s) & (beats.foot_s <= end_s))
    feet = np.ceil(beats.foot_s[inside] * rate_hz).astype(np.intp)
    first, last = feet[:-1], int(feet[-1])
    within = arterial_mmhg[:last]
    return BeatPressures(
        foot_s=beats.foot_s[inside[:-1]],
        period_s=np.diff(beats.foot_s[inside]),
        systolic=np.maximum.reduceat(within, first),
        mean=np.add.reduceat(within, first) / np.diff(feet),
        diastolic=np.minimum.reduceat(within, first),
    )


def draw_beats(
    rng: np.random.Generator,
    animal: Animal,
    duration_s: float,
    *,
    rhythm: Rhythm = "regular",
    drift_mmhg: float | None = None,
) -> Beats:
    """Beats that cover 0..duration_s.

    Breathing moves pressure by 1 to 6 mmHg from crest to trough and, mostly in dogs, the interval; beats vary by 0.5 to
    2 mmHg and 1.5 to 4 % of the pulse; the level drifts by about 2 mmHg within a recording, or by `drift_mmhg`.
    """
    period = animal.period_s
    count = int(1.6 * (duration_s + 2.0) / period) + 12
    breath_hz = animal.breaths / 60.0
    breath_phase = rng.uniform(0.0, 2.0 * np.pi)
    sinus_arrhythmia = rng.uniform(0.005, 0.03) if animal.species == "cat" else rng.uniform(0.02, 0.12)
    jitter = rng.uniform(0.005, 0.02)
    breath_mmhg = 0.5 * log_uniform(rng, 1.0, 6.0)
    wander_mmhg = rng.uniform(0.5, 2.0)
    scatter = rng.uniform(0.015, 0.04)
    drawn_drift = float(np.clip(rng.normal(0.0, 2.0), -5.0, 5.0))

    nominal_s = period * np.arange(count)
    breathing = np.sin(2.0 * np.pi * breath_hz * nominal_s + breath_phase)
    interval = period * (1.0 + sinus_arrhythmia * breathing + jitter * autocorrelated(rng, count, 0.5))
    level = breath_mmhg * breathing + wander_mmhg * autocorrelated(rng, count, 0.7)
    pulse = animal.pulse_pressure * (1.0 + scatter * rng.normal(size=count)) + 0.4 * breath_mmhg * breathing
    foot = animal.diastolic + 0.6 * breath_mmhg * breathing + (level - breath_mmhg * breathing)
    if rhythm == "ectopic":
        _add_ectopic_beats(rng, interval, foot, pulse, period)
    elif rhythm == "atrial fibrillation":
        _fibrillate(rng, interval, foot, pulse, period)
    elif rhythm == "alternans":
        _alternate(rng, pulse)
    pulse = np.maximum(pulse, 0.1 * animal.pulse_pressure)
    absent = _lose_pulses(rng, foot, pulse) if rhythm == "pulse deficit" else None

    foot_s = np.concatenate(([0.0], np.cumsum(interval[:-1]))) - period * (1.0 + rng.uniform())
    drift = drawn_drift if drift_mmhg is None else drift_mmhg
    foot = foot + drift * (foot_s / duration_s - 0.5)
    covered = int(np.searchsorted(foot_s, duration_s)) + 2
    return Beats(
        foot_s=foot_s[:covered],
        foot_mmhg=foot[:covered],
        pulse_pressure=pulse[: covered - 1],
        shape=animal.shape,
        absent=None if absent is None else absent[: covered - 1],
    )


def _add_ectopic_beats(
    rng: np.random.Generator, interval: Samples, foot: Samples, pulse: Samples, period: float
) -> None:
    """Premature beats, 4 to 15 %: early, small, followed by a pause and a stronger beat."""
    early = rng.uniform(size=interval.size) < rng.uniform(0.04, 0.15)
    early[1:] &= ~early[:-1]
    early[[0, -1]] = False
    beat = np.flatnonzero(early)
    full = pulse[beat]
    interval[beat - 1] = period * rng.uniform(0.55, 0.80, beat.size)
    interval[beat] = period * rng.uniform(1.2, 1.5, beat.size)
    # the run-off before an early beat is cut short, that of a pause goes further
    foot[beat] += 0.15 * full
    foot[beat + 1] -= 0.05 * full
    pulse[beat] = full * rng.uniform(0.2, 0.7, beat.size)
    pulse[beat + 1] *= rng.uniform(1.1, 1.3, beat.size)


def _fibrillate(rng: np.random.Generator, interval: Samples, foot: Samples, pulse: Samples, period: float) -> None:
    """Intervals without order, coefficient of variation 20 to 30 %; each pulse fills by the interval before it."""
    share = np.clip(1.0 + rng.uniform(0.20, 0.30) * rng.normal(size=interval.size), 0.45, 1.9)
    interval[:] = period * share
    before = np.concatenate(([1.0], share[:-1]))
    foot -= 0.25 * pulse * (before - 1.0)
    pulse *= 0.4 + 0.6 * before


def _alternate(rng: np.random.Generator, pulse: Samples) -> None:
    """Strong and weak pulses in turn, each 5 to 20 % off."""
    share = rng.uniform(0.05, 0.20)
    pulse[::2] *= 1.0 + share
    pulse[1::2] *= 1.0 - share


def _lose_pulses(rng: np.random.Generator, foot: Samples, pulse: Samples) -> NDArray[np.bool_]:
    """Where no pulse comes, 5 to 30 % of the beats and never two in a row: the run-off goes on to a lower foot."""
    # a beat after a lost one always comes, so more are drawn than are wanted
    wanted = rng.uniform(0.05, 0.30)
    lost: NDArray[np.bool_] = rng.uniform(size=pulse.size) < wanted / (1.0 - wanted)
    lost[0] = lost[-1] = False
    for k in np.flatnonzero(lost):
        lost[k] = not lost[k - 1]
    beat = np.flatnonzero(lost)
    foot[beat + 1] -= 0.15 * pulse[beat]
    pulse[beat] *= 0.02
    return lost
