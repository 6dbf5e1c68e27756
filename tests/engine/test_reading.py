"""The reading: from a recording to pressures, verdict and findings."""

from __future__ import annotations

import math
import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from engine.recordings import (
    CAT,
    PEAK_AT_MMHG,
    Array,
    bell,
    line,
    made,
    ride,
    sampled,
    whole_course,
)
from quietlimb.engine.circumstances import Circumstances
from quietlimb.engine.errors import ParameterError, RecordingError
from quietlimb.engine.reading import METHODS, Method, Reading, read
from quietlimb.engine.recording import Recording, recording
from quietlimb.simulator import simulate_recording

QUIET = made(noise_mmhg=0.02).recording


def with_cuff(width_cm: float) -> Recording:
    """The quiet recording, taken with a cuff of this width on a limb of 10 cm."""
    return replace(
        QUIET, circumstances=Circumstances(species="cat", cuff_width_cm=width_cm, limb_circumference_cm=10.0)
    )


def moved(begin_s: float, end_s: float) -> Recording:
    """The quiet recording with a movement of 3 mmHg."""
    time = QUIET.time_s
    ramp = np.clip(np.minimum(time - begin_s, end_s - time) / 0.2, 0.0, 1.0)
    return sampled(QUIET.cuff_pressure_mmhg + 3.0 * ramp * np.sin(2.0 * np.pi * 4.3 * (time - begin_s)), 100.0)


def saturated() -> Recording:
    """A sensor that shows no more than 250 mmHg under a cuff at 300."""
    base = line(300.0, 60.0, 8.0, 200.0)
    ridden, _ = ride(base, 200.0, np.arange(0.1, base.size / 200.0, 0.4))
    return sampled(np.minimum(whole_course(ridden, 200.0), 250.0), 200.0)


def gapped(whole: Recording, *, from_s: float, to_s: float) -> Recording:
    """The recording without the samples between."""
    there = (whole.time_s <= from_s) | (whole.time_s >= to_s)
    return recording(whole.time_s[there], whole.cuff_pressure_mmhg[there], whole.circumstances)


# what provokes each finding, and the verdict that it leads to
PROVOKED: dict[str, tuple[Callable[[], Recording], str]] = {
    "no-deflation": (lambda: sampled(np.linspace(0.0, 180.0, 1000), 100.0), "discard"),
    "fall-not-read": (
        lambda: sampled(np.append(np.linspace(0.0, 180.0, 500), line(180.0, 5.0, 60.0, 100.0)), 100.0),
        "discard",
    ),
    "no-pulse": (lambda: sampled(line(180.0, 60.0, 5.0, 100.0), 100.0), "discard"),
    "few-pulses": (lambda: made(mmhg_per_s=30.0, period_s=0.6, noise_mmhg=0.01).recording, "discard"),
    "weak-pulse": (lambda: simulate_recording(0, scenario="empty-cuff").recording, "discard"),
    "systolic-side-missing": (lambda: made(start_mmhg=130.0, noise_mmhg=0.02).recording, "doubtful"),
    "diastolic-side-missing": (lambda: made(stop_mmhg=97.0, noise_mmhg=0.02).recording, "doubtful"),
    "limb-moved": (lambda: moved(14.0, 15.0), "keep"),
    "limb-kept-moving": (lambda: simulate_recording(0, scenario="sustained-motion").recording, "discard"),
    "saturated": (saturated, "keep"),
    "samples-missing": (lambda: gapped(QUIET, from_s=14.0, to_s=14.3), "keep"),
    "cuff-narrow": (lambda: with_cuff(2.0), "doubtful"),
    "cuff-wide": (lambda: with_cuff(4.5), "keep"),
}


def codes(reading: Reading) -> set[str]:
    """The codes of its findings."""
    return {finding.code for finding in reading.findings}


def numbers(reading: Reading) -> list[float]:
    """All its values, intervals and standard deviations, nan where a value is not given."""
    found = []
    for estimate in (reading.systolic, reading.mean, reading.diastolic, reading.pulse_rate):
        found += (
            [math.nan] * 5
            if estimate is None
            else [estimate.value, estimate.low, estimate.high, estimate.own_sd, estimate.shared_sd]
        )
    return found


