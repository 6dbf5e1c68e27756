"""A recording's course."""

from __future__ import annotations

import numpy as np
import pytest

from engine.recordings import CAT, Array, line, pulse, ride, sampled, steps, whole_course
from quietlimb.engine.deflation import DUMP_MMHG_PER_S, IDLE_MMHG, Deflation, find_deflation
from quietlimb.engine.recording import recording

RATES = [50.0, 100.0, 125.0, 200.0, 250.0, 1000.0]
PERIOD_S = 0.4
BLOCK_S = 0.1  # the course is told from medians over so long


def linear(rate_hz: float, start: float = 180.0, stop: float = 60.0, mmhg_per_s: float = 6.0) -> Array:
    """A straight fall with pulses."""
    base = line(start, stop, mmhg_per_s, rate_hz)
    return ride(base, rate_hz, np.arange(0.1, base.size / rate_hz, PERIOD_S))[0]


def stepwise(rate_hz: float, dwell_s: float = 1.3) -> Array:
    """Steps of 8 mmHg with pulses."""
    base = steps(180.0, 50.0, 8.0, dwell_s, rate_hz)
    return ride(base, rate_hz, np.arange(0.1, base.size / rate_hz, PERIOD_S))[0]


def found_in(pressure: Array, rate_hz: float) -> Deflation:
    """The deflation, which must be there."""
    deflation = find_deflation(sampled(pressure, rate_hz))
    assert deflation is not None
    return deflation


@pytest.mark.parametrize("rate_hz", RATES)
def test_a_linear_deflation_in_a_whole_course(rate_hz: float):
    """From rest, inflation, straight fall and dump, the fall alone is cut out, at any sampling rate.

    Oracle: by construction: it begins at 4 s and ends 20 s later. Tolerance: one block of 0.1 s at either end; the rate
    of fall within 1 %, because the last block counts as if it lay at its end.
    """
    deflation = found_in(whole_course(linear(rate_hz), rate_hz), rate_hz)
    assert deflation.kind == "linear"
    assert not deflation.valve_open.any()
    assert deflation.time_s[0] == pytest.approx(4.0, abs=BLOCK_S)
    assert deflation.time_s[-1] == pytest.approx(24.0, abs=BLOCK_S)
    assert deflation.fall_mmhg_per_s == pytest.approx(6.0, rel=0.01)
    assert deflation.began_in_recording
    assert deflation.saturated_s == 0.0


@pytest.mark.parametrize("rate_hz", RATES)
def test_a_stepwise_deflation_in_a_whole_course(rate_hz: float):
    """Steps are told from a straight fall, and every one of them is masked, with little else.

    Oracle: by construction: sixteen falls of 50 ms. Tolerance: two in three samples at least stay unmasked; a fall
    begins 50 ms before its level stretch does.
    """
    dwell = 1.3
    deflation = found_in(whole_course(stepwise(rate_hz, dwell), rate_hz), rate_hz)
    assert deflation.kind == "stepwise"
    assert deflation.fall_mmhg_per_s == pytest.approx(8.0 / dwell, rel=0.06)
    in_fall = 4.0 + dwell * np.arange(1, 17) - 0.025
    masked = np.interp(in_fall, deflation.time_s, deflation.valve_open)
    assert (masked == 1.0).all()
    in_level = 4.0 + dwell * np.arange(1, 17) + 0.5 * dwell
    assert not np.interp(in_level, deflation.time_s, deflation.valve_open).any()
    assert deflation.valve_open.mean() < 0.33


def test_what_follows_works_on_a_grid_fine_enough():
    """Slow recordings are put on a finer grid and fast ones on a coarser one, of 150 to 250 samples a second.

    Oracle: by construction, from the docstring of the module. Tolerance: rounding.
    """
    grid = {rate: found_in(whole_course(linear(rate), rate), rate) for rate in RATES}
    assert [grid[rate].rate_hz for rate in RATES] == pytest.approx([200.0, 200.0, 250.0, 200.0, 250.0, 250.0])
    assert [grid[rate].oversampled for rate in RATES] == pytest.approx([4.0, 2.0, 2.0, 1.0, 1.0, 1.0])
    for deflation in grid.values():
        np.testing.assert_allclose(np.diff(deflation.time_s), 1.0 / deflation.rate_hz, rtol=1e-9)


