"""Vibration, and its image at a slow sampling rate."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from engine.judgement.examples import FALLING
from engine.recordings import made, sampled
from quietlimb.engine.deflation import find_deflation
from quietlimb.engine.judgement.vibration import line_findings

AS_SAMPLED = sampled(FALLING.pressure, 200.0)


@pytest.mark.parametrize(
    ("frequency_hz", "amplitude", "seen"), [(25.0, 0.05, True), (27.0, 0.2, True), (15.0, 0.05, False)]
)
def test_a_purring_cat_is_noted(frequency_hz: float, amplitude: float, seen: bool):
    """A steady line of 21 to 27 Hz on a noisy fall is noted with frequency and amplitude; a tremor of 15 Hz is not it.

    Oracle: by construction; published for the range (purring 20.9 to 27.2 Hz, Schotz & Eklund 2011). Tolerance: 0.2 Hz,
    of which the spectrum has steps of 0.04; 10 % of the amplitude, for the noise under it.
    """
    fall = FALLING.pressure + 0.01 * np.random.default_rng(16).normal(size=FALLING.pressure.size)
    trembling = fall + amplitude * np.sin(2.0 * np.pi * frequency_hz * FALLING.time_s)
    assert line_findings(AS_SAMPLED, replace(FALLING, pressure=fall), 0.4) == ()
    found = line_findings(AS_SAMPLED, replace(FALLING, pressure=trembling), 0.4)
    assert [(f.code, f.severity) for f in found] == ([("vibration", "note")] if seen else [])
    for finding in found:
        assert finding.numbers["frequency_hz"] == pytest.approx(frequency_hz, abs=0.2)
        assert finding.numbers["amplitude_mmhg"] == pytest.approx(amplitude, rel=0.10)


@pytest.mark.parametrize("period_s", [0.25, 0.4, 0.6, 1.0])
@pytest.mark.parametrize("rate_hz", [50.0, 100.0, 500.0])
def test_harmonics_of_a_pulse_are_no_vibration(period_s: float, rate_hz: float):
    """Pulses without any noise have lines up to half the sampling rate, and are not taken for a vibration.

    Oracle: by construction.
    """
    quiet = made(period_s=period_s, rate_hz=rate_hz, mmhg_per_s=4.0).recording
    deflation = find_deflation(quiet)
    assert deflation is not None
    assert line_findings(quiet, deflation, period_s) == ()


@pytest.mark.parametrize(("frequency_hz", "seen_hz"), [(23.0, 23.0), (26.3, 23.7), (30.0, 20.0)])
def test_a_purr_sampled_too_slowly(frequency_hz: float, seen_hz: float):
    """At 50 samples a second a purr is seen at its own or its folded frequency, and its overtone is told.

    Oracle: by construction: a line of f above 25 Hz appears at 50 - f, its overtone of 2 f at |50 - 2 f|. Tolerance:
    0.2 Hz, of which the spectrum has steps of 0.04, and twice that for the overtone.
    """
    quiet = made(period_s=0.4, rate_hz=50.0, noise_mmhg=0.01).recording
    purr = 0.05 * np.sin(2.0 * np.pi * frequency_hz * quiet.time_s)
    for hum, codes in ((0.0 * purr, []), (purr, ["vibration-alias"])):
        hummed = sampled(quiet.cuff_pressure_mmhg + hum, 50.0)
        deflation = find_deflation(hummed)
        assert deflation is not None
        found = line_findings(hummed, deflation, 0.4)
        assert [f.code for f in found] == codes
        for finding in found:
            assert finding.severity == "note"
            assert finding.numbers["sampling_hz"] == pytest.approx(50.0)
            assert finding.numbers["frequency_hz"] == pytest.approx(seen_hz, abs=0.2)
            assert finding.numbers["looks_like_per_min"] == pytest.approx(
                60.0 * abs(50.0 - 2.0 * frequency_hz), abs=24.0
            )
