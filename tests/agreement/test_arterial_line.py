"""Zero, level and fast flush of an arterial line."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import signal

from agreement.arterial_traces import simulated
from quietlimb.agreement.arterial_line import (
    REGION,
    REGION_RATE,
    FlushResponse,
    dynamics,
    find_flushes,
    flush_response,
    judge_line,
    systolic_error,
)
from quietlimb.agreement.arterial_trace import arterial_trace
from quietlimb.engine.errors import ParameterError
from quietlimb.simulator.catheter_line import CatheterLine

FLUSH = ((10.0, 11.0),)


def response(natural_hz: float, damping: float) -> FlushResponse:
    """A response without a flush."""
    return FlushResponse(ended_s=0.0, natural_hz=natural_hz, damping=damping)


def test_simulated_lines_are_found_from_their_flush() -> None:
    """Natural frequency and damping that were put in come back, with a cat's pulse on top.

    Oracle: by construction, a second-order system. Tolerance: 5 % and 0.03 in nine of ten, what one flush under a
    pulse leaves open; none is off by a third.
    """
    errors = []
    for seed in (31, 32, 33):
        for natural_hz in (8.0, 12.0, 20.0, 30.0):
            for damping in (0.1, 0.2, 0.4):
                line = CatheterLine(natural_hz=natural_hz, damping=damping)
                trace, _ = simulated(seed, line=line, flushes_s=FLUSH, rate_hz=250.0)
                ((_, ended_s),) = find_flushes(trace)
                assert ended_s == pytest.approx(11.0, abs=0.05)
                found = flush_response(trace, ended_s)
                errors.append((abs(found.natural_hz / natural_hz - 1.0), abs(found.damping - damping)))
    assert (np.percentile(errors, 90, axis=0) <= (0.05, 0.03)).all()
    assert (np.max(errors, axis=0) < (0.33, 0.33)).all()


@pytest.mark.parametrize("seed", [21, 22, 23])
def test_a_line_that_is_damped_too_much_is_told_so(seed: int) -> None:
    """A line with hardly any swing is known for one.

    Oracle: by construction. Tolerance: 0.2, for what hardly swings tells little.
    """
    trace, _ = simulated(seed, line=CatheterLine(natural_hz=15.0, damping=0.9), flushes_s=FLUSH)
    assert flush_response(trace, find_flushes(trace)[0][1]).damping > 0.7


def test_the_textbooks_flush_gives_its_figures() -> None:
    """Peaks 1.7 mm apart at 25 mm/s, each 0.71 as high as the one before, are 14.7 Hz and a damping of 0.11.

    Oracle: as quoted, a worked figure of an anaesthesia textbook (Anesthesia, 6th ed., figure 32-11). Tolerance: half
    of the last printed digit of the damping; of the frequency also what the damping makes of it, under 1 %.
    """
    time = np.arange(0.0, 6.0, 0.002)
    swing = np.cos(2.0 * np.pi * (25.0 / 1.7) * (time - 1.0)) * 0.71 ** (2.0 * (25.0 / 1.7) * (time - 1.0))
    pressure = np.where(time < 1.0, 300.0, 90.0 + 210.0 * swing)
    found = flush_response(arterial_trace(time, pressure), 1.0)
    assert found.natural_hz == pytest.approx(14.7, rel=0.01)
    assert found.damping == pytest.approx(0.11, abs=0.005)


def test_without_an_oscillation_nothing_is_told() -> None:
    """A pressure that jumps about after the flush is refused with a remedy.

    Oracle: by construction.
    """
    time = np.arange(0.0, 6.0, 0.005)
    noise = np.random.default_rng(3).normal(0.0, 40.0, time.size)
    pressure = np.where(time < 1.0, 300.0, 90.0 + noise)
    with pytest.raises(ParameterError, match="no dying oscillation"):
        flush_response(arterial_trace(time, pressure), 1.0)


def test_a_pulse_is_no_flush() -> None:
    """A trace without a flush has none, and one that is too short has none either.

    Oracle: by construction.
    """
    trace, _ = simulated(4, line=None)
    assert find_flushes(trace) == ()
    short, _ = simulated(4, line=CatheterLine(natural_hz=40.0, damping=0.6), flushes_s=((10.0, 10.05),))
    assert find_flushes(short) == ()


@pytest.mark.parametrize(
    ("natural_hz", "damping", "pulse_rate", "expected"),
    [
        (20.0, 0.4, 80.0, "adequate"),
        (12.0, 0.1, 80.0, "rings too much"),
        (15.0, 0.9, 80.0, "damped too much"),
        (6.0, 0.55, 80.0, "too slow"),
        (14.0, 0.5, 118.0, "adequate"),
        (14.0, 0.5, 236.0, "too slow"),  # twice the pulse, half the natural frequency counts
    ],
)
def test_the_region_is_looked_up_at_the_pulse(
    natural_hz: float, damping: float, pulse_rate: float, expected: str
) -> None:
    """The printed region, its natural frequency brought down for a faster pulse.

    Oracle: from memory, the figure of Gardner 1981; derived for the fast pulse.
    """
    assert dynamics(response(natural_hz, damping), pulse_rate) == expected
    assert dynamics(None, pulse_rate) == "not tested"


def test_the_region_narrows_to_slow_lines() -> None:
    """A slower line is allowed less, at the ends of a band that holds the ideal damping of about 0.6.

    Oracle: from memory, the form of the figure.
    """
    least = [row[1].value for row in REGION]
    most = [row[2].value for row in REGION]
    assert least == sorted(least, reverse=True)
    assert most == sorted(most)
    assert all(low <= 0.6 <= high for low, high in zip(least, most, strict=True))
    assert {row[0].standing for row in REGION} == {"from memory"} == {REGION_RATE.standing}


def test_the_systolic_error_is_that_of_a_filter() -> None:
    """What a ringing line adds to the systolic pressure is what a filter adds to the same beats.

    Oracle: reference library, scipy 1.x, `signal.lsim` on steady beats. Tolerance: 0.3 mmHg of its sampling.
    """
    found = systolic_error(response(15.0, 0.2), 140.0, 90.0, 180.0)
    phase = np.arange(0.0, 12.0, 1.0 / 400.0) % 1.0
    shape = np.where(phase < 0.2, np.sin(0.5 * np.pi * phase / 0.2), np.exp(-3.0 * (phase - 0.2)))
    beat = 90.0 + 50.0 * (shape - shape.min()) / np.ptp(shape)
    w = 2.0 * np.pi * 15.0
    time = np.arange(beat.size) / 400.0 / 3.0
    _, told, _ = signal.lsim(([w**2], [1.0, 0.4 * w, w**2]), beat - beat[0], time)
    assert found == pytest.approx(float(told[beat.size // 2 :].max() + beat[0]) - 140.0, abs=0.3)
    assert found > 2.0
    assert abs(systolic_error(response(60.0, 0.6), 140.0, 90.0, 180.0)) < 0.7


def test_faults_are_named_in_order() -> None:
    """Zero, level and flush, off or not told; an offset is told and not subtracted.

    Oracle: by construction, and a centimetre of saline: 1005 kg/m3 by 9.80665 m/s2, 133.322 Pa a mmHg (derived).
    """
    common = {"systolic": 140.0, "diastolic": 90.0, "pulse_rate": 180.0}
    good = judge_line(zero_mmhg=0.5, below_heart_cm=0.0, response=response(45.0, 0.5), **common)
    assert good.faults == ()
    bad = judge_line(zero_mmhg=3.0, below_heart_cm=10.0, response=response(12.0, 0.1), **common)
    assert bad.faults == ("zero-off", "level-off", "flush-rings-too-much")
    assert bad.offset_mmhg == pytest.approx(3.0 + 10.0 * 1005.0 * 9.80665 / 100.0 / 133.322, abs=0.01)
    unknown = judge_line(zero_mmhg=None, below_heart_cm=None, response=None, **common)
    assert unknown.faults == ("zero-not-told", "level-not-told", "flush-not-tested")
    assert unknown.systolic_error_mmhg is None