@pytest.mark.parametrize(("frequency_hz", "error"), [(1.0, 1e-9), (3.0, 1e-6), (5.0, 5e-5), (10.0, 6e-3)])
def test_values_put_between_follow_the_pulse(frequency_hz: float, error: float):
    """A sine in a recording of 50 a second comes out of the doubling as the same sine.

    Oracle: by construction. Tolerance: the error of Lagrange's rule on eight points, 35/2^15 of the eighth power of
    (angle from sample to sample), with room: 5 Hz is the fundamental of the fastest pulse.
    """
    rate_hz, amplitude = 50.0, 1.0
    time = np.arange(round(12.0 * rate_hz)) / rate_hz
    deflation = found_in(170.0 - 8.0 * time + amplitude * np.sin(2.0 * np.pi * frequency_hz * time), rate_hz)
    expected = 170.0 - 8.0 * deflation.time_s + amplitude * np.sin(2.0 * np.pi * frequency_hz * deflation.time_s)
    inner = slice(40, -40)
    np.testing.assert_allclose(deflation.pressure[inner], expected[inner], atol=2.0 * error)


def test_averaging_neighbours_keeps_time_and_pressure():
    """At 1000 a second, four neighbours become one at their mean time: a straight fall stays exactly where it was.

    Oracle: by construction. Tolerance: rounding.
    """
    rate_hz = 1000.0
    deflation = found_in(line(180.0, 60.0, 6.0, rate_hz), rate_hz)
    slope = 120.0 / (line(180.0, 60.0, 6.0, rate_hz).size - 1) * rate_hz
    np.testing.assert_allclose(deflation.pressure, 180.0 - slope * deflation.time_s, atol=1e-9)


def test_a_clock_that_jitters():
    """Samples taken at uneven, known times are laid on an even grid and show the same deflation.

    Oracle: by construction: the pressure at each jittered moment is that of the smooth course at that moment.
    Tolerance: 0.02 mmHg, the bend of the pulse between two samples 13 ms apart: 1.2 mmHg x (pi / 0.088 s)^2 / 2 x
    (13 ms)^2 / 8.
    """
    rate_hz, rng = 100.0, np.random.default_rng(3)
    time = np.arange(2000) / rate_hz + rng.uniform(-0.003, 0.003, 2000)

    def course(at: Array) -> Array:
        return np.asarray(180.0 - 6.0 * at + 1.2 * pulse(np.mod(at, PERIOD_S) / PERIOD_S))

    deflation = find_deflation(recording(time, course(time), CAT))
    assert deflation is not None
    assert deflation.kind == "linear"
    np.testing.assert_allclose(np.diff(deflation.time_s), 1.0 / deflation.rate_hz, rtol=1e-6)
    inner = slice(20, -20)
    np.testing.assert_allclose(deflation.pressure[inner], course(deflation.time_s)[inner], atol=0.02)


def test_a_hand_on_a_bulb():
    """An inflation in strokes that sag between them is not taken for the deflation.

    Oracle: by construction: nine strokes of 0.55 s after 1 s of rest, then 0.3 s at the top. Tolerance: two blocks.
    """
    rate_hz = 100.0
    stroke = [np.r_[np.linspace(k, k + 23.0, 25), np.linspace(k + 23.0, k + 20.0, 30)] for k in 20.0 * np.arange(9)]
    top = np.full(30, 180.0)
    pressure = np.concatenate((np.zeros(100), *stroke, top, linear(rate_hz), np.zeros(100)))
    deflation = found_in(pressure, rate_hz)
    assert deflation.time_s[0] == pytest.approx(1.0 + 9 * 0.55 - 0.3, abs=0.65)
    assert deflation.pressure[0] > 175.0
    assert (np.abs(np.diff(deflation.pressure)) < 1.0).all()
    assert deflation.began_in_recording


def test_a_file_that_begins_in_mid_deflation():
    """Without an inflation the deflation begins with the file, and says that its top was not seen.

    Oracle: by construction.
    """
    deflation = found_in(linear(100.0)[300:], 100.0)
    assert deflation.time_s[0] == 0.0
    assert not deflation.began_in_recording


def test_a_file_that_ends_before_the_dump():
    """Without a dump the deflation ends with the file, short of one unfinished block.

    Oracle: by construction.
    """
    pressure = whole_course(linear(100.0), 100.0)[: 400 + 1500]
    deflation = found_in(pressure, 100.0)
    assert pressure.size / 100.0 - deflation.time_s[-1] <= BLOCK_S + 0.01
    assert deflation.pressure[-1] == pytest.approx(pressure[-1], abs=1.0)


@pytest.mark.parametrize("rate_hz", [50.0, 100.0, 200.0])
def test_the_dump_is_left_out(rate_hz: float):
    """Nothing that falls as fast as a dump, and nothing near zero, is counted to the deflation.

    Oracle: by construction, the limits the module states. Tolerance: at most 8 mmHg of the dump's beginning may remain,
    in the block where it starts.
    """
    deflation = found_in(whole_course(linear(rate_hz), rate_hz), rate_hz)
    assert deflation.pressure.min() > 60.0 - 8.0
    assert deflation.pressure.min() > IDLE_MMHG
    before = deflation.pressure[: -round(BLOCK_S * deflation.rate_hz)]
    smooth = np.convolve(before, np.ones(20) / 20.0, mode="valid")
    assert (np.diff(smooth) * deflation.rate_hz > -DUMP_MMHG_PER_S).all()