def sound(reading: Reading) -> None:
    """Assert what must hold for any reading whatever."""
    pressures = (reading.diastolic, reading.mean, reading.systolic)
    for estimate in (*pressures, reading.pulse_rate):
        if estimate is not None:
            assert np.isfinite([estimate.value, estimate.low, estimate.high, estimate.own_sd, estimate.shared_sd]).all()
            assert estimate.own_sd >= 0.0
            assert estimate.shared_sd >= 0.0
            assert reading.verdict != "discard"
    given_values = [estimate.value for estimate in pressures if estimate is not None]
    assert given_values == sorted(given_values)
    if reading.systolic is None:
        assert reading.verdict != "keep"
        assert reading.findings
    for finding in reading.findings:
        assert np.isfinite(list(finding.numbers.values())).all()
    assert reading.evidence is not None
    assert np.isfinite(reading.evidence.envelope_height_mmhg).all()
    assert reading.evidence.envelope_height_mmhg.shape == reading.evidence.envelope_pressure_mmhg.shape


@pytest.mark.parametrize("from_s", [9.26, 9.4, 10.15])
def test_a_short_gap_over_a_step_is_survived(from_s: float):
    """Nothing for 0.3 s while the valve lets a step out, amid the largest pulses: the reading is kept, within 2 mmHg of
    the one without the gap, and the gap alone is told, as a note with its time, length and pressure.

    Oracle: by construction. Before, the step was drawn out over the gap and called a load upon the limb. Tolerance: two
    or three of some twenty pulses are lost; of 150 gaps in recordings of other seeds none moved a kept one by more.
    """
    whole = simulate_recording(621_029, sampling_hz=100.0).recording
    before, reading = read(whole), read(gapped(whole, from_s=from_s, to_s=from_s + 0.3))
    assert (before.verdict, reading.verdict) == ("keep", "keep")
    assert before.systolic is not None
    assert reading.systolic is not None
    assert reading.systolic.value == pytest.approx(before.systolic.value, abs=2.0)
    (finding,) = [one for one in reading.findings if one not in before.findings]
    assert (finding.code, finding.severity) == ("samples-missing", "note")
    assert finding.numbers["gaps"] == 1
    assert finding.numbers["seconds"] == pytest.approx(0.3, abs=0.02)
    assert finding.at_s == pytest.approx(from_s, abs=0.02)


def test_where_too_few_pulses_are_left_the_gap_is_told_first():
    """A fall in which too few pulses can be used, with a gap of 0.4 s: the gap spoils it too, and stands before the
    fall; without the gap nothing is said of one.

    Oracle: by construction.
    """
    whole = PROVOKED["few-pulses"][0]()
    assert "samples-missing" not in codes(read(whole))
    found = read(gapped(whole, from_s=1.0, to_s=1.4)).findings
    assert (found[0].code, found[0].severity) == ("samples-missing", "spoils")
    assert "few-pulses" in {finding.code for finding in found}


def test_a_pulse_in_a_gap_is_no_movement():
    """In a fall without steps the pulses of a gap are set aside for want of samples, and no limb is said to have moved.

    Oracle: by construction.
    """
    for from_s in (13.0, 13.1, 13.2, 13.3):
        reading = read(gapped(QUIET, from_s=from_s, to_s=from_s + 0.3))
        assert codes(reading) == {"samples-missing"}
        assert reading.evidence is not None
        assert reading.evidence.pulses is not None
        assert set(reading.evidence.pulses.set_aside) <= {"", "samples-missing", "odd-interval"}


