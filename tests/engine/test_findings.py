"""Findings and verdicts."""

from __future__ import annotations

import itertools

import pytest

from quietlimb.engine.findings import FINDING_CODES, Finding, Severity, verdict_of

_ORDER: tuple[Severity, ...] = ("note", "doubt", "spoils")


@pytest.mark.parametrize("severities", [c for n in range(4) for c in itertools.product(_ORDER, repeat=n)])
def test_the_worst_severity_decides(severities: tuple[Severity, ...]):
    """No findings or notes keep, one doubt makes doubtful, one that spoils makes discard, whatever else there is.

    Oracle: by construction, the meaning of the three severities, for every combination of up to three.
    """
    findings = tuple(Finding(code="one-reading-only", severity=severity) for severity in severities)
    worst = max((_ORDER.index(severity) for severity in severities), default=0)
    assert verdict_of(findings) == ("keep", "doubtful", "discard")[worst]


@pytest.mark.parametrize("code", FINDING_CODES)
def test_a_finding_carries_just_its_numbers(code: str):
    """Each code takes the numbers listed beside it, and neither fewer nor others.

    Oracle: by construction.
    """
    numbers = dict.fromkeys(FINDING_CODES[code], 1.0)
    assert dict(Finding(code=code, severity="note", numbers=numbers).numbers) == numbers
    with pytest.raises(AssertionError, match=code):
        Finding(code=code, severity="note", numbers={**numbers, "other": 1.0})
    if numbers:
        with pytest.raises(AssertionError, match=code):
            Finding(code=code, severity="note")


def test_an_unknown_code_cannot_be_found():
    """A code that is not in the list is a mistake in the program.

    Oracle: by construction.
    """
    with pytest.raises(KeyError, match="no-such-thing"):
        Finding(code="no-such-thing", severity="note")
