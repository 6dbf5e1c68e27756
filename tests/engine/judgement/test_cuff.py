"""The cuff against the limb."""

from __future__ import annotations

from dataclasses import replace

import pytest

from engine.judgement.examples import oscillogram_at
from quietlimb.engine.circumstances import Circumstances, Species
from quietlimb.engine.findings import Severity
from quietlimb.engine.judgement import cuff


@pytest.mark.parametrize(
    ("width", "code", "severity"),
    [
        (2.4, "cuff-narrow", "doubt"),
        (2.5, "cuff-narrow", "note"),
        (2.9, "cuff-narrow", "note"),
        (3.0, None, None),
        (4.0, None, None),
        (4.1, "cuff-wide", "note"),
        (5.0, "cuff-wide", "note"),
        (5.1, "cuff-wide", "doubt"),
    ],
)
def test_cuff_against_limb(width: float, code: str | None, severity: Severity | None):
    """On a limb of 10 cm, cuffs of 3 to 4 cm fit; beyond that is noted, under 2.5 or over 5 cm it makes doubtful.

    Oracle: from memory. 30 to 40 % by the ACVIM statement of 2018; 25 and 50 % in a clinical column, published. Limits
    as in the standard's own file.
    """
    found = cuff.width_findings(Circumstances(species="cat", cuff_width_cm=width, limb_circumference_cm=10.0))
    assert [(f.code, f.severity) for f in found] == ([] if code is None else [(code, severity)])
    for finding in found:
        assert dict(finding.numbers) == {"ratio": width / 10.0, "circumference_cm": 10.0, "width_cm": width}


def test_a_cuff_of_which_nothing_is_known():
    """Without width or circumference nothing is said about the cuff.

    Oracle: by construction.
    """
    assert cuff.width_findings(Circumstances(species="cat", cuff_width_cm=1.0)) == ()
    assert cuff.width_findings(Circumstances(species="cat", limb_circumference_cm=10.0)) == ()


@pytest.mark.parametrize(
    ("species", "peak", "small"), [("cat", 0.29, True), ("cat", 0.31, False), ("dog", 0.44, True), ("dog", 0.46, False)]
)
def test_small_pulses_may_be_a_loose_cuff(species: Species, peak: float, small: bool):
    """A largest pulse under 0.30 mmHg in a cat, 0.45 in a dog, is noted; more than that, nothing.

    Oracle: invented limits, frozen.
    """
    found = cuff.snug_findings(replace(oscillogram_at(), peak_mmhg=peak), species)
    assert [(f.code, f.severity, dict(f.numbers)) for f in found] == (
        [("cuff-loose", "note", {"peak_mmhg": peak})] if small else []
    )
