"""What cut a recording off, told in place of what it explains."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

from quietlimb.engine.findings import Finding, Severity
from quietlimb.engine.recording import Cut, CutBy, CutEnd

CODES: Final[Mapping[tuple[CutBy, CutEnd], str]] = {
    ("sensor", "start"): "cut-above",
    ("sensor", "end"): "cut-below",
    ("capture", "end"): "capture-cut",
}
_WORSE: Final[Mapping[Severity, int]] = {"note": 0, "doubt": 1, "spoils": 2}


def cut_findings(
    cuts: Sequence[Cut], missing: Sequence[Finding] = (), *, top_passed: bool = True
) -> tuple[Finding, ...]:
    """A finding on each cut, and those of the `missing` that no cut explains.

    A cut that explains a flank takes its weight and what it touches; one that explains none is a note. Whoever holds
    the valve is not told to inflate higher, or to empty further, for what the cut took.

    missing    : what `flank_findings` says, or that there is no deflation at all
    top_passed : whether the recording went through the top of the envelope; where it was cut before, nothing is known
                 of the flank above either
    """
    left = {finding.code: finding for finding in missing}
    told: list[Finding] = []
    for cut in cuts:
        explains = ["systolic-side-missing"] if cut.at == "start" or not top_passed else []
        explains += ["diastolic-side-missing", "no-deflation"] if cut.at == "end" else []
        explained = [left.pop(code) for code in explains if code in left]
        severities: list[Severity] = ["note", *(finding.severity for finding in explained)]
        told.append(
            Finding(
                code=CODES[cut.by, cut.at],
                severity=max(severities, key=_WORSE.__getitem__),
                touches=tuple(quantity for finding in explained for quantity in finding.touches),
                at_mmhg=cut.pressure_mmhg,
                numbers={"pressure_mmhg": cut.pressure_mmhg},
            )
        )
    return (*told, *left.values())
