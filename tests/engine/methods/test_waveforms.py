"""Pulses met at nearly the same cuff pressure, averaged."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from quietlimb.engine.methods.waveforms import CELLS, UNSEEN_MMHG, average_waveforms
from quietlimb.engine.pulse_curves import BEFORE
from quietlimb.engine.pulses import Pulses, PulseTrain

POINTS, STEP_S, PERIOD_S = 92, 0.005, 0.5
CUFF = np.array([152.0, 151.0, 141.0, 139.0, 120.0])


def train(set_aside: tuple[str, ...] = ("",) * 5) -> PulseTrain:
    """Five pulses, the k-th a ramp of k mmHg a second, noise 0.1 mmHg."""
    since = (np.arange(POINTS) - round(BEFORE * PERIOD_S / STEP_S)) * STEP_S
    rows = np.arange(1.0, 6.0)[:, None] * since
    return PulseTrain(
        pulses=Pulses(
            time_s=np.arange(5.0),
            period_s=np.full(5, PERIOD_S),
            cuff_pressure_mmhg=CUFF,
            height_mmhg=np.arange(1.0, 6.0),
            height_sd_mmhg=np.full(5, 0.1),
            set_aside=set_aside,
        ),
        period_s=PERIOD_S,
        noise_mmhg=0.1,
        misfit_mmhg=np.full(5, 0.1),
        shape=rows,
        shape_step_s=STEP_S,
        around_mmhg=rows,
        seen=np.ones_like(rows),
        over_valve=np.zeros(rows.shape[0], dtype=np.bool_),
        oversampled=1.0,
    )


def test_neighbours_are_averaged():
    """Bins of 5 mmHg, counted from the lowest pulse, each the mean of its pulses.

    Oracle: by construction: the bins begin at 120, 125, ... mmHg, so 151 and 152 share one; a ramp's mean in a cell is
    the ramp at the cell's centre.
    """
    found = average_waveforms(train())
    np.testing.assert_array_equal(found.pulses, [1, 1, 1, 2])
    np.testing.assert_allclose(found.cuff_pressure_mmhg, [120.0, 139.0, 141.0, 151.5])
    np.testing.assert_allclose(found.height_mmhg, [5.0, 4.0, 3.0, 1.5])
    ramp = np.array([5.0, 4.0, 3.0, 1.5])[:, None] * found.since_upstroke_s
    np.testing.assert_allclose(found.pressure_mmhg, ramp, atol=1e-12)


def test_noise_of_a_cell():
    """A cell's standard deviation is that of a sample over the root of the samples in it, of all its pulses.

    Oracle: by construction: 92 points in 28 cells make 3 or 4 samples; points between samples do not count.
    """
    found = average_waveforms(train())
    assert set(np.round((0.1 / found.sd_mmhg[0]) ** 2).astype(int)) == {3, 4}
    np.testing.assert_allclose(found.sd_mmhg[3], found.sd_mmhg[0] / np.sqrt(2.0))
    twice = average_waveforms(replace(train(), oversampled=2.0))
    np.testing.assert_allclose(twice.sd_mmhg, found.sd_mmhg * np.sqrt(2.0))


def test_what_is_not_seen_does_not_count():
    """Samples of the next pulse are left out; a cell without any has a standard deviation that means nothing.

    Oracle: by construction.
    """
    first = train()
    seen = first.seen.copy()
    seen[4, 60:] = 0.0
    spoiled = np.where(seen > 0.0, first.around_mmhg, 99.0)
    found = average_waveforms(replace(first, around_mmhg=spoiled, seen=seen))
    hidden = found.sd_mmhg[0] == UNSEEN_MMHG
    assert hidden.sum() == CELLS - 1 - 59 * CELLS // POINTS
    assert found.pressure_mmhg.max() < 5.0


def test_fall_of_the_cuff():
    """The fall is that over up to three pulses on either side; there is none where a valve lets it fall in steps.

    Oracle: by construction: the first four pulses, a second apart, lie 152 to 139 mmHg high, all five 152 to 120.
    """
    found = average_waveforms(train())
    np.testing.assert_allclose(found.fall_mmhg_per_s, [31 / 3, 8.0, 8.0, (13 / 3 + 8.0) / 2.0])
    stepwise = average_waveforms(replace(train(), over_valve=np.arange(5) == 2))
    np.testing.assert_array_equal(stepwise.fall_mmhg_per_s, 0.0)


@pytest.mark.parametrize("which", [0, 4])
def test_pulses_set_aside_are_left_out(which: int):
    """A pulse that was set aside is in no average.

    Oracle: by construction.
    """
    reasons = tuple("limb-moved" if k == which else "" for k in range(5))
    assert average_waveforms(train(reasons)).pulses.sum() == 4
