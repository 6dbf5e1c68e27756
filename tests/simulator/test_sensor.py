"""Sampling, noise and rounding."""

from __future__ import annotations

import numpy as np
import pytest

from quietlimb.engine.errors import ParameterError
from quietlimb.simulator.sensor import TRACE_HZ, Sensor


@pytest.mark.parametrize("sampling_hz", [50.0, 100.0, 125.0, 128.0, 200.0, 500.0, 1000.0])
def test_times_are_exact_multiples_and_slow_signals_pass(sampling_hz: float):
    """Times are k / fs to the bit, and a 5 Hz wave keeps its height.

    Oracle: by construction. Tolerance: 1 % in the middle of the trace, the low-pass at the slowest rate.
    """
    trace_s = np.arange(5001) / TRACE_HZ
    sensor = Sensor(sampling_hz=sampling_hz, noise_mmhg=0.0, quantum_mmhg=0.0)
    time, seen = sensor.record(np.random.default_rng(1), 100.0 + np.sin(2 * np.pi * 5.0 * trace_s))
    assert (time == np.arange(time.size) / sampling_hz).all()
    middle = (time > 1.0) & (time < 4.0)
    assert seen[middle] == pytest.approx(100.0 + np.sin(2 * np.pi * 5.0 * time[middle]), abs=0.01)


def test_anti_alias_filter_keeps_the_alias_out():
    """52.6 Hz sampled at 50 Hz turns into 2.6 Hz, a cat's 156 a minute, unless the low-pass is there.

    Oracle: by construction (52.6 - 50). Tolerance: 5 % of the height without, 1 % left with the filter.
    """
    trace_s = np.arange(20001) / TRACE_HZ
    trace = 100.0 + np.sin(2 * np.pi * 52.6 * trace_s)
    bare, guarded = (
        Sensor(sampling_hz=50.0, noise_mmhg=0.0, quantum_mmhg=0.0, anti_alias=anti_alias).record(
            np.random.default_rng(1), trace
        )
        for anti_alias in (False, True)
    )
    alias = np.exp(-2j * np.pi * 2.6 * bare[0])
    assert 2.0 * abs(np.mean((bare[1] - 100.0) * alias)) == pytest.approx(1.0, abs=0.05)
    assert 2.0 * abs(np.mean((guarded[1] - 100.0) * alias)) < 0.01


def test_noise_is_as_large_as_asked_and_rises_below_half_a_hertz():
    """Above 5 Hz the density is that of white noise of this SD; at 0.25 Hz it is three times that.

    Oracle: by construction, 1 + 0.5 / f. Tolerance: 5 % above 5 Hz (about 90,000 lines); 15 % around 0.25 Hz (1,000).
    """
    sensor = Sensor(sampling_hz=100.0, noise_mmhg=0.2, quantum_mmhg=0.0)
    _, seen = sensor.record(np.random.default_rng(2), np.full(2_000_001, 50.0))
    power = np.abs(np.fft.rfft(seen - 50.0)) ** 2 / seen.size
    frequency = np.fft.rfftfreq(seen.size, 0.01)
    fast, slow = (frequency > 10.0), (frequency > 0.225) & (frequency < 0.275)
    assert power[fast].mean() == pytest.approx(0.04, rel=0.05)
    assert power[slow].mean() / 0.04 == pytest.approx(3.0, rel=0.15)


def test_rounding_leaves_whole_steps():
    """Every sample is a multiple of the quantum.

    Oracle: by construction. Tolerance: rounding of the division.
    """
    sensor = Sensor(sampling_hz=100.0, noise_mmhg=0.3, quantum_mmhg=0.073)
    _, seen = sensor.record(np.random.default_rng(2), np.linspace(100.0, 60.0, 5001))
    assert seen / 0.073 == pytest.approx(np.round(seen / 0.073), abs=1e-6)
    assert sensor.sample_sd_mmhg == pytest.approx(np.hypot(0.3, 0.073 / np.sqrt(12.0)))


def test_impossible_sensors_are_refused():
    """Rates outside 50 to 1000 a second raise with a remedy.

    Oracle: by construction.
    """
    with pytest.raises(ParameterError, match="give 50 to 1000"):
        Sensor(sampling_hz=20.0, noise_mmhg=0.0, quantum_mmhg=0.0)
