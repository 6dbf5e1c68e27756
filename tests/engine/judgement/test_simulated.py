"""Each finding on simulated recordings: what provokes it, and that quiet limbs do not.

The seeds are not those on which the limits were set, nor are the four families of the quiet limbs.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from engine.recordings import Array, made
from quietlimb.engine.findings import FINDING_CODES, Finding
from quietlimb.engine.reading import Reading, read
from quietlimb.simulator import SimulatedRecording, simulate_recording
from quietlimb.simulator.subjects import Settings

FAMILIES = ("double exponential", "arctangent", "skewed arctangent", "tube law")
QUIET = 48

# scenario, settings, and the least of 12 recordings that must show the finding
FAST = Settings(systolic=210.0, diastolic=120.0, pulse_rate=55.0, deflation="linear", deflation_mmhg_per_s=13.0)
PROVOKED: dict[str, tuple[str, Settings, int]] = {
    "limb-moved": ("repeated-motion", Settings(), 2),
    "limb-kept-moving": ("sustained-motion", Settings(), 5),
    "limb-loaded": ("limb-loaded", Settings(), 1),
    "systolic-side-missing": ("start-too-low", Settings(), 8),
    "diastolic-side-missing": ("cut-off", Settings(), 8),
    "weak-pulse": ("weak-pulse", Settings(), 1),
    "irregular-rhythm": ("atrial-fibrillation", Settings(), 6),
    "deflation-too-fast": ("undisturbed", FAST, 4),
    "vibration": ("purring", Settings(sampling_hz=200.0), 7),
    "vibration-alias": ("purring-alias", Settings(), 7),
    "leak": ("leak", Settings(deflation="steps"), 3),
    "cuff-loose": ("loose-cuff", Settings(), 1),
    "rate-doubled": ("alternans", Settings(), 1),
}


@cache
def quiet() -> tuple[tuple[SimulatedRecording, Reading], ...]:
    """Undisturbed recordings of the four families, and their readings."""
    simulated = [simulate_recording(974_000 + k, family=FAMILIES[k % 4]) for k in range(QUIET)]
    return tuple(zip(simulated, read([one.recording for one in simulated]), strict=True))


def shown(readings: list[Reading], code: str) -> list[Finding]:
    """The findings of this code."""
    return [finding for reading in readings for finding in reading.findings if finding.code == code]


@pytest.mark.parametrize("code", PROVOKED)
def test_it_is_provoked(code: str):
    """Of twelve recordings of the scenario at least so many show the finding.

    Oracle: by construction, the scenario. Tolerance: a share five points under that found on 48 other seeds
    brings fewer once in a thousand times. Where the number is small, the finding is seen in a part of the cases only.
    """
    scenario, settings, least = PROVOKED[code]
    simulated = [
        simulate_recording(972_000 + k, scenario=scenario, family=FAMILIES[k % 4], **settings) for k in range(12)
    ]
    assert len(shown(read([one.recording for one in simulated]), code)) >= least


@pytest.mark.parametrize("step", [0.9, 1.2])
def test_steps_as_large_as_the_pulse_are_told(step: float):
    """Steps of 0.9 and 1.2 mmHg under pulses of 1 mmHg are told as such, and as no weak pulse or moving limb.

    Oracle: by construction, the sensor. Tolerance: two of twelve, where scatter is larger than a step; on 16 other
    seeds 16 and 15 were told, or no pulse was found at all.
    """
    settings = Settings(quantum_mmhg=step, peak_height_mmhg=1.0)
    simulated = [simulate_recording(973_000 + k, family=FAMILIES[k % 4], **settings) for k in range(12)]
    readings = read([one.recording for one in simulated])
    without = [one for one in readings if not shown([one], "coarse-steps") and not shown([one], "no-pulse")]
    assert len(without) <= 2
    assert all(reading.verdict == "discard" for reading in readings)


@pytest.mark.parametrize("code", FINDING_CODES)
def test_a_quiet_limb_does_not_show_it(code: str):
    """Of 48 undisturbed recordings at most three show the finding; small pulses, at most seven.

    Oracle: by construction, the scenario. Tolerance: on other seeds at most 1.5 % showed any, and 4 % small pulses:
    more than that come less than once in a hundred times.
    """
    assert len(shown([reading for _, reading in quiet()], code)) <= (7 if code == "cuff-loose" else 3)


def test_a_quiet_limb_is_kept():
    """Of 48 undisturbed recordings at least 43 are kept.

    Oracle: by construction. Tolerance: 97 % were, so that fewer come once in three hundred times.
    """
    assert sum(reading.verdict == "keep" for _, reading in quiet()) >= 43


def test_the_size_of_a_leak():
    """A leak found on steps is the true one, less what air that warms after each step hides.

    Oracle: by construction. Tolerance: 1 mmHg/s below, for steps of 15 mmHg of which 8 % come back within a
    second; 0.5 above, for the tube's lag on short steps.
    """
    simulated = [
        simulate_recording(973_000 + k, scenario="leak", deflation="steps", family=FAMILIES[k % 4]) for k in range(8)
    ]
    off = [
        finding.numbers["mmhg_per_s"] - one.truth.leak_mmhg_per_s
        for one in simulated
        for finding in read(one.recording).findings
        if finding.code == "leak"
    ]
    assert len(off) >= 4
    assert min(off) > -1.0
    assert max(off) < 0.5


def test_dicrotic_waves_that_were_counted():
    """Where waves were counted as pulses and the rate is double, it is doubted more often than not.

    Oracle: by construction: 40 pulses a minute, which on other seeds were counted double in one of five recordings.
    """
    simulated = [simulate_recording(975_000 + k, scenario="slow-pulse", family=FAMILIES[k % 4]) for k in range(24)]
    readings = read([one.recording for one in simulated])
    double = [r for r in readings if r.pulse_rate is not None and r.pulse_rate.value > 70.0]
    right = [r for r in readings if r.pulse_rate is not None and r.pulse_rate.value < 45.0]
    assert len(shown(right, "rate-doubled")) <= 2
    assert len(shown(double, "rate-doubled")) >= len(double) / 2.0


def test_an_envelope_with_two_peaks():
    """Pulses that grow, shrink and grow again while the cuff empties have two peaks, and make doubtful.

    Oracle: by construction: a bell of 22 mmHg with a deep dent of 8 mmHg at its middle.
    """

    def heights(cuff: Array) -> Array:
        bell = np.exp(-0.5 * ((cuff - 115.0) / 22.0) ** 2)
        return np.asarray(bell * (1.0 - 0.9 * np.exp(-0.5 * ((cuff - 115.0) / 8.0) ** 2)))

    reading = read(made(heights=heights, noise_mmhg=0.02, mmhg_per_s=4.0).recording)
    assert reading.verdict == "doubtful"
    assert [f.severity for f in shown([reading], "two-peaked")] == ["doubt"]


def test_a_drift_cannot_be_told_but_the_interval_holds_it():
    """One deflation meets systolic and diastolic pressure once each, so a drift between them looks like another pulse
    pressure; the 95 % intervals hold the mean of the reading all the same.

    Oracle: by construction: a drift of 4 to 10 mmHg. Tolerance: of 40 systolic and 40 diastolic pressures at least 33
    each, which 95 % intervals miss once in a thousand times; kept ones only, of which there are 36 at least.
    """
    simulated = [simulate_recording(976_000 + k, scenario="pressure-drift", family=FAMILIES[k % 4]) for k in range(40)]
    pairs = [(one.truth, r) for one, r in zip(simulated, read([one.recording for one in simulated]), strict=True)]
    kept = [(truth, r) for truth, r in pairs if r.verdict == "keep"]
    assert len(kept) >= 36
    for name in ("systolic", "diastolic"):
        inside = [v.low <= getattr(truth, name) <= v.high for truth, r in kept if (v := getattr(r, name)) is not None]
        assert sum(inside) >= 33
