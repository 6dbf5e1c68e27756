"""The fall of the cuff pressure."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from engine.judgement.examples import FALLING
from engine.recordings import deflation_of, steps
from quietlimb.engine.deflation import Deflation
from quietlimb.engine.judgement import course


def test_a_saturated_sensor_is_noted():
    """Time at the sensor's limit is noted with the highest pressure left; none, nothing.

    Oracle: by construction.
    """
    assert course.saturation_findings(FALLING) == ()
    (finding,) = course.saturation_findings(replace(FALLING, saturated_s=2.5))
    assert (finding.code, finding.severity) == ("saturated", "note")
    assert dict(finding.numbers) == {"seconds": 2.5, "at_mmhg": 180.0}


@pytest.mark.parametrize(("period_s", "fast"), [(2.3, False), (2.5, True)])
def test_deflation_too_fast(period_s: float, fast: bool):
    """More than 12 mmHg from pulse to pulse are too fast, with the figure.

    Oracle: invented limit, frozen. At 5 mmHg/s, 2.4 s a pulse.
    """
    found = course.pace_findings(FALLING, period_s)
    assert [f.code for f in found] == (["deflation-too-fast"] if fast else [])
    for finding in found:
        assert finding.numbers["mmhg_per_pulse"] == pytest.approx(FALLING.fall_mmhg_per_s * period_s)


def stepwise(leak_mmhg_per_s: float, count: int) -> Deflation:
    """Steps of 10 mmHg and 1.5 s with pulses of 1 mmHg, every 0.4 s, and a leak all the while."""
    base = steps(180.0, 180.0 - 10.0 * count, 10.0, 1.5, 200.0)
    time = np.arange(base.size) / 200.0
    opened = np.diff(base, prepend=base[0]) < 0.0
    pulses = 0.5 * np.sin(2.0 * np.pi * time / 0.4)
    return deflation_of(base - leak_mmhg_per_s * time + pulses, 200.0, opened)


@pytest.mark.parametrize(("leak", "told"), [(0.0, False), (0.35, False), (0.45, True), (3.0, True)])
def test_a_leak_on_level_stretches(leak: float, told: bool):
    """A loss of more than 0.4 mmHg/s between steps is noted with its size, whatever the pulses do.

    Oracle: by construction; the limit is invented, frozen. Tolerance: 2 %.
    """
    found = course.leak_findings(stepwise(leak, 10), 0.4)
    assert [(f.code, f.severity) for f in found] == ([("leak", "note")] if told else [])
    for finding in found:
        assert finding.numbers["mmhg_per_s"] == pytest.approx(leak, rel=0.02)


def test_a_leak_that_cannot_be_told():
    """A fall without steps, or with too few, says nothing of a leak.

    Oracle: by construction: a leak and a valve opened wider make the same fall; invented, five stretches at least.
    """
    assert course.leak_findings(FALLING, 0.4) == ()
    assert course.leak_findings(stepwise(3.0, 4), 0.4) == ()
    assert course.leak_findings(stepwise(3.0, 10), 1.6) == ()
