"""A limb that moves, or that something presses on."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.signal import savgol_filter

from engine.judgement.examples import CUFF, FALLING, train_of
from quietlimb.engine.findings import Severity
from quietlimb.engine.judgement import movement


@pytest.mark.parametrize(
    ("moved", "code", "severity"),
    [
        ((), None, None),
        ((30,), "limb-moved", "note"),
        ((22, 25, 28, 31, 34), "limb-moved", "note"),
        (tuple(range(16, 38, 2)), "limb-moved", "doubt"),
        ((24, 25, 26, 27, 28, 29), "limb-moved", "note"),
        ((24, 25, 26, 27, 28, 29, 30), "limb-kept-moving", "spoils"),
        ((5,), None, None),
    ],
)
def test_motion_by_how_much_and_how_long(moved: tuple[int, ...], code: str | None, severity: Severity | None):
    """Motion among the pulses that matter is noted; over a quarter of their time makes doubtful; 2.5 s on end spoils.

    Oracle: common practice: two to three seconds of continued motion end a reading; the quarter is invented. Pulses
    every 0.4 s: six are 2.4 s, seven 2.8 s; the band 84 to 151 mmHg holds 33 of 2 mmHg each, so a quarter is nine.
    """
    train = train_of(set_aside=dict.fromkeys(moved, "limb-moved"), cuff=CUFF)
    found = movement.motion_findings(train, peak_mmhg=1.2, band=(84.0, 151.0))
    assert [(f.code, f.severity) for f in found] == ([] if code is None else [(code, severity)])
    for finding in found:
        assert finding.numbers["seconds"] == pytest.approx(0.4 * len(moved))
        assert finding.at_s == pytest.approx(0.4 * moved[0])
        assert finding.at_mmhg == CUFF[moved[0]]


def test_motion_in_most_of_the_band_spoils():
    """Where more than half of the time that matters is disturbed, the reading is spoiled even without a long stretch.

    Oracle: invented limit, frozen: two pulses in three, every third quiet.
    """
    moved = {k: "limb-moved" for k in range(15, 46) if k % 3}
    train = train_of(set_aside=moved)
    (finding,) = movement.motion_findings(train, peak_mmhg=1.2, band=(89.0, 151.0))
    assert (finding.code, finding.severity) == ("limb-kept-moving", "spoils")
    assert finding.numbers["share"] == pytest.approx(2.0 / 3.0, abs=0.05)


@pytest.mark.parametrize(("wander", "severity"), [(0.22, None), (0.3, "doubt"), (0.5, "spoils")])
def test_a_loaded_limb(wander: float, severity: Severity | None):
    """A level that wanders beside the fall by more than 0.25 mmHg makes doubtful, by more than 0.38 spoils.

    Oracle: by construction: a sine of 1 Hz lies within 0.707 of its height for half of its time; a mean over one pulse
    of 0.25 s leaves 0.900 of it, the quadratic over 4 s takes out -0.049. Tolerance of the number: 2 %, for its ends.
    """
    height = wander / (0.707 * 0.900 * 1.049)
    pressure = FALLING.pressure + height * np.sin(2.0 * np.pi * FALLING.time_s)
    found = movement.load_findings(replace(FALLING, pressure=pressure), 0.25, peak_mmhg=1.0)
    assert [(f.code, f.severity) for f in found] == ([("limb-loaded", severity)] if severity else [])
    for finding in found:
        assert finding.numbers["wander_mmhg"] == pytest.approx(wander, rel=0.02)


def test_pulses_and_steps_are_no_load():
    """Pulses of 2 mmHg are averaged away, and steps are not taken for a load.

    Oracle: by construction.
    """
    pulses = np.sin(2.0 * np.pi * FALLING.time_s / 0.25)
    assert movement.load_findings(replace(FALLING, pressure=FALLING.pressure + pulses), 0.25, peak_mmhg=2.0) == ()
    height = np.floor(FALLING.time_s)
    opened, steps = np.diff(height, prepend=0.0) > 0.0, 180.0 - 10.0 * height
    stepwise = replace(FALLING, kind="stepwise", pressure=steps + pulses, valve_open=opened)
    assert opened.sum() > 10
    assert movement.load_findings(stepwise, 0.25, peak_mmhg=2.0) == ()


def test_a_pulse_goes_on_under_a_step():
    """A valve that opens into the same part of every pulse hides that part, which is no load; a load is found.

    Oracle: by construction: steps 1.125 s apart, four and a half pulses of 0.25 s, each 0.06 s long; 2 mmHg of load.
    """
    time = FALLING.time_s
    since = np.mod(time, 1.125)
    opened = (since < 0.06) & (time > 0.5)
    pulses = 1.5 * np.maximum(np.sin(2.0 * np.pi * time / 0.25), -0.2)
    steps = 180.0 - 9.0 * np.cumsum(opened / opened[time < 1.6].sum())
    still = replace(FALLING, kind="stepwise", pressure=steps + pulses, valve_open=opened)
    assert movement.load_findings(still, 0.25, peak_mmhg=1.8) == ()
    loaded = replace(still, pressure=still.pressure + np.sin(2.0 * np.pi * time / 3.0))
    assert [f.code for f in movement.load_findings(loaded, 0.25, peak_mmhg=1.8)] == ["limb-loaded"]


@pytest.mark.parametrize("seconds", [12, 600])
def test_quadratics_by_running_totals(seconds: int):
    """The smooth fall is that of the filter of Savitzky and Golay, in a recording of ten minutes too.

    Oracle: reference library, scipy.signal.savgol_filter of SciPy 1.17. Tolerance: running totals of squared places
    lose digits as a recording grows; a millionth of the least wander that matters.
    """
    rng, m = np.random.default_rng(8), 400
    level = 180.0 - 0.15 * np.arange(200 * seconds) / 200.0 + rng.normal(size=200 * seconds)
    smooth = savgol_filter(level, 2 * m + 1, 2)[m:-m]
    np.testing.assert_allclose(movement._quadratics(level, m), smooth, atol=3e-7)
