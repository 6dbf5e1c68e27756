"""The line of a catheter in sentences."""

from __future__ import annotations

from dataclasses import replace
from typing import get_args

import pytest

from agreement.invented_rows import invented_rows
from quietlimb.agreement.arterial_line import ArterialLine, Dynamics, FlushResponse
from quietlimb.agreement.line_summary import summarise_lines
from quietlimb.words.arterial_line import LINE_FAULTS, line_fault_sentences, line_sentences


def line_of(dynamics: Dynamics, hz: float = 12.0) -> ArterialLine:
    """With a zero and a level that are off, and this response."""
    tested = dynamics != "not tested"
    return ArterialLine(
        zero_mmhg=4.0,
        below_heart_cm=10.0,
        response=FlushResponse(ended_s=None, natural_hz=hz, damping=0.1) if tested else None,
        pulse_rate=180.0,
        dynamics=dynamics,
        systolic_error_mmhg=6.0 if tested else None,
    )


@pytest.mark.parametrize("dynamics", get_args(Dynamics))
def test_every_fault_of_a_line_has_a_sentence(dynamics: Dynamics) -> None:
    """With its figures and with how many determinations have it; of a line without faults there is none.

    Oracle: by construction; 0.74 mmHg a cm of saline (derived).
    """
    rows = invented_rows(1, animals=2, readings=2)
    one = line_of(dynamics)
    told = [one, replace(one, zero_mmhg=6.0), replace(one, zero_mmhg=0.0, below_heart_cm=0.0), None]
    rows = replace(rows, rows=tuple(replace(row, line=line) for row, line in zip(rows.rows, told, strict=True)))
    found = summarise_lines(rows)
    assert found is not None
    sentences = line_fault_sentences(found)
    assert len(sentences) == len(one.faults)
    assert "2 of 4 determinations: the transducer says +4.0 to +6.0 mmHg" in sentences[0]
    assert "+10.0 cm" in sentences[1]
    assert "add +11.4 to +13.4 mmHg" in sentences[1]
    if dynamics != "adequate":
        assert "3 of 4" in sentences[2]
    if dynamics not in ("adequate", "not tested"):
        assert "12 Hz, damping 0.10, about +6 mmHg systolic" in sentences[2]
    assert f"in {1 if dynamics == 'adequate' else 0} of 4 determinations" in line_sentences(found)[-1]
    unknown = replace(one, zero_mmhg=None, below_heart_cm=None)
    rows = replace(rows, rows=tuple(replace(row, line=unknown) for row in rows.rows))
    found = summarise_lines(rows)
    assert found is not None
    assert len(line_fault_sentences(found)) == len(unknown.faults)
    assert {code for code in one.faults + unknown.faults} <= set(LINE_FAULTS)


def test_nothing_told_of_a_line_is_no_summary() -> None:
    """Pairs without a word of it.

    Oracle: by construction.
    """
    assert summarise_lines(invented_rows(1)) is None
