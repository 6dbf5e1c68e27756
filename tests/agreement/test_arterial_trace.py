"""Beats of an arterial pressure."""

from __future__ import annotations

import numpy as np
import pytest

from agreement.arterial_traces import simulated
from quietlimb.agreement.arterial_trace import arterial_trace, find_beats
from quietlimb.engine.errors import RecordingError


@pytest.mark.parametrize(("seed", "pulse_rate"), [(1, 60.0), (2, 120.0), (3, 180.0), (4, 250.0)])
def test_simulated_beats_are_found_with_their_pressures(seed: int, pulse_rate: float) -> None:
    """Every beat but one at an edge is found, and the pressures are those that were put in.

    Oracle: by construction, the simulator's own beats. Tolerance: a beat at an edge, of beats that vary by 2 mmHg.
    """
    trace, truth = simulated(seed, line=None, pulse_rate=pulse_rate)
    found = find_beats(trace).within(0.5, 29.5)
    assert abs(len(found) - truth.systolic.size) <= 1
    for name in ("systolic", "mean", "diastolic"):
        assert getattr(found, name).mean() == pytest.approx(getattr(truth, name).mean(), abs=0.2)
    assert found.rate_per_min == pytest.approx(pulse_rate, rel=0.05)


def test_no_beat_spans_what_was_not_measured() -> None:
    """A second without samples costs its beats and no others.

    Oracle: by construction.
    """
    trace, _ = simulated(5, line=None)
    pressure = trace.pressure_mmhg.copy()
    lost = (trace.time_s >= 10.0) & (trace.time_s < 11.0)
    pressure[lost] = np.nan
    found = find_beats(arterial_trace(trace.time_s, pressure))
    assert not ((found.start_s < 11.0) & (found.end_s > 10.0)).any()
    assert 3 <= len(find_beats(trace)) - len(found) <= 6


@pytest.mark.parametrize(
    ("time", "pressure", "code"),
    [
        (np.arange(3.0), np.arange(4.0), "shape"),
        (np.array([0.0, 0.01, 0.01, 0.02]), np.zeros(4), "time-backwards"),
        (np.arange(10.0) / 20.0, np.zeros(10), "too-slow"),
    ],
)
def test_what_is_no_trace_is_refused(time: np.ndarray, pressure: np.ndarray, code: str) -> None:
    """With a code and a remedy.

    Oracle: by construction.
    """
    with pytest.raises(RecordingError) as caught:
        arterial_trace(time, pressure)
    assert caught.value.code == code


def test_a_trace_without_a_pulse_has_no_beats() -> None:
    """Of a catheter that is closed, nothing is made.

    Oracle: by construction.
    """
    assert len(find_beats(arterial_trace(np.arange(2000) / 100.0, np.full(2000, 95.0)))) == 0