@pytest.mark.parametrize("method", METHODS)
def test_an_undisturbed_recording(method: Method):
    """A clean recording is kept without any finding, with all four values, their intervals and the evidence.

    Oracle: by construction: the pulses come every 0.4 s and are largest at 110 mmHg. Tolerance: 0.5 % of the rate; the
    pressures lie on their own sides of the largest pulse.
    """
    reading = read(QUIET, method=method)
    assert reading.verdict == "keep"
    assert reading.findings == ()
    assert reading.method == method
    assert reading.systolic is not None
    assert reading.mean is not None
    assert reading.diastolic is not None
    assert reading.pulse_rate is not None
    assert reading.pulse_rate.value == pytest.approx(150.0, rel=0.005)
    assert reading.pulse_rate.unit == "/min"
    assert reading.diastolic.value < PEAK_AT_MMHG < reading.systolic.value
    sound(reading)
    for estimate in (reading.systolic, reading.mean, reading.diastolic):
        half = 1.959964 * math.hypot(estimate.own_sd, estimate.shared_sd)
        assert (estimate.low, estimate.high) == pytest.approx((estimate.value - half, estimate.value + half))
    evidence = reading.evidence
    assert evidence is not None
    assert evidence.recording is QUIET
    assert evidence.deflation_s == pytest.approx((0.0, 26.0), abs=0.2)
    assert evidence.pulses is not None
    assert (np.diff(evidence.envelope_pressure_mmhg) > 0.0).all()
    found = np.interp(110.0, evidence.envelope_pressure_mmhg, evidence.envelope_height_mmhg)
    assert found == pytest.approx(float(bell(np.array([110.0]))[0]), rel=0.05)


def test_fixed_ratios_of_a_made_recording():
    """The whole path finds where the bell has its peak and has fallen to 0.55 and to 0.82 of it.

    Oracle: derived, by hand from the Gaussian: 110 + 24 sqrt(-2 ln 0.55) and 110 - 18 sqrt(-2 ln 0.82). Tolerance:
    1 mmHg: pulses are drawn at their mid height, half a millimetre above the base.
    """
    reading = read(made().recording, method="fixed ratios")
    assert reading.systolic is not None
    assert reading.mean is not None
    assert reading.diastolic is not None
    assert reading.systolic.value == pytest.approx(110.0 + 24.0 * math.sqrt(-2.0 * math.log(0.55)), abs=1.0)
    assert reading.mean.value == pytest.approx(110.0, abs=1.0)
    assert reading.diastolic.value == pytest.approx(110.0 - 18.0 * math.sqrt(-2.0 * math.log(0.82)), abs=1.0)


def test_simulated_animals():
    """Undisturbed simulated recordings are nearly all kept, and their intervals nearly all hold the truth.

    Oracle: by construction, the simulator's truth, from artery families that the fit does not use. Tolerance: of
    20 recordings at least 17 are kept, and at least 14 intervals of the systolic and of the diastolic pressure hold the
    truth, which 95 % intervals miss once in three thousand times; no pulse rate is off by 5 %. The exact shares are
    the matter of the validation study.
    """
    simulated = [simulate_recording(7000 + seed, peak_height_mmhg=1.2) for seed in range(20)]
    readings = read([s.recording for s in simulated])
    assert sum(reading.verdict == "keep" for reading in readings) >= 17
    for name in ("systolic", "diastolic"):
        inside = [
            value.low <= getattr(s.truth, name) <= value.high
            for s, reading in zip(simulated, readings, strict=True)
            if (value := getattr(reading, name)) is not None
        ]
        assert len(inside) >= 17
        assert sum(inside) >= 14
    for s, reading in zip(simulated, readings, strict=True):
        if reading.pulse_rate is not None:
            assert reading.pulse_rate.value == pytest.approx(s.truth.pulse_rate, rel=0.05)


@pytest.mark.parametrize("code", PROVOKED)
@pytest.mark.parametrize("method", METHODS)
def test_each_finding_is_provoked(code: str, method: Method):
    """A recording with one thing wrong carries the finding about it and gets the verdict that follows.

    Oracle: by construction: each fault is put into a recording that without it has no finding.
    """
    make, verdict = PROVOKED[code]
    reading = read(make(), method=method)
    assert code in codes(reading)
    assert reading.verdict == verdict
    sound(reading)
    if verdict == "discard":
        assert all(math.isnan(number) for number in numbers(reading))
    elif code not in ("systolic-side-missing", "diastolic-side-missing"):
        assert codes(reading) == {code}


@pytest.mark.parametrize("method", METHODS)
def test_started_too_low(method: Method):
    """Without the upper flank there is no systolic pressure, at most a doubt, and the pressure to inflate to next.

    Oracle: by construction; common practice for 30 to 40 mmHg above, here above the highest pressure recorded, which
    is below the systolic one. Tolerance: an estimate above the record raises the target further.
    """
    reading = read(PROVOKED["systolic-side-missing"][0](), method=method)
    assert reading.systolic is None
    assert reading.verdict == "doubtful"
    assert reading.mean is not None
    assert reading.diastolic is not None
    (finding,) = (f for f in reading.findings if f.code == "systolic-side-missing")
    assert finding.numbers["highest_mmhg"] == pytest.approx(128.5, abs=2.0)
    assert finding.numbers["inflate_to_mmhg"] >= finding.numbers["highest_mmhg"] + 30.0
    assert finding.numbers["inflate_to_mmhg"] % 10.0 == 0.0


