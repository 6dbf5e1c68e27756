"""The plain script that the engine's speed is measured against has to read a recording, or it is no yardstick."""

from __future__ import annotations

import importlib.util
import math
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

from engine.recordings import ABOVE_MMHG, BELOW_MMHG, PEAK_AT_MMHG, made, whole_course

SCRIPT = Path(__file__).resolve().parents[2] / "benchmarks" / "plain_script.py"


@pytest.fixture(scope="module")
def plain_script() -> ModuleType:
    """The script as a module; benchmarks are no package."""
    spec = importlib.util.spec_from_file_location("plain_script", SCRIPT)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.mark.parametrize("rate_hz", [50.0, 100.0, 500.0])
def test_an_undisturbed_recording(plain_script: ModuleType, rate_hz: float) -> None:
    """Inflation, straight fall and dump: the pressures are where the bell has its peak, 0.55 and 0.82 of it.

    Oracle: derived, by hand from the Gaussian; the pulses come every 0.4 s. Tolerance: 3 mmHg, for the smoothing over
    4 mmHg and for pulses 2 mmHg apart; 2 % of the rate.
    """
    deflation = made(rate_hz=rate_hz, noise_mmhg=0.02).recording.cuff_pressure_mmhg
    pressure = whole_course(deflation, rate_hz)
    found = plain_script.read_plainly(np.arange(pressure.size) / rate_hz, pressure)
    assert found.systolic == pytest.approx(PEAK_AT_MMHG + ABOVE_MMHG * math.sqrt(-2.0 * math.log(0.55)), abs=3.0)
    assert found.mean == pytest.approx(PEAK_AT_MMHG, abs=3.0)
    assert found.diastolic == pytest.approx(PEAK_AT_MMHG - BELOW_MMHG * math.sqrt(-2.0 * math.log(0.82)), abs=3.0)
    assert found.pulse_rate == pytest.approx(150.0, rel=0.02)
