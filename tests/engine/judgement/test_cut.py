"""What is told of a recording that was cut off."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from quietlimb.engine.findings import Finding
from quietlimb.engine.judgement.cut import cut_findings
from quietlimb.engine.reading import read
from quietlimb.engine.recording import Cut, CutEnd, Recording
from quietlimb.simulator.recordings import simulate_recording

ABOVE = Finding(
    code="systolic-side-missing",
    severity="doubt",
    touches=("systolic",),
    numbers={"highest_mmhg": 120.0, "inflate_to_mmhg": 160.0},
)
BELOW = Finding(code="diastolic-side-missing", severity="spoils", touches=("diastolic",), numbers={"lowest_mmhg": 96.0})
START = Cut(at="start", by="sensor", pressure_mmhg=122.0)
END = Cut(at="end", by="sensor", pressure_mmhg=95.0)


def told(*cuts: Cut, top_passed: bool = True, missing: tuple[Finding, ...] = (ABOVE, BELOW)) -> list[tuple[str, ...]]:
    """Code, severity and what is touched, of each finding."""
    return [(one.code, one.severity, *one.touches) for one in cut_findings(cuts, missing, top_passed=top_passed)]


def test_a_cut_explains_the_flank_on_its_side():
    """It takes that finding's weight and what it touches; the other flank is told as before.

    Oracle: by construction.
    """
    assert told(END) == [("cut-below", "spoils", "diastolic"), ("systolic-side-missing", "doubt", "systolic")]
    assert told(START) == [("cut-above", "doubt", "systolic"), ("diastolic-side-missing", "spoils", "diastolic")]
    assert told(START, END) == [("cut-above", "doubt", "systolic"), ("cut-below", "spoils", "diastolic")]
    assert told(replace(END, by="capture"))[0] == ("capture-cut", "spoils", "diastolic")
    assert told() == [("systolic-side-missing", "doubt", "systolic"), ("diastolic-side-missing", "spoils", "diastolic")]


def test_a_cut_above_the_top_of_the_envelope_explains_both_flanks():
    """Where the largest pulses never came, nothing is known of how far to inflate.

    Oracle: by construction.
    """
    assert told(END, top_passed=False) == [("cut-below", "spoils", "systolic", "diastolic")]


def test_a_cut_that_took_nothing_is_a_note():
    """Both flanks are there: the cut is told, and changes nothing.

    Oracle: by construction.
    """
    assert told(START, END, missing=()) == [("cut-above", "note"), ("cut-below", "note")]


def part(whole: Recording, *, below: float = 400.0, above: float = -20.0, cuts: tuple[Cut, ...] = ()) -> Recording:
    """The fall between two cuff pressures."""
    top = int(np.argmax(whole.cuff_pressure_mmhg))
    falling = np.arange(whole.time_s.size) >= top
    first = int(np.flatnonzero(falling & (whole.cuff_pressure_mmhg < below))[0])
    last = int(np.flatnonzero(falling & (whole.cuff_pressure_mmhg > above))[-1])
    stretch = slice(first, last + 1)
    return replace(whole, time_s=whole.time_s[stretch], cuff_pressure_mmhg=whole.cuff_pressure_mmhg[stretch], cuts=cuts)


def a_recording(seed: int) -> Recording:
    """A whole deflation of an invented cat of 150/95 mmHg."""
    return simulate_recording(seed, species="cat", sampling_hz=200.0, systolic=150.0, diastolic=95.0).recording


@pytest.mark.parametrize("seed", [983_001, 983_002, 983_003])
@pytest.mark.parametrize("end", ["start", "end"])
def test_a_value_that_a_cut_took_is_not_given_and_nobody_is_blamed(seed: int, end: CutEnd):
    """Cut amid the large pulses: the values are those without the mark, the reason another.

    Oracle: by construction: a cat of 150/95 mmHg, cut at 125 mmHg; `read` of the same samples without the mark.
    """
    cut = Cut(at=end, by="sensor", pressure_mmhg=125.0)
    cut_off = part(a_recording(seed), cuts=(cut,), **({"below": 125.0} if end == "start" else {"above": 125.0}))
    reading, unmarked = read(cut_off), read(replace(cut_off, cuts=()))
    codes = {one.code for one in reading.findings}
    blaming = {"systolic-side-missing" if end == "start" else "diastolic-side-missing"}
    assert blaming <= {one.code for one in unmarked.findings}
    assert not codes & (blaming | {"cuff-loose"})
    assert ("cut-above" if end == "start" else "cut-below") in codes
    assert reading.verdict == unmarked.verdict
    for name in ("systolic", "mean", "diastolic", "pulse_rate"):
        assert getattr(reading, name) == getattr(unmarked, name)


def test_a_cut_below_everything_leaves_the_reading_as_it_is():
    """Cut at 60 mmHg, where all was seen: a note more, and the same verdict and values.

    Oracle: by construction; `read` of the same samples without the mark.
    """
    cut = Cut(at="end", by="sensor", pressure_mmhg=60.0)
    cut_off = part(a_recording(983_004), above=60.0, cuts=(cut,))
    reading, unmarked = read(cut_off), read(replace(cut_off, cuts=()))
    assert [one.code for one in reading.findings if one.severity == "note" and "cut" in one.code] == ["cut-below"]
    assert (reading.verdict, reading.diastolic) == (unmarked.verdict, unmarked.diastolic)
    assert reading.diastolic is not None


def test_a_cut_before_anything_could_be_read_is_told_first():
    """Cut 3 s after the top: whatever else is missing, the cut stands before it.

    Oracle: by construction.
    """
    whole = a_recording(983_005)
    top_s = float(whole.time_s[int(np.argmax(whole.cuff_pressure_mmhg))])
    until = whole.time_s < top_s + 3.0
    cut = Cut(at="end", by="sensor", pressure_mmhg=float(whole.cuff_pressure_mmhg[until][-1]))
    early = replace(whole, time_s=whole.time_s[until], cuff_pressure_mmhg=whole.cuff_pressure_mmhg[until], cuts=(cut,))
    reading = read(early)
    assert reading.verdict == "discard"
    assert reading.findings[0].code == "cut-below"
    assert len(reading.findings) > 1


def test_a_cut_just_after_the_top_does_not_ask_for_the_rest_of_the_fall():
    """Cut a second after the top there is no deflation: the cut is the reason, and spoils by itself.

    Oracle: by construction; `read` of the same samples without the mark.
    """
    whole = a_recording(983_006)
    until = int(np.argmax(whole.cuff_pressure_mmhg)) + 200
    cut = Cut(at="end", by="sensor", pressure_mmhg=float(whole.cuff_pressure_mmhg[until - 1]))
    early = replace(
        whole, time_s=whole.time_s[:until], cuff_pressure_mmhg=whole.cuff_pressure_mmhg[:until], cuts=(cut,)
    )
    assert "no-deflation" in [one.code for one in read(replace(early, cuts=())).findings]
    assert [(one.code, one.severity) for one in read(early).findings] == [("cut-below", "spoils")]