@pytest.mark.parametrize("method", METHODS)
def test_ended_too_early(method: Method):
    """Without the lower flank there is no diastolic pressure; the systolic one is still given.

    Oracle: by construction.
    """
    reading = read(PROVOKED["diastolic-side-missing"][0](), method=method)
    assert reading.diastolic is None
    assert reading.systolic is not None


def test_let_down_too_fast():
    """Twelve and more millimetres from pulse to pulse are too fast.

    Oracle: invented limit, frozen: 13 mmHg/s at a pulse a second.
    """
    reading = read(made(start_mmhg=240.0, stop_mmhg=30.0, mmhg_per_s=13.0, period_s=1.0, noise_mmhg=0.01).recording)
    assert "deflation-too-fast" in codes(reading)
    assert reading.verdict != "keep"


@pytest.mark.parametrize("method", METHODS)
def test_one_and_many_by_the_same_path(method: Method):
    """Recordings of any mixture read together give what each gives alone, those that cannot be read in their places.

    Oracle: a slower twin, one at a time. Tolerance: 0.02 mmHg, where each fit stops once a step gains next to nothing.
    """
    many = [simulate_recording(seed).recording for seed in (3, 4)]
    many += [QUIET, PROVOKED["no-deflation"][0](), PROVOKED["no-pulse"][0](), PROVOKED["few-pulses"][0]()]
    many += [PROVOKED["systolic-side-missing"][0](), saturated()]
    together = read(many, method=method)
    assert len(together) == len(many)
    for one, reading in zip(many, together, strict=True):
        alone = read(one, method=method)
        assert reading.evidence is not None
        assert reading.evidence.recording is one
        assert reading.verdict == alone.verdict
        assert [f.code for f in reading.findings] == [f.code for f in alone.findings]
        np.testing.assert_allclose(numbers(reading), numbers(alone), atol=0.02)


def test_none_at_all():
    """No recordings, no readings.

    Oracle: by construction.
    """
    assert read([]) == []


@pytest.mark.parametrize("method", METHODS)
def test_same_input_same_output(method: Method):
    """Reading twice gives the same numbers to the last bit.

    Oracle: by construction. Tolerance: none.
    """
    again = recording(QUIET.time_s.copy(), QUIET.cuff_pressure_mmhg.copy(), CAT)
    np.testing.assert_array_equal(numbers(read(QUIET, method=method)), numbers(read(again, method=method)))


def test_an_unknown_method_is_refused():
    """The error names the method and those that there are.

    Oracle: by construction.
    """
    with pytest.raises(ParameterError, match="no method 'guess'; use one of: artery fit, fixed ratios") as caught:
        read(QUIET, method="guess")  # type: ignore[call-overload]
    assert caught.value.code == "unknown-method"


@pytest.mark.parametrize("given", [3, None, "reading.csv", [QUIET, 3]])
def test_what_is_no_recording_is_refused(given: object) -> None:
    """A number, nothing, a name or a list with a stranger in it: a message that says what to give.

    Oracle: by construction.
    """
    with pytest.raises(ParameterError, match="is no recording; give a recording as") as caught:
        read(given)  # type: ignore[call-overload]
    assert caught.value.code == "not-a-recording"


def test_a_rise_alone_is_not_told_as_a_fall() -> None:
    """The number told is the greatest fall: 0 for a pressure that only rises.

    Oracle: by construction. Tolerance: none.
    """
    (finding,) = read(PROVOKED["no-deflation"][0]()).findings
    assert finding.numbers == {"fall_mmhg": 0.0}


