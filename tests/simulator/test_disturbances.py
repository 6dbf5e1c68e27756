"""Vibration, breathing and knocks."""

from __future__ import annotations

import numpy as np
import pytest

from quietlimb.simulator.disturbances import breathing_and_tone, purring, shivering, tube_knocks

RATE_HZ = 1000.0
TIME = np.arange(30_000) / RATE_HZ
WITHIN = (6.0, 27.0)


def _peak_frequency(pressure: np.ndarray) -> float:
    power = np.abs(np.fft.rfft(pressure * np.hanning(pressure.size)))
    return float(np.fft.rfftfreq(pressure.size, 1.0 / RATE_HZ)[power.argmax()])


@pytest.mark.parametrize("seed", range(10))
def test_purring_hums_between_20_and_31_hz(seed: int):
    """The strongest line lies where cats purr.

    Oracle: published. Frequencies of purring, J Zool 1991; 223: 67-78 (26.3 with SD 1.95 Hz breathing out, 2.4 with SD
    1.3 Hz lower breathing in). Tolerance: two and a half standard deviations of both.
    """
    hum = purring(np.random.default_rng(seed), TIME, 30.0)
    assert 15.5 <= _peak_frequency(hum) <= 31.5
    assert 0.01 <= np.abs(hum).max() <= 0.3 * 1.75


@pytest.mark.parametrize("seed", range(10))
def test_shivering_trembles_between_8_and_15_hz(seed: int):
    """The strongest line lies within 8 to 15 Hz, and the tremor stays below the pulse.

    Oracle: invented range, frozen. Tolerance: none.
    """
    shaking = shivering(np.random.default_rng(seed), TIME, RATE_HZ, 1.0)
    assert 8.0 <= _peak_frequency(shaking) <= 15.0
    assert 0.01 < shaking.std() < 0.5


def test_quiet_limb_is_quiet():
    """Breathing and tone together stray by less than 2 mmHg in 30 s.

    Oracle: invented range, frozen: tone 0.1 mmHg per root second has SD 0.55 after 30 s; three and a half of them.
    """
    for seed in range(20):
        unrest = breathing_and_tone(np.random.default_rng(seed), TIME, 30.0, 1.0)
        assert 0.0 < np.abs(unrest).max() < 2.0


def test_knocks_are_told():
    """Nothing lies outside the spans told; some recordings have none.

    Oracle: by construction.
    """
    counts = set()
    for seed in range(20):
        pressure, spans = tube_knocks(np.random.default_rng(seed), TIME, RATE_HZ, WITHIN)
        counts.add(len(spans))
        quiet = np.ones(TIME.size, dtype=bool)
        for begin, end in spans:
            quiet &= (begin - 0.002 > TIME) | (end + 0.002 < TIME)
        assert not pressure[quiet].any()
    assert counts == {0, 1, 2, 3}
