"""Pairs from a cuff and an artery on one clock."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from quietlimb.agreement.arterial_trace import arterial_trace
from quietlimb.agreement.pair_rows import QUANTITIES, Pressures
from quietlimb.agreement.synchrony import Read, TwoChannels, determine
from quietlimb.agreement.window_rule import Rule
from quietlimb.engine.errors import ParameterError
from quietlimb.engine.recording import Recording
from quietlimb.simulator.catheter_line import CatheterLine
from quietlimb.simulator.recordings import SimulatedRecording, simulate_recording

LINE = CatheterLine(natural_hz=60.0, damping=0.6)


def two_channels(
    made: SimulatedRecording, *, line: CatheterLine | None = None, flushes_s: tuple = (), later_s: float = 0.0
) -> TwoChannels:
    """The simulated recording with what was in its artery."""
    pressure = made.arterial_mmhg if line is None else line.tells(made.arterial_mmhg, 1000.0, flushes_s)
    time = np.arange(pressure.size) / 1000.0 + later_s
    return TwoChannels(recording=made.recording, artery=arterial_trace(time[::4], pressure[::4]))


def reads(made: SimulatedRecording, bias: float) -> Read:
    """A method that tells the truth and a bias."""
    truth = made.truth

    def read(_recording: Recording) -> tuple[Pressures, float | None]:
        told = {name: getattr(truth, name) + bias for name in QUANTITIES}
        return Pressures(**told), truth.pulse_rate

    return read


@pytest.fixture(scope="module")
def made() -> list[SimulatedRecording]:
    """Four cats."""
    return [simulate_recording(seed, species="cat") for seed in (101, 102, 103, 104)]


@pytest.mark.parametrize("bias", [0.0, -12.0, 7.5])
def test_a_bias_that_was_put_in_comes_back(made: list[SimulatedRecording], bias: float) -> None:
    """A method that errs by so much is told to err by so much, in all three pressures.

    Oracle: by construction, the simulator's truth over the deflation. Tolerance: 0.3 mmHg, for a beat at the edge.
    """
    for each in made:
        found = determine(two_channels(each), reads(each, bias), Rule())
        assert found.failed is None
        for name in QUANTITIES:
            assert found.tested.of(name) - found.reference.of(name) == pytest.approx(bias, abs=0.3)


def test_a_flush_within_the_window_spoils_only_its_beats(made: list[SimulatedRecording]) -> None:
    """The flush of a line is judged and does not pass for a pressure.

    Oracle: by construction. Tolerance: beats that are left out, of an animal that breathes.
    """
    each = made[0]
    middle = float(np.mean(each.truth.deflation_s))
    plain = determine(two_channels(each, line=LINE), reads(each, 0.0), Rule())
    found = determine(two_channels(each, line=LINE, flushes_s=((middle, middle + 1.0),)), reads(each, 0.0), Rule())
    assert plain.line is not None
    assert found.line is not None
    assert (plain.line.dynamics, found.line.dynamics) == ("not tested", "adequate")
    assert found.beats < plain.beats
    for name in QUANTITIES:
        assert found.reference.of(name) == pytest.approx(plain.reference.of(name), abs=1.5)


def test_clocks_that_differ_are_laid_together(made: list[SimulatedRecording]) -> None:
    """Told that the artery's clock is late, the same beats are taken.

    Oracle: by construction.
    """
    each = made[1]
    plain = determine(two_channels(each), reads(each, 0.0), Rule())
    late = determine(two_channels(each, later_s=3.0), reads(each, 0.0), Rule(later_s=3.0))
    assert late.reference.systolic == pytest.approx(plain.reference.systolic, abs=1e-9)
    assert late.beats == plain.beats


@pytest.mark.parametrize("window", ["before", "after", "around"])
def test_other_windows_lie_outside_the_deflation(window: str) -> None:
    """Windows before and after hold the beats that lie there and no others.

    Oracle: by construction, a recording with half a minute of rest at either end.
    """
    each = simulate_recording(105, species="dog", pulse_rate=110.0)
    rest, recording = 30.0, each.recording
    step = 1.0 / recording.sampling_rate_hz
    still = np.full(int(rest / step), float(recording.cuff_pressure_mmhg.min()))
    from quietlimb.engine.recording import recording as recording_of

    pressure = np.concatenate([still, recording.cuff_pressure_mmhg, still])
    padded = recording_of(np.arange(pressure.size) * step, pressure, recording.circumstances)
    time = np.arange(0.0, pressure.size * step, 0.005)
    beat = 100.0 + 20.0 * np.sin(2.0 * np.pi * 110.0 / 60.0 * time) + 10.0 * (time > rest + each.truth.deflation_s[1])
    two = TwoChannels(recording=padded, artery=arterial_trace(time, beat))
    found = determine(two, reads(each, 0.0), Rule(window=window, seconds=10.0))
    expected = {"before": 120.0, "after": 130.0, "around": 125.0}[window]
    assert found.reference.systolic == pytest.approx(expected, abs=0.5)
    assert found.beats == pytest.approx({"around": 36}.get(window, 18), abs=2)


def _no_pressure(_recording: Recording) -> tuple[Pressures, float | None]:
    return Pressures(), None


def _another_pulse(_recording: Recording) -> tuple[Pressures, float | None]:
    return Pressures(systolic=150.0), 20.0


@pytest.mark.parametrize(
    ("read", "rule", "failed", "code"),
    [
        (_no_pressure, Rule(), "tested", "tested-failed"),
        (_another_pulse, Rule(), "reference", "pulses-differ"),
        (_another_pulse, Rule(window="before", seconds=1.0), "reference", "few-beats"),
        (_no_pressure, Rule(window="before", seconds=1.0), "both", "tested-failed"),
    ],
)
def test_a_side_that_gives_nothing_says_why(
    made: list[SimulatedRecording], read: Callable, rule: Rule, failed: str, code: str
) -> None:
    """What failed keeps its place, with a reason.

    Oracle: by construction.
    """
    found = determine(two_channels(made[2]), read, rule)
    assert found.failed == failed
    assert code in {reason.code for reason in found.reasons}


def test_an_impossible_rule_is_refused() -> None:
    """A window or a number that means nothing.

    Oracle: by construction.
    """
    for options in ({"window": "sometime"}, {"seconds": 0.0}, {"fewest_beats": 0}, {"later_s": float("nan")}):
        with pytest.raises(ParameterError):
            Rule(**options)
