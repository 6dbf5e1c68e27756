"""What is said while the pressure falls: each remark provoked, and not where nothing is wrong."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from engine.live.streams import RATE_HZ, codes, finished, inflation, watched
from engine.recordings import CAT, Array, line, ride, whole_course
from quietlimb.engine.live import Moment, Watch
from quietlimb.simulator import SimulatedRecording, simulate_recording

FAMILIES = ("double exponential", "arctangent", "skewed arctangent", "tube law")


def shaken(pressure: Array, from_s: float, to_s: float, height_mmhg: float = 5.0) -> Array:
    """The stream with a movement of 4 Hz on it."""
    time = np.arange(pressure.size) / RATE_HZ
    moving = (time >= from_s) & (time < to_s)
    return pressure + np.where(moving, height_mmhg * np.sin(2.0 * np.pi * 4.0 * time), 0.0)


def said(moments: list[Moment], code: str) -> list[tuple[float, dict[str, float]]]:
    """When a code was said, and with which numbers."""
    return [
        (moment.time_s, dict(remark.numbers)) for moment in moments for remark in moment.remarks if remark.code == code
    ]


def simulated(made: SimulatedRecording) -> list[Moment]:
    """The moments of a simulated recording, fed by tenths of a second."""
    watch, whole = Watch(CAT), made.recording
    piece = round(whole.sampling_rate_hz / 10.0)
    return [
        watch.add(whole.time_s[k : k + piece], whole.cuff_pressure_mmhg[k : k + piece])
        for k in range(0, whole.time_s.size, piece)
    ]


def test_a_whole_quiet_deflation_brings_enough_and_nothing_else():
    """A calm inflation to well above the pulses and a fall to well below them.

    Oracle: by construction.
    """
    moments = watched(inflation(stop_mmhg=40.0))
    assert codes(moments) == {"enough"}
    (ended,) = finished(moments)
    assert ended.reading is not None
    assert ended.reading.verdict == "keep"


def test_a_movement_is_told_at_once_and_then_no_more():
    """A second of movement is told within a second, with how long it has lasted, and ends.

    Oracle: by construction. Two seconds later are enough for what is remembered (0.6 s) and what a sign holds (0.7 s).
    """
    told = said(watched(shaken(inflation(), 12.0, 13.0)), "limb-moving")
    assert 12.0 < told[0][0] < 13.0
    assert told[-1][0] < 14.6
    assert 0.3 <= told[-1][1]["seconds"] < 2.0


def test_a_movement_of_two_to_three_seconds_ends_the_reading():
    """Motion of 4 s: first that the limb moves, then, from 2 to 3 s of it on, that it moved too long; that stays, and
    takes the place of the other, and of enough.

    Oracle: common practice, 2 to 3 s of continued motion end a reading.
    """
    moments = watched(shaken(inflation(stop_mmhg=40.0), 12.0, 16.0))
    first, numbers = said(moments, "limb-moved-too-long")[0]
    assert 14.0 < first < 15.5
    assert 2.0 <= numbers["seconds"] <= 3.0
    after = [moment for moment in moments if moment.time_s >= first and moment.phase == "deflating"]
    assert all(moment.remarks[0].code == "limb-moved-too-long" for moment in after)
    assert not codes(after) & {"limb-moving", "enough"}


def test_the_time_of_a_movement_is_told_as_past_once_it_has_ended():
    """Motion from 12 to 18 s: it counts on while the limb moves; a second and a half later it is past, and the time
    stands.

    Oracle: by construction. Tolerance: 1 s, as a sign holds 0.7 s and begins up to 0.6 s late.
    """
    told = said(watched(shaken(inflation(stop_mmhg=40.0), 12.0, 18.0)), "limb-moved-too-long")
    assert all(numbers["goes_on"] for at_s, numbers in told if at_s < 18.0)
    past = [numbers for at_s, numbers in told if at_s > 19.6]
    assert past
    assert not any(numbers["goes_on"] for numbers in past)
    assert len({numbers["seconds"] for numbers in past}) == 1
    assert past[0]["seconds"] == pytest.approx(6.0, abs=1.0)


@pytest.mark.parametrize(("seed", "settings"), [(11, {"systolic": 160.0}), (3111, {})])
def test_the_clock_counts_on_while_the_limb_goes_on_moving(seed: int, settings: Any):
    """A limb that moves throughout: the time told never falls, and in the second half of the fall it is within 2 s of
    the time since the movement was first told, wherever it is told as still going on.

    Oracle: by construction, the scenario moves from beginning to end.
    """
    moments = simulated(simulate_recording(seed, scenario="sustained-motion", species="cat", **settings))
    began = said(moments, "limb-moving")[0][0]
    told = said(moments, "limb-moved-too-long")
    seconds = [numbers["seconds"] for _, numbers in told]
    assert seconds == sorted(seconds)
    late = [(at_s, numbers) for at_s, numbers in told if at_s > 0.5 * (told[0][0] + told[-1][0]) and numbers["goes_on"]]
    assert len(late) > 0.25 * len(told)
    assert all(numbers["seconds"] == pytest.approx(at_s - began, abs=2.0) for at_s, numbers in late)


@pytest.mark.parametrize("seed", [814_001, 814_002, 814_003])
def test_a_tail_that_wags_throughout_is_told_to_the_end(seed: int):
    """Told within a second and a half of the top, soon that it moves too long, and that to the last second of the fall:
    what the reader makes of it, pulses in an even rhythm, takes nothing back.

    Oracle: by construction, the scenario wags from beginning to end. Tolerance: on 24 other seeds the first word came
    within a second in 21 and within a second and a half in 22; where it comes later the wag is slow against the fall.
    """
    made = simulate_recording(seed, scenario="tail-wagging", sampling_hz=100.0)
    top, dump = made.truth.deflation_s
    moments = [moment for moment in simulated(made) if top < moment.time_s < dump - 1.0]
    told = [moment.time_s for moment in moments if codes([moment]) & {"limb-moving", "limb-moved-too-long"}]
    assert told[0] < top + 1.5
    assert all(time in told for time in (moment.time_s for moment in moments if moment.time_s > top + 1.5))


def test_a_slow_wagging_that_hardly_rises_against_the_fall_is_told_on_the_way():
    """A swing of 1.2 mmHg to either side, once a second, under a fall of 7 mmHg a second, hardly ever rises.
    It is told when the cuff has fallen by some 60 mmHg, and then to the end. An artery's pulses under the same fall,
    begun amid the highest, are not.

    Oracle: by construction.
    """
    base = line(190.0, 50.0, 7.0, RATE_HZ)
    time = np.arange(base.size) / RATE_HZ
    noise = 0.02 * np.random.default_rng(7).normal(size=base.size)
    moments = watched(whole_course(base + 1.2 * np.sin(2.0 * np.pi * 1.0 * time) + noise, RATE_HZ))
    falling = [moment for moment in moments if moment.phase == "deflating"]
    first = said(falling, "limb-moving")[0][0]
    reached = next(moment.pressure_mmhg for moment in falling if moment.time_s == first)
    assert 100.0 < reached < 135.0
    assert "limb-moving" not in codes(watched(inflation(start_mmhg=122.0, stop_mmhg=40.0, mmhg_per_s=4.0)))


def test_a_limb_that_moves_throughout_is_to_be_let_go_even_where_its_rises_become_usual():
    """Whoever waits for it to hold still waits in vain: before the fall ends the air is to be let out.

    Oracle: by construction, the scenario moves from beginning to end. Tolerance: one of six, which the reader too takes
    for a load; on 50 other seeds of two other families, on which the rule was set, 50 were told.
    """
    told = [
        "limb-moved-too-long" in codes(simulated(simulate_recording(seed, scenario="sustained-motion")))
        for seed in range(815_001, 815_007)
    ]
    assert sum(told) >= 5


@pytest.mark.parametrize(("scenario", "least", "most"), [("limb-loaded", 5, 6), ("undisturbed", 0, 0)])
def test_a_limb_that_is_loaded_gets_a_word_and_a_calm_one_none(scenario: str, least: int, most: int):
    """A load is told as one, as a limb that moves on, or as no artery, before the cuff is empty.

    Oracle: by construction. Tolerance: one of six, which empties in 6 s. The rules were set on other seeds, where 12 of
    16 loaded limbs were told as such.
    """
    told = [
        codes(simulated(simulate_recording(seed, scenario=scenario)))
        & {"cuff-pressed", "limb-moved-too-long", "no-artery-yet"}
        for seed in range(817_001, 817_007)
    ]
    assert least <= sum(map(bool, told)) <= most


def test_what_presses_on_the_cuff_is_told_as_that():
    """Look after look finds pulses that drown in a load.

    Oracle: by construction.
    """
    assert "cuff-pressed" in codes(simulated(simulate_recording(817_003, scenario="limb-loaded")))


@pytest.mark.parametrize("seed", [816_001, 816_002, 816_003])
def test_an_empty_cuff_has_no_pulses_and_is_told(seed: int):
    """Noise is not counted as pulses, and some 60 mmHg below the top it is said that there is no artery.

    Oracle: by construction, there is no limb in the cuff. Tolerance: a few counted in between, as chance has it: under
    5 in more than a second. The rule was set on other seeds.
    """
    moments = simulated(simulate_recording(seed, scenario="empty-cuff"))
    counts = [moment.pulses_counted for moment in moments if moment.pulses_counted is not None]
    assert sum(count > 0 for count in counts) <= 20
    assert said(moments, "no-artery-yet")[0][1]["fallen_mmhg"] < 80.0


def test_an_artery_that_comes_late_is_not_missed():
    """From well above the first pulse nothing is said of a missing artery, for it comes.

    Oracle: by construction.
    """
    assert "no-artery-yet" not in codes(watched(inflation(start_mmhg=190.0)))


def test_a_movement_of_a_second_does_not_end_the_reading():
    """Two movements of a second, seconds apart, are not one of two seconds.

    Oracle: by construction.
    """
    assert "limb-moved-too-long" not in codes(watched(shaken(shaken(inflation(), 9.0, 10.0), 14.0, 15.0)))


def test_a_movement_well_below_the_diastolic_pressure_does_not_end_the_reading():
    """Once all is known and the cuff is far below, 4 s of motion change nothing.

    Oracle: by construction: the pulses of the bell end at some 70 mmHg, and here the cuff falls to 20.
    """
    pressure = inflation(stop_mmhg=20.0)
    assert "limb-moved-too-long" not in codes(watched(shaken(pressure, pressure.size / RATE_HZ - 6.0, 1e9)))


def test_a_fall_too_fast_for_the_pulse_is_told():
    """At 14 mmHg a second, pulses of 1 s: 14 mmHg from pulse to pulse. Pulses of 0.4 s bear the same fall.

    Oracle: by construction; the limit is that of the finding on the finished recording, 12 mmHg a pulse.
    """
    base = line(230.0, 30.0, 14.0, RATE_HZ)

    def at(period_s: float) -> Array:
        feet = np.arange(0.13, base.size / RATE_HZ, period_s)
        return whole_course(ride(base, RATE_HZ, feet, lambda cuff: 0.0 * cuff + 1.0, period_s)[0], RATE_HZ)

    told = said(watched(at(1.0)), "falling-too-fast")
    assert told
    assert told[0][1]["mmhg_per_s"] == pytest.approx(14.0, abs=1.5)
    assert "falling-too-fast" not in codes(watched(at(0.4)))


@pytest.mark.parametrize("seed", [11, 3112])
def test_of_a_cuff_that_is_almost_empty_no_fall_is_too_fast(seed: int):
    """Falls of 40 mmHg a second and more are told, and of the last 20 mmHg nothing is said of the valve.

    Oracle: by construction, over 12 mmHg a pulse; invented, 20 mmHg. The pressure shown lags by a tenth of a second.
    """
    told = [
        remark.at_mmhg
        for moment in simulated(simulate_recording(seed, scenario="fast-deflation", species="cat"))
        for remark in moment.remarks
        if remark.code == "falling-too-fast"
    ]
    assert told
    assert all(at is not None and at >= 20.0 for at in told)


def test_the_dump_after_a_fall_that_was_too_fast_is_not_told():
    """At 14 mmHg a second and pulses of 1 s it is told on the way, and no more from 20 mmHg down.

    Oracle: by construction.
    """
    base = line(230.0, 3.0, 14.0, RATE_HZ)
    feet = np.arange(0.13, base.size / RATE_HZ, 1.0)
    pressure = whole_course(ride(base, RATE_HZ, feet, lambda cuff: 0.0 * cuff + 1.0, 1.0)[0], RATE_HZ)
    told = [
        moment.pressure_mmhg
        for moment in watched(pressure)
        for remark in moment.remarks
        if remark.code == "falling-too-fast"
    ]
    assert told
    assert min(told) > 18.0


def test_below_everything_known_a_fast_fall_is_enough():
    """At 15 mmHg a second and pulses of 0.9 s the fall is too fast while it matters; once all three are known, and it
    is 15 mmHg under the interval of the diastolic pressure, it is enough, and no more is said of the fall.

    Oracle: by construction; 13.5 mmHg from pulse to pulse is over the limit of 12, the band is that of a reading.
    """
    base = line(200.0, 25.0, 15.0, RATE_HZ)
    falling = ride(base, RATE_HZ, np.arange(0.13, base.size / RATE_HZ, 0.9))[0]
    noise = 0.02 * np.random.default_rng(7).normal(size=falling.size)
    moments = [each for each in watched(whole_course(falling + noise, RATE_HZ)) if each.phase == "deflating"]
    fast = said(moments, "falling-too-fast")
    assert fast
    known = [each for each in moments if each.reading is not None and each.reading.diastolic is not None]
    under = [
        each
        for each in known
        if each.reading is not None
        and each.reading.systolic is not None
        and each.reading.mean is not None
        and each.reading.diastolic is not None
        and each.pressure_mmhg < each.reading.diastolic.low - 20.0  # 5 more than the band: the level lags the number
    ]
    assert under
    assert all([remark.code for remark in each.remarks] == ["enough"] for each in under)
    assert fast[-1][0] <= under[0].time_s


def test_inflate_higher_is_told_where_the_start_was_below_the_systolic_pressure():
    """Started amid the large pulses: told while the pressure still falls, and when the cuff is empty, with 30 to 40
    mmHg above the estimate, in tens.

    Oracle: common practice, 30 to 40 mmHg above the systolic pressure.
    """
    moments = watched(inflation(start_mmhg=122.0, stop_mmhg=40.0, mmhg_per_s=4.0))
    told = said(moments, "inflate-higher")
    assert [moment.phase for moment in moments if moment.time_s == told[0][0]] == ["deflating"]
    assert said(moments[-1:], "inflate-higher")
    to_mmhg = told[-1][1]["to_mmhg"]
    assert to_mmhg % 10.0 == 0.0
    assert 160.0 <= to_mmhg <= 190.0


def test_above_300_mmhg_the_valve_is_to_be_opened():
    """Pumped to 310 mmHg it is told at once and, let down to 270, no more; at 290 and above it stays.

    Oracle: from memory of IEC 80601-2-30, 300 mmHg; the 10 mmHg until it goes are invented.
    """
    pressure = np.interp(
        np.arange(0.0, 20.0, 0.01), [0.0, 1.0, 8.0, 10.0, 13.0, 20.0], [0.0, 0.0, 310.0, 310.0, 270, 200]
    )
    told = said(watched(pressure), "valve-open-now")
    assert told[0][0] == pytest.approx(1.0 + 7.0 * 300.0 / 310.0, abs=0.3)
    assert told[-1][0] == pytest.approx(10.0 + 3.0 * 20.0 / 40.0, abs=0.3)
    assert len(told) == pytest.approx((told[-1][0] - told[0][0]) * 10.0 + 1.0, abs=1.5)


def held(seconds: float, at_mmhg: float = 150.0) -> Array:
    """Rest, a rise, pulses under a pressure that is held for so long, a dump. (n,) at 100 Hz"""
    base = np.full(round(seconds * RATE_HZ), at_mmhg)
    return whole_course(ride(base, RATE_HZ, np.arange(0.13, seconds, 0.4))[0], RATE_HZ)


def test_a_cuff_that_is_held_is_told_long_before_90_s():
    """Held at 150 mmHg for 80 s: told from 20 s on until it is let out, and nothing else; the valve is not yet to be
    opened. Held for 18 s nothing is said of it, nor in a fall of 1 mmHg a second.

    Oracle: invented, the 20 s; common practice, that a limb is squeezed no longer than needed. Tolerance: the 20 s
    begin when the rise has come within 5 to 10 mmHg of the top.
    """
    moments = watched(held(80.0))
    told = said(moments, "held-inflated")
    assert told[0][0] == pytest.approx(1.0 + 3.0 + 20.0, abs=0.5)
    assert told[0][1]["held_s"] == pytest.approx(20.0, abs=0.2)
    assert told[0][1]["pressure_mmhg"] == pytest.approx(150.0, abs=2.0)
    assert told[-1][0] == pytest.approx(84.0, abs=0.5)
    assert codes([moment for moment in moments if moment.phase != "emptied"]) == {"held-inflated"}
    assert "held-inflated" not in codes(watched(held(18.0)))
    assert "held-inflated" not in codes(watched(inflation(stop_mmhg=100.0, mmhg_per_s=1.0), piece=200))


def test_pulses_under_a_cuff_that_is_held_amid_them_do_not_end_the_reading():
    """Inflated to the pressure at which pulses are largest and held there, they are as high at first as later; that is
    no limb that moves too long.

    Oracle: by construction.
    """
    moments = watched(held(30.0, 110.0))
    assert "limb-moved-too-long" not in codes(moments)
    assert "held-inflated" in codes(moments)


def test_after_90_s_under_pressure_the_valve_is_to_be_opened():
    """A fall of 0.8 mmHg a second is told from 90 s on until the cuff is empty, and is the most urgent.

    Oracle: from memory of IEC 80601-2-30, 90 s for newborns.
    """
    moments = watched(inflation(start_mmhg=120.0, stop_mmhg=40.0, mmhg_per_s=0.8), piece=100)
    told = said(moments, "valve-open-now")
    assert told[0][1]["inflated_s"] == pytest.approx(90.5, abs=1.0)
    assert all(moment.remarks[0].code == "valve-open-now" for moment in moments if moment.time_s in dict(told))
    assert moments[-1].phase == "emptied"
    assert not said(moments[-1:], "valve-open-now")


def test_values_become_known_one_after_the_other():
    """The systolic pressure is known before the diastolic, and none before the top of the envelope was passed.

    Oracle: by construction, the fall goes from above to below; the envelope's top is at 110 mmHg.
    """
    moments = [moment for moment in watched(inflation(stop_mmhg=40.0)) if moment.phase == "deflating"]
    known = {
        name: [moment.pressure_mmhg for moment in moments if moment.reading and getattr(moment.reading, name)]
        for name in ("systolic", "mean", "diastolic")
    }
    assert all(known.values())
    assert known["systolic"][0] < 112.0
    assert known["diastolic"][0] < known["systolic"][0]


@pytest.mark.parametrize("k", range(8))
def test_a_quiet_animal_hears_of_no_motion_too_long(k: int):
    """Undisturbed simulated recordings of families that the engine does not contain bring no remark that ends them.

    Oracle: by construction, the scenario.
    """
    moments = simulated(simulate_recording(976_000 + k, family=FAMILIES[k % 4]))
    assert not codes(moments) & {"limb-moved-too-long", "inflate-higher", "recording-refused"}


def test_a_short_inflation_to_320_mmhg_is_told_twice():
    """While it is up, the valve is to be opened; once it is empty, that it cannot be read.

    Oracle: by construction.
    """
    short = np.concatenate((np.linspace(0.0, 320.0, 80), np.linspace(320.0, 0.0, 40), np.zeros(100)))
    moments = watched(short)
    assert said(moments, "valve-open-now")
    assert [remark.code for remark in moments[-1].remarks] == ["recording-refused"]