@st.composite
def traces(draw: st.DrawFn) -> tuple[float, Array]:
    """Sampling rate, and a trace of 3 to 20 s within -20..350 mmHg that no cuff need ever have made."""
    rate_hz = draw(st.sampled_from([50.0, 100.0, 125.0, 200.0]))
    size = round(draw(st.floats(3.1, 20.0)) * rate_hz)
    rng = np.random.default_rng(draw(st.integers(0, 2**32)))
    time = np.arange(size) / rate_hz
    trend = np.linspace(draw(st.floats(-20.0, 350.0)), draw(st.floats(-20.0, 350.0)), size)
    match draw(st.sampled_from(["walk", "steps", "sine", "almost still", "spikes", "noise", "pulses"])):
        case "walk":
            shape = np.cumsum(rng.normal(0.0, draw(st.floats(0.01, 20.0)), size))
        case "steps":
            shape = np.repeat(rng.uniform(-150.0, 150.0, size // 10 + 1), 10)[:size]
        case "sine":
            shape = draw(st.floats(0.001, 100.0)) * np.sin(2.0 * np.pi * draw(st.floats(0.1, 30.0)) * time)
        case "almost still":
            shape = rng.normal(0.0, 1e-3, size)
        case "spikes":
            shape = np.where(rng.random(size) < 0.01, rng.uniform(-300.0, 300.0, size), 0.0)
        case "noise":
            shape = rng.normal(0.0, draw(st.floats(0.01, 30.0)), size)
        case _:
            height = draw(st.floats(0.05, 20.0))
            foot = np.arange(0.05, time[-1], draw(st.floats(0.2, 1.5)))
            shape = ride(np.zeros(size), rate_hz, foot, lambda cuff: np.full(cuff.size, height))[0]
    return rate_hz, np.clip(trend + shape, -20.0, 350.0)


@settings(max_examples=120, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow])
@given(trace=traces(), method=st.sampled_from(METHODS))
def test_no_trace_breaks_it(trace: tuple[float, Array], method: Method):
    """Whatever the trace, reading raises nothing; no value is nan; diastolic, mean and systolic come in this order;
    without a systolic pressure nothing is kept, and a discarded reading has no values.

    Oracle: by construction, what must hold for any reading. Tolerance: a division by 0 on the way is let pass as long
    as nothing of it reaches the reading; other warnings are errors.
    """
    rate_hz, pressure = trace
    try:
        made_up = sampled(pressure, rate_hz)
    except RecordingError:  # flat, or never above 45 mmHg
        return
    with np.errstate(divide="ignore", invalid="ignore"):
        sound(read(made_up, method=method))


def test_nothing_heavy_is_loaded_for_one_reading():
    """Reading a minute of pulses loads neither SciPy nor NumPy's masked arrays, which would double the time of a start.

    Oracle: by construction, the modules of a fresh interpreter after it. Its reading has a systolic pressure, so that
    the whole path was walked.
    """
    program = """
import sys
import numpy as np
from quietlimb.engine.circumstances import Circumstances
from quietlimb.engine.reading import read
from quietlimb.engine.recording import recording
time = np.arange(6000) / 100.0
base = np.linspace(185.0, 55.0, time.size)
height = np.exp(-0.5 * ((base - 110.0) / 22.0) ** 2)
pulses = height * np.sin(np.pi * (2.5 * time % 1.0)) ** 4 + 0.01 * np.random.default_rng(1).normal(size=time.size)
found = read(recording(time, base + pulses, Circumstances(species="cat")))
print(found.systolic is not None, *sorted({"scipy", "numpy.ma"} & set(sys.modules)))
"""
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert done.stdout.split() == ["True"]


def test_noise_beyond_the_clear_pulses_is_not_counted() -> None:
    """Where noise passes for pulses at both ends of the deflation, the rate is that of the pulses between.

    Oracle: by construction. Counted over the whole deflation, 18 of 23 were within 5 %, the worst 20 % too fast.
    """
    seeds = range(43_500_100, 43_500_124)
    made = [
        simulate_recording(seed, species="dog", family="skewed arctangent", peak_to_noise=8.0, deflation="linear")
        for seed in seeds
    ]
    told = [
        reading.pulse_rate.value / one.truth.pulse_rate
        for one, reading in zip(made, read([one.recording for one in made]), strict=True)
        if reading.pulse_rate is not None and one.truth.pulse_rate is not None
    ]
    assert len(told) >= 20
    assert sum(abs(ratio - 1.0) < 0.05 for ratio in told) >= len(told) - 2
    assert max(told) < 1.12
