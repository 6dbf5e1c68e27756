"""The artery under the cuff."""

from __future__ import annotations

import math

import numpy as np
import pytest

from quietlimb.engine.errors import ParameterError
from quietlimb.simulator.animals import draw_animal
from quietlimb.simulator.arteries import FAMILIES
from quietlimb.simulator.arteries.logistic import Logistic
from quietlimb.simulator.cuff import CuffedLimb, limb_with_peak_height, peak_height

RATE_HZ = 1000.0


def test_fixed_point_agrees_with_a_loop_that_solves_each_sample():
    """Iterating over the whole trace gives what solving sample by sample gives.

    Oracle: a slower twin, with bisection at each sample. Tolerance: the 0.0001 mmHg at which iteration stops, divided
    by one minus the coupling.
    """
    limb = CuffedLimb(artery=Logistic(scale=9.0), gain=0.2, transmission=0.98, peak_offset=1.5, lag_s=0.02)
    time = np.arange(600) / RATE_HZ
    arterial = 105.0 + 20.0 * np.sin(2 * np.pi * 3.0 * time)
    base = 120.0 - 20.0 * time
    found = limb.cuff_pressure(arterial, base, RATE_HZ)

    def volume(pressure: float) -> float:
        return 36.0 / (1.0 + math.exp(-pressure / 9.0))

    rest = volume(arterial[0] - 1.5)
    stay = math.exp(-1.0 / (0.02 * RATE_HZ))
    lagged: float | None = None
    for k in range(600):

        def excess(cuff: float, k: int = k, before: float | None = lagged) -> float:
            now = volume(arterial[k] - 0.98 * cuff - 1.5)
            held = now if before is None else stay * before + (1.0 - stay) * now
            return base[k] + 0.2 * (held - rest) - cuff

        low, high = 0.0, 250.0
        for _ in range(60):
            middle = 0.5 * (low + high)
            low, high = (middle, high) if excess(middle) > 0.0 else (low, middle)
        now = volume(arterial[k] - 0.98 * low - 1.5)
        lagged = now if lagged is None else stay * lagged + (1.0 - stay) * now
        assert found[k] == pytest.approx(low, abs=2e-4)


@pytest.mark.parametrize("family", FAMILIES)
def test_peak_height_is_the_one_asked_for(family: str):
    """A beat under steady cuff pressures is highest by the height asked for, whatever artery and lag.

    Oracle: by construction, through the other path: whole traces at 21 steady pressures. Tolerance: 3 %, as 21
    pressures need not meet the peak and the grid of one period is coarse.
    """
    animal = draw_animal(np.random.default_rng(2), "cat")
    limb = limb_with_peak_height(
        animal,
        FAMILIES[family].draw(np.random.default_rng(2)),
        peak_height_mmhg=1.3,
        transmission=1.0,
        peak_offset=0.0,
        lag_s=0.03,
    )
    time = np.arange(3000) / RATE_HZ
    arterial = animal.diastolic + animal.pulse_pressure * animal.shape.at((time / animal.period_s) % 1.0)
    heights = []
    for steady in np.linspace(animal.diastolic, animal.systolic, 21):
        rest = float(limb.artery.volume(np.array([arterial[0]]))[0])
        # the cuff stands that much lower once the artery under it has emptied
        trace = limb.cuff_pressure(arterial, np.full(3000, steady + limb.gain * rest * 0.5), RATE_HZ)
        heights.append(np.ptp(trace[1000:]))
    assert max(heights) == pytest.approx(1.3, rel=0.03)
    assert peak_height(limb, animal) == pytest.approx(1.3, rel=1e-3)


def test_peak_offset_shifts_the_oscillogram_and_nothing_else():
    """A limb with offset p0 under an arterial pressure higher by p0 gives the same cuff pressure.

    Oracle: by construction: only Pa - p0 enters, which is why no cuff can tell p0 from pressure. Tolerance: rounding.
    """
    time = np.arange(4000) / RATE_HZ
    arterial = 100.0 + 20.0 * np.sin(2 * np.pi * 2.5 * time)
    base = 140.0 - 20.0 * time
    plain = CuffedLimb(artery=Logistic(scale=9.0), gain=0.1, transmission=0.99, peak_offset=0.0, lag_s=0.01)
    offset = CuffedLimb(artery=Logistic(scale=9.0), gain=0.1, transmission=0.99, peak_offset=3.0, lag_s=0.01)
    assert offset.cuff_pressure(arterial + 3.0, base, RATE_HZ) == pytest.approx(
        plain.cuff_pressure(arterial, base, RATE_HZ), abs=1e-9
    )


def test_an_empty_hanging_cuff_passes_nothing_on():
    """At 0 mmHg of base pressure the cuff shows no pulse.

    Oracle: common practice: an uninflated cuff shows none. Tolerance: exact.
    """
    time = np.arange(2000) / RATE_HZ
    limb = CuffedLimb(artery=Logistic(scale=9.0), gain=0.1, transmission=1.0, peak_offset=0.0, lag_s=0.01)
    assert not limb.cuff_pressure(20.0 + 10.0 * np.sin(9.0 * time), np.zeros(2000), RATE_HZ).any()


def test_coupling_that_cannot_settle_is_refused():
    """A coupling above 1 raises instead of returning nonsense.

    Oracle: by construction: the iteration shrinks errors only below 1.
    """
    time = np.arange(2000) / RATE_HZ
    limb = CuffedLimb(artery=Logistic(scale=9.0), gain=5.0, transmission=1.0, peak_offset=0.0, lag_s=0.0)
    with pytest.raises(ParameterError, match="do not settle"):
        limb.cuff_pressure(100.0 + 20.0 * np.sin(9.0 * time), np.full(2000, 100.0), RATE_HZ)