@pytest.mark.parametrize("rate_hz", [50.0, 100.0, 125.0, 200.0, 250.0, 1000.0])
def test_a_sensor_at_its_limit(rate_hz: float):
    """Where the sensor stood at its highest value, the deflation begins after, and the time is told.

    Oracle: by construction: a fall from 300 at 8 mmHg/s is under 250 mmHg 6.25 s after 4 s, no pulse there, and the
    last 50 of 300 mmHg of an inflation of 3 s take 0.5 s. Tolerance: one block.
    """
    base = line(300.0, 60.0, 8.0, rate_hz)
    pressure = np.minimum(whole_course(ride(base, rate_hz, np.arange(0.1, 30.0, PERIOD_S))[0], rate_hz), 250.0)
    deflation = found_in(pressure, rate_hz)
    assert deflation.time_s[0] == pytest.approx(10.25, abs=BLOCK_S)
    assert deflation.saturated_s == pytest.approx(6.75, abs=BLOCK_S)
    assert deflation.pressure[0] < 250.0


def test_a_second_inflation_ends_the_deflation():
    """A cuff that is inflated again, to less than before, is read up to where the new inflation begins.

    Oracle: by construction: the fall ends at 24 s. Tolerance: two blocks.
    """
    pressure = np.concatenate((whole_course(linear(100.0), 100.0)[:2400], np.linspace(60.0, 150.0, 200)))
    deflation = found_in(pressure, 100.0)
    assert deflation.time_s[0] == pytest.approx(4.0, abs=BLOCK_S)
    assert deflation.time_s[-1] == pytest.approx(24.0, abs=2 * BLOCK_S)


def test_the_fall_from_the_highest_top_is_read():
    """After an inflation that was too low and a second, higher one, the second fall is the deflation.

    Oracle: by construction: its top comes 4 s + 70 / 6 s + 2 s after the begin. Tolerance: two blocks.
    """
    first = whole_course(linear(100.0, 180.0, 110.0), 100.0)[: 400 + 1167]
    pressure = np.concatenate((first, np.linspace(110.0, 200.0, 200), linear(100.0, 200.0)))
    deflation = found_in(pressure, 100.0)
    assert deflation.time_s[0] == pytest.approx(17.67, abs=2 * BLOCK_S)


@pytest.mark.parametrize(
    "pressure",
    [np.linspace(0.0, 180.0, 1000), 150.0 + np.sin(np.arange(1000) / 10.0), line(150.0, 131.0, 3.0, 100.0)],
    ids=["only rising", "level", "falling by 19 mmHg"],
)
def test_no_fall_no_deflation(pressure: Array):
    """A recording that does not fall by 20 mmHg has no deflation.

    Oracle: by construction.
    """
    assert find_deflation(sampled(pressure, 100.0)) is None


def test_a_second_inflation_broken_off_hides_nothing() -> None:
    """A file that ends in a higher second inflation still holds the first deflation.

    Oracle: by construction.
    """
    base = line(180.0, 60.0, 6.0, 100.0)
    first = whole_course(ride(base, 100.0, np.arange(0.1, 20.0, 0.4))[0], 100.0)[:2400]
    deflation = find_deflation(sampled(np.concatenate((first, np.linspace(60.0, 200.0, 200))), 100.0))
    assert deflation is not None
    assert deflation.pressure[0] == pytest.approx(180.0, abs=5.0)
    assert deflation.pressure[-1] < 70.0


def test_a_gap_is_known_and_may_hide_a_step():
    """Points of the grid inside a gap of 0.3 s are told as missing; in a fall by steps as an open valve too, in a
    straight one not. A pause of 0.06 s is none.

    Oracle: by construction. Tolerance: a point of the grid at either end.
    """
    for base, kind in ((steps(180.0, 60.0, 6.0, 1.0, 100.0), "stepwise"), (line(180.0, 60.0, 6.0, 100.0), "linear")):
        falling = ride(base, 100.0, np.arange(0.13, base.size / 100.0, 0.4))[0]
        whole = sampled(whole_course(falling, 100.0), 100.0)
        there = ~((whole.time_s > 10.0) & (whole.time_s < 10.3) | (whole.time_s > 12.0) & (whole.time_s < 12.06))
        deflation = find_deflation(recording(whole.time_s[there], whole.cuff_pressure_mmhg[there], CAT))
        assert deflation is not None
        assert deflation.kind == kind
        missing = deflation.time_s[deflation.missing]
        assert missing[0] == pytest.approx(10.0, abs=0.011)
        assert missing[-1] == pytest.approx(10.3, abs=0.011)
        assert missing.size == pytest.approx(0.3 * deflation.rate_hz, abs=2)
        assert deflation.valve_open[deflation.missing].all() == (kind == "stepwise")
