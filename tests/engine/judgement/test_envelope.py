"""The envelope and its fit."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from engine.judgement.examples import CUFF, bell_fit, oscillogram_at, train_of
from engine.recordings import bell
from quietlimb.engine.findings import Severity
from quietlimb.engine.judgement import envelope
from quietlimb.engine.methods.artery_fit import fit_artery
from quietlimb.engine.oscillogram import find_oscillogram


@pytest.mark.parametrize(("noise_share", "severity"), [(0.68, None), (1.18, "doubt"), (2.16, "spoils")])
def test_heights_without_an_envelope(noise_share: float, severity: Severity | None):
    """Heights of one size with scatter are no envelope; an envelope that stands out of its scatter passes.

    Oracle: by construction: every other height is off by a share of the heights' own SD about their mean, up or down.
    With v that SD squared the fit explains v and leaves share squared times v: the evidence is 56 over share squared
    (61 heights less 5 parameters), so 121, 40 and 12 against the invented limits of 60 and 25.
    """
    calm, fit = oscillogram_at(), bell_fit()
    heights = fit.envelope(calm.cuff_pressure_mmhg)
    away = noise_share * heights.std() * np.where(np.arange(61) % 2, 1.0, -1.0)
    found = envelope.envelope_findings(fit, replace(calm, height_mmhg=heights + away))
    assert [(f.code, f.severity) for f in found] == ([("no-envelope", severity)] if severity else [])


@pytest.mark.parametrize(
    ("own", "shared", "wide"),
    [(7.0, 10.0, False), (7.2, 0.0, True), (3.0, 15.0, False), (3.0, 15.1, True)],
)
def test_wide_intervals(own: float, shared: float, wide: bool):
    """Half a 95 % interval over 14 mmHg by noise alone, or 30 mmHg in all, makes doubtful, for either value.

    Oracle: invented limits, frozen: SDs of 7.14 and 15.3 mmHg, the parts in quadrature.
    """
    found = envelope.fit_findings(bell_fit(own=own**2, shared=shared**2), oscillogram_at())
    expected = [("wide-interval", ("systolic",)), ("wide-interval", ("diastolic",))] if wide else []
    assert [(f.code, f.touches) for f in found] == expected
    for finding in found:
        assert finding.numbers["half_width_mmhg"] == pytest.approx(1.96 * np.hypot(own, shared), rel=1e-3)


@pytest.mark.parametrize(("by", "severity"), [(0.05, None), (0.12, "doubt"), (0.25, "spoils")])
def test_an_envelope_that_does_not_fit(by: float, severity: Severity | None):
    """Heights missed by more than 0.08 of the peak make doubtful, by more than 0.16 spoil, where the misfit agrees.

    Oracle: invented limits, frozen. Every other height is higher, the others lower, by the share given.
    """
    oscillogram = oscillogram_at()
    away = by * oscillogram.peak_mmhg * np.where(np.arange(61) % 2, 1.0, -1.0)
    rough = replace(oscillogram, height_mmhg=bell(CUFF) + away)
    found = envelope.fit_findings(replace(bell_fit(), misfit=2.0), rough)
    assert [(f.code, f.severity) for f in found] == ([("poor-fit", severity)] if severity else [])
    assert envelope.fit_findings(replace(bell_fit(), misfit=1.5), rough) == ()


@pytest.mark.parametrize(("dent", "severity"), [(0.0, None), (0.5, None), (0.65, "note"), (0.9, "doubt")])
def test_an_envelope_with_two_peaks(dent: float, severity: Severity | None):
    """A dip of more than 0.15 of the peak between two peaks is noted, of more than 0.3 makes doubtful.

    Oracle: by construction: a bell with a dent at its middle, 115 mmHg; the peaks lie on both sides. The limits are
    invented, frozen. Tolerance: smoothing over 7 mmHg leaves about two thirds of the dent, so only its side of each
    limit is asked for.
    """
    heights = np.exp(-0.5 * ((CUFF - 115.0) / 22.0) ** 2) * (1.0 - dent * np.exp(-0.5 * ((CUFF - 115.0) / 8.0) ** 2))
    train = train_of()
    found = find_oscillogram(replace(train, pulses=replace(train.pulses, height_mmhg=heights)))
    assert found is not None
    judged = envelope.peak_findings(found[0])
    assert [(f.code, f.severity) for f in judged] == ([("two-peaked", severity)] if severity else [])
    for finding in judged:
        assert finding.at_mmhg == pytest.approx(115.0, abs=3.0)
        assert finding.numbers["lower_mmhg"] < 110.0 < 120.0 < finding.numbers["upper_mmhg"]


def test_two_peaks_in_scatter_are_none():
    """A dip that the scatter of the heights could make is not told.

    Oracle: invented limit, frozen: two and a half times the scatter.
    """
    heights = np.exp(-0.5 * ((CUFF - 115.0) / 22.0) ** 2) * (1.0 - 0.65 * np.exp(-0.5 * ((CUFF - 115.0) / 8.0) ** 2))
    for scatter, told in ((0.05, True), (0.09, False)):
        dented = replace(oscillogram_at(), height_mmhg=heights, scatter_mmhg=scatter)
        assert bool(envelope.peak_findings(dented)) is told


@pytest.mark.parametrize(("spread", "told"), [(0.0, False), (7.9, False), (8.1, True)])
def test_families_that_disagree(spread: float, told: bool):
    """Families more than 8 mmHg apart in the systolic pressure are noted; a bell has no families.

    Oracle: the reference's own limit, assumed there.
    """
    (fit,) = fit_artery([oscillogram_at()], [train_of()])
    found = envelope.family_findings(replace(fit, family_spread_mmhg=spread))
    assert [(f.code, f.severity, f.touches, dict(f.numbers)) for f in found] == (
        [("families-disagree", "note", ("systolic",), {"spread_mmhg": spread})] if told else []
    )
    assert envelope.family_findings(bell_fit()) == ()
