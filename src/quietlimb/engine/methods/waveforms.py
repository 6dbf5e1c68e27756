"""The cuff's pulses as waveforms: those met at nearly the same cuff pressure averaged, sample by sample.

Nothing is smoothed across cuff pressures, for how the form changes from one pressure to the next is what tells where
the arterial pressures lie.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from quietlimb.engine.pulse_curves import BEFORE
from quietlimb.engine.pulses import PulseTrain

Array = NDArray[np.float64]

TOGETHER_MMHG = 5.0  # invented: a pulse hardly changes over so little
CELLS = 28
FALL_OVER = 3  # pulses before and after, over which the cuff's fall is taken
UNSEEN_MMHG = 1e3  # standard deviation of a cell that no pulse shows


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Waveforms:
    """b averaged pulses of m cells.

    since_upstroke_s   : (m,) centre of each cell, from the steepest point of the upstroke [s]
    cuff_pressure_mmhg : (b,) at mid height [mmHg]
    fall_mmhg_per_s    : (b,) of the cuff pressure while a pulse lasts; 0 where it falls in steps
    height_mmhg        : (b,) foot to top [mmHg]
    pressure_mmhg      : (b, m) above an arbitrary level of each pulse, fall taken out [mmHg]
    sd_mmhg            : (b, m) by the noise [mmHg]
    pulses             : (b,) how many were averaged
    period_s           : typical period [s]
    """

    since_upstroke_s: Array
    cuff_pressure_mmhg: Array
    fall_mmhg_per_s: Array
    height_mmhg: Array
    pressure_mmhg: Array
    sd_mmhg: Array
    pulses: Array
    period_s: float

    def __len__(self) -> int:
        return int(self.height_mmhg.size)


def average_waveforms(train: PulseTrain) -> Waveforms:
    """The kept pulses of a train, averaged over bins of 5 mmHg of cuff pressure."""
    kept = train.pulses.kept
    rows, seen = train.around_mmhg[kept], train.seen[kept]
    pressure, height = train.pulses.cuff_pressure_mmhg[kept], train.pulses.height_mmhg[kept]
    points = rows.shape[1]
    begin = round(BEFORE * train.period_s / train.shape_step_s)
    since = (np.arange(points) - begin) * train.shape_step_s
    cells = min(CELLS, points)
    into_cell = (((np.arange(points) * cells) // points)[:, None] == np.arange(cells)).astype(float)
    which = ((pressure - pressure.min()) / TOGETHER_MMHG).astype(np.intp)
    into_bin = (which == np.flatnonzero(np.bincount(which))[:, None]).astype(float)
    pulses = into_bin.sum(axis=1)
    samples = into_bin @ seen @ into_cell
    mean = into_bin @ (rows * seen) @ into_cell / np.maximum(samples, 1.0)
    noise = train.noise_mmhg * np.sqrt(train.oversampled / np.maximum(samples, 1.0))
    return Waveforms(
        since_upstroke_s=since @ into_cell / into_cell.sum(axis=0),
        cuff_pressure_mmhg=into_bin @ pressure / pulses,
        fall_mmhg_per_s=into_bin @ _fall(train)[kept] / pulses,
        height_mmhg=into_bin @ height / pulses,
        pressure_mmhg=mean,
        sd_mmhg=np.where(samples > 0.0, noise, UNSEEN_MMHG),
        pulses=pulses,
        period_s=train.period_s,
    )


def _fall(train: PulseTrain) -> Array:
    """(n,) fall of the cuff pressure around each pulse [mmHg/s]; none where a valve lets it fall between pulses."""
    pulse = np.arange(len(train.pulses))
    if train.over_valve.any() or pulse.size < 2:
        return np.zeros(pulse.size)
    before, after = np.maximum(pulse - FALL_OVER, 0), np.minimum(pulse + FALL_OVER, pulse.size - 1)
    pressure, time_s = train.pulses.cuff_pressure_mmhg, train.pulses.time_s
    return np.asarray(np.maximum((pressure[before] - pressure[after]) / (time_s[after] - time_s[before]), 0.0))
