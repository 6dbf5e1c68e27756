"""The cuff against the limb: its width, and how snugly it lies."""

from __future__ import annotations

from collections.abc import Mapping

from quietlimb.engine.circumstances import Circumstances, Species
from quietlimb.engine.findings import Finding
from quietlimb.engine.oscillogram import Oscillogram
from quietlimb.engine.standards.cuff_width import judge_width

# of the largest pulse: simulated, 4 in 100 undisturbed recordings show less, and 38 in 100 under a loose cuff
SMALL_MMHG: Mapping[Species, float] = {"cat": 0.30, "dog": 0.45}


def width_findings(circumstances: Circumstances) -> tuple[Finding, ...]:
    """Findings on the cuff's width against the limb's circumference, where both are told."""
    width, limb = circumstances.cuff_width_cm, circumstances.limb_circumference_cm
    if width is None or limb is None:
        return ()
    judged = judge_width(width, limb, circumstances.species)
    if judged.fit == "fits":
        return ()
    return (
        Finding(
            code="cuff-narrow" if "narrow" in judged.fit else "cuff-wide",
            severity="doubt" if judged.fit.startswith("far") else "note",
            numbers={"ratio": judged.ratio, "circumference_cm": limb, "width_cm": width},
        ),
    )


def snug_findings(oscillogram: Oscillogram, species: Species) -> tuple[Finding, ...]:
    """A note where the largest pulse is smaller than nearly all of this species show under a cuff that lies snug.

    A cuff that hangs loose reads high, and one recording can hardly tell: what is lost of the pressure on the way to
    the artery stretches the envelope by a tenth, which no other artery would need. Only the small pulses are seen.
    """
    peak = oscillogram.peak_mmhg
    if peak >= SMALL_MMHG[species]:
        return ()
    return (Finding(code="cuff-loose", severity="note", numbers={"peak_mmhg": peak}),)
