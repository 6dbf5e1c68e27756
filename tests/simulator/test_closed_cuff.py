"""A cuff on a cylinder."""

from __future__ import annotations

import numpy as np
import pytest

from quietlimb.engine.errors import ParameterError
from quietlimb.simulator.closed_cuff import ClosedCuff, draw_closed_cuff, record_bleed, record_closed_cuff
from quietlimb.simulator.sensor import Sensor

EXACT = Sensor(sampling_hz=100.0, noise_mmhg=0.0, quantum_mmhg=0.0)


def test_a_tight_cuff_settles_to_its_share_and_a_leak_fades():
    """3 % of 200 mmHg in the end; a hole's loss begins at its rate and falls with the pressure.

    Oracle: by construction, closed forms.
    """
    since = np.array([0.0, 1e6])
    assert ClosedCuff(leak_mmhg_per_min=0.0, settling_share=0.03, settling_s=5.0).course(since, 200.0) == pytest.approx(
        [200.0, 194.0]
    )
    hole = ClosedCuff(leak_mmhg_per_min=6.0, settling_share=0.0, settling_s=5.0)
    minute = hole.course(np.array([0.0, 60.0, 120.0]), 200.0)
    assert minute[1] == pytest.approx(200.0 * np.exp(-0.03))
    assert minute[1] - minute[2] < minute[0] - minute[1] < 6.0


def test_a_recording_holds_its_levels_for_their_time_and_says_that_it_is_simulated():
    """Within the settling above 180 mmHg for about 30 s; the same seed gives the same samples.

    Oracle: by construction. Tolerance: the ramps.
    """
    cuff = draw_closed_cuff(np.random.default_rng(3), 2.0)
    made = record_closed_cuff(7, cuff, levels_mmhg=(100.0, 200.0), hold_s=30.0, sensor=EXACT)
    again = record_closed_cuff(7, cuff, levels_mmhg=(100.0, 200.0), hold_s=30.0, sensor=EXACT)
    assert made.fingerprint == again.fingerprint
    assert made.circumstances.instrument == "simulator"
    assert np.sum(made.cuff_pressure_mmhg > 180.0) / 100.0 == pytest.approx(30.0, abs=1.5)


def test_a_bleeding_valve_falls_at_its_rates():
    """Two halves of the fall, each at its own.

    Oracle: by construction.
    """
    made = record_bleed(8, start_mmhg=265.0, end_mmhg=65.0, rates_mmhg_per_s=(4.0, 2.0), sensor=EXACT)
    at = made.time_s
    for moment, rate in ((15.0, 4.0), (50.0, 2.0)):
        k = int(np.searchsorted(at, moment))
        assert made.cuff_pressure_mmhg[k] - made.cuff_pressure_mmhg[k + 100] == pytest.approx(rate, abs=0.01)


@pytest.mark.parametrize(("levels", "hold"), [((200.0, 100.0), 60.0), ((), 60.0), ((400.0,), 60.0), ((200.0,), 1.0)])
def test_impossible_courses_are_refused(levels: tuple[float, ...], hold: float):
    """Oracle: by construction."""
    with pytest.raises(ParameterError):
        record_closed_cuff(1, draw_closed_cuff(np.random.default_rng(1), 0.0), levels_mmhg=levels, hold_s=hold)
