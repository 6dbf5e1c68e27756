"""Movement and load: how much, how long, and that it is told."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from scipy.signal import butter, sosfiltfilt

from quietlimb.simulator.movement import (
    loaded_limb,
    motion_bursts,
    repeated_motion,
    sustained_motion,
    tail_wagging,
)

RATE_HZ = 1000.0
TIME = np.arange(30_000) / RATE_HZ
WITHIN = (6.0, 27.0)


@pytest.mark.parametrize("seed", range(20))
def test_mild_motion_is_short_and_lies_within_the_deflation(seed: int):
    """One or two movements of 1.2 s together at most; nothing outside the spans told; 0.5 to 15 mmHg a movement.

    Oracle: invented ranges, frozen. Tolerance: rounding; two movements may fall together, so twice the height.
    """
    pressure, spans = motion_bursts(np.random.default_rng(seed), TIME, RATE_HZ, WITHIN, 0.8)
    assert len(spans) in (1, 2)
    assert sum(end - begin for begin, end in spans) <= 1.2 + 1e-9
    moving = np.zeros(TIME.size, dtype=bool)
    for begin, end in spans:
        assert WITHIN[0] <= begin < end <= WITHIN[1]
        moving |= (begin - 0.002 <= TIME) & (end + 0.002 >= TIME)
    assert not pressure[~moving].any()
    assert 0.5 - 1e-9 <= np.abs(pressure).max() <= 30.0


@pytest.mark.parametrize("seed", range(10))
def test_sustained_motion_leaves_no_quiet_second(seed: int):
    """In every second of the deflation the limb moves the cuff by more than half a pulse.

    Oracle: by construction. Tolerance: none.
    """
    pressure, spans = sustained_motion(np.random.default_rng(seed), TIME, RATE_HZ, WITHIN, 0.8)
    assert spans == (WITHIN,)
    for second in np.arange(*WITHIN):
        now = pressure[int(second * RATE_HZ) : int((second + 1) * RATE_HZ)]
        assert np.ptp(now) > 0.4


@pytest.mark.parametrize("seed", range(30))
def test_repeated_motion_comes_back_and_leaves_quiet_between(seed: int):
    """Three to six movements that do not overlap, together 1.8 to 6 s, 0.5 to 20 mmHg; between them the cuff is level.

    Oracle: invented ranges, frozen. Tolerance: rounding; a movement may come on top of a shift of 10 mmHg by 10 more.
    """
    pressure, spans = repeated_motion(np.random.default_rng(seed), TIME, RATE_HZ, WITHIN, 0.8)
    assert 3 <= len(spans) <= 6
    assert 1.8 - 1e-9 <= sum(end - begin for begin, end in spans) <= 6.0 + 1e-9
    assert WITHIN[0] <= spans[0][0]
    assert spans[-1][1] <= WITHIN[1]
    assert all(before[1] <= after[0] for before, after in pairwise(spans))
    for (_, end), (begin, _) in pairwise(spans):
        between = pressure[(end + 0.002 < TIME) & (begin - 0.002 > TIME) & (TIME > 6.2) & (TIME < 26.8)]
        assert between.size == 0 or np.ptp(between) < 1e-9
    assert 0.5 - 1e-9 <= np.abs(pressure).max() <= 40.0
    assert not pressure[(WITHIN[0] - 0.002 > TIME) | (WITHIN[1] + 0.002 < TIME)].any()


def test_repeated_motion_fits_into_a_short_deflation():
    """Of a deflation of 4 s, movements take at most half.

    Oracle: by construction: a deflation that is all movement is another scenario. Tolerance: rounding.
    """
    for seed in range(20):
        _, spans = repeated_motion(np.random.default_rng(seed), TIME, RATE_HZ, (6.0, 10.0), 0.8)
        assert len(spans) >= 3
        assert sum(end - begin for begin, end in spans) <= 2.0 + 1e-9


@pytest.mark.parametrize("seed", range(20))
def test_wagging_is_rhythmic_large_and_never_pauses(seed: int):
    """The strongest line lies at 1 to 4 Hz and holds most of the power; every second swings by more than the pulse.

    Oracle: invented ranges, frozen. Tolerance: the pace may stray by three of its 8 %; half of the power within 30 % of
    the line, as the second harmonic may hold a fifth and the pace wanders. At its weakest a wag is 0.5 x 1.5 pulses to
    either side, so 1.5 from end to end; a fifth less, with the second harmonic against it, is asked of every 1.25 s.
    """
    wagging, spans = tail_wagging(np.random.default_rng(seed), TIME, RATE_HZ, WITHIN, 1.0)
    assert spans == (WITHIN,)
    inside = wagging[(TIME >= 6.2) & (TIME < 26.8)]
    power = np.abs(np.fft.rfft(inside * np.hanning(inside.size))) ** 2
    frequency = np.fft.rfftfreq(inside.size, 1.0 / RATE_HZ)
    line = frequency[power.argmax()]
    assert 0.75 <= line <= 5.0
    assert power[np.abs(frequency / line - 1.0) < 0.3].sum() > 0.5 * power.sum()
    for second in np.arange(6.5, 25.5):
        assert np.ptp(wagging[int(second * RATE_HZ) : int((second + 1.25) * RATE_HZ)]) > 1.2
    assert not wagging[(WITHIN[0] > TIME) | (WITHIN[1] < TIME)].any()


@pytest.mark.parametrize("seed", range(20))
def test_load_shifts_all_the_time(seed: int):
    """No 5 s of the deflation pass without a shift, and no load lifts more than 15 mmHg and the wander on top of it.

    Oracle: invented ranges, frozen: shifts of 2 mmHg and more at most 4.6 s apart. Tolerance: a high-pass at 0.8 Hz
    leaves more than half of a shift of 2 mmHg within 0.6 s and a sixteenth of a wander below 0.4 Hz; four SD of wander.
    """
    loaded, spans = loaded_limb(np.random.default_rng(seed), TIME, RATE_HZ, WITHIN)
    assert spans == (WITHIN,)
    inside = (TIME > 6.4) & (TIME < 26.6)
    sudden = sosfiltfilt(butter(2, 0.8, btype="high", fs=RATE_HZ, output="sos"), loaded[inside])
    for begin in range(0, sudden.size - 5000, 1000):
        assert np.ptp(sudden[begin : begin + 5000]) > 0.7
    assert loaded[inside].min() > -8.0
    assert loaded.max() < 23.0
    assert not loaded[(WITHIN[0] > TIME) | (WITHIN[1] < TIME)].any()
