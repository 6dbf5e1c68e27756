"""Which flanks of the envelope the recording shows."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from engine.judgement.examples import bell_fit, oscillogram_at
from quietlimb.engine.judgement import flanks
from quietlimb.engine.judgement.flanks import Flanks


@pytest.mark.parametrize(
    ("high", "low", "systolic", "diastolic"),
    [(180.0, 60.0, True, True), (125.0, 60.0, False, True), (180.0, 105.0, True, False), (120.0, 105.0, False, False)],
)
def test_flanks_that_the_recording_shows(high: float, low: float, systolic: bool, diastolic: bool):
    """A flank is seen when the heights have fallen to half of the peak above it, or to 0.78 below.

    Oracle: by construction: the bell falls to half at 138.3 and to 0.78 at 97.3 mmHg.
    """
    cuff = np.arange(high, low, -1.5)
    fit = bell_fit(min(136.0, high + 9.0), max(99.0, low - 9.0))
    seen = flanks.flanks(oscillogram_at(cuff), fit, from_mmhg=high, to_mmhg=low)
    assert (seen.systolic, seen.diastolic) == (systolic, diastolic)
    assert seen.highest_mmhg == pytest.approx(high - 0.75)
    assert seen.lowest_mmhg == pytest.approx(cuff[-1] + 0.75)


def test_whether_the_top_was_passed():
    """The top of the envelope and the mean pressure must lie inside the record.

    Oracle: by construction: the bell's top is at 110 mmHg.
    """
    for high, low, passed in ((180.0, 60.0, True), (113.5, 60.0, True), (110.0, 60.0, False), (180.0, 109.5, False)):
        oscillogram = oscillogram_at(np.arange(high, low, -1.0))
        assert flanks.flanks(oscillogram, bell_fit(), from_mmhg=high, to_mmhg=low).top_passed is passed
    far = replace(bell_fit(), values=np.array([50.0, 40.0, 30.0]))
    assert not flanks.flanks(oscillogram_at(), far, from_mmhg=180.0, to_mmhg=60.0).top_passed


def test_a_value_beyond_the_record_is_not_seen():
    """Low heights at the end are not enough: the pressure itself must lie inside the record.

    Oracle: by construction.
    """
    oscillogram = oscillogram_at(np.arange(150.0, 80.0, -1.5))
    assert flanks.flanks(oscillogram, bell_fit(136.0, 99.0), from_mmhg=150.0, to_mmhg=80.0).systolic
    assert not flanks.flanks(oscillogram, bell_fit(149.0, 99.0), from_mmhg=150.0, to_mmhg=80.0).systolic
    assert flanks.flanks(oscillogram, bell_fit(136.0, 99.0), from_mmhg=150.0, to_mmhg=80.0).diastolic
    assert not flanks.flanks(oscillogram, bell_fit(136.0, 80.0), from_mmhg=150.0, to_mmhg=80.0).diastolic


def test_a_flank_whose_pulses_were_set_aside_is_not_missing():
    """A cuff that was 15 mmHg beyond a value has been on its flank, though the pulses that are left do not show it;
    unless it is not even known where the top is.

    Oracle: by construction: pulses from 125 to 105 mmHg only, values 136 and 99.
    """
    left, fit = oscillogram_at(np.arange(125.0, 105.0, -1.5)), bell_fit(136.0, 99.0)
    for first, last, systolic, diastolic in ((152, 83, True, True), (150, 83, False, True), (152, 85, True, False)):
        seen = flanks.flanks(left, fit, from_mmhg=float(first), to_mmhg=float(last))
        assert (seen.systolic, seen.diastolic) == (systolic, diastolic)
    above = oscillogram_at(np.arange(135.0, 112.0, -1.5))
    seen = flanks.flanks(above, fit, from_mmhg=190.0, to_mmhg=50.0)
    assert (seen.top_passed, seen.diastolic) == (False, False)


@pytest.mark.parametrize("systolic", np.arange(75.0, 262.0, 7.3))
@pytest.mark.parametrize("beyond", [-12.0, 0.0, 6.0])
def test_inflate_to_30_to_40_above(systolic: float, beyond: float):
    """The next inflation goes to a full ten, 30 to 40 mmHg above the highest of estimate and record.

    Oracle: common practice: the cuff is inflated 30 to 40 mmHg above the systolic pressure. Tolerance: none, but never
    under 100 or over 300 mmHg, whatever the record.
    """
    highest = systolic + beyond
    seen = Flanks(systolic=False, diastolic=True, top_passed=True, highest_mmhg=highest, lowest_mmhg=40.0)
    (finding,) = flanks.flank_findings(seen, bell_fit(systolic))
    target = finding.numbers["inflate_to_mmhg"]
    assert (finding.code, finding.severity, finding.touches) == ("systolic-side-missing", "doubt", ("systolic",))
    assert finding.numbers["highest_mmhg"] == finding.at_mmhg == highest
    assert target % 10.0 == 0.0
    assert 100.0 <= target <= 300.0
    if 100.0 < target < 300.0:
        assert 30.0 <= target - max(systolic, highest) < 40.0


def test_missing_flanks():
    """The lower flank alone makes doubtful and touches the diastolic pressure; both together, or a cuff that
    never passed the top of the envelope, spoil.

    Oracle: by construction.
    """
    seen = Flanks(systolic=True, diastolic=True, top_passed=True, highest_mmhg=120.0, lowest_mmhg=105.0)
    assert flanks.flank_findings(seen, bell_fit()) == ()
    (lower,) = flanks.flank_findings(replace(seen, diastolic=False), bell_fit())
    assert (lower.code, lower.severity, lower.touches) == ("diastolic-side-missing", "doubt", ("diastolic",))
    assert dict(lower.numbers) == {"lowest_mmhg": 105.0}
    (beyond,) = flanks.flank_findings(replace(seen, systolic=False, top_passed=False), bell_fit())
    assert (beyond.code, beyond.severity) == ("systolic-side-missing", "spoils")
    both = flanks.flank_findings(replace(seen, systolic=False, diastolic=False), bell_fit())
    assert [(f.code, f.severity) for f in both] == [
        ("systolic-side-missing", "spoils"),
        ("diastolic-side-missing", "spoils"),
    ]
