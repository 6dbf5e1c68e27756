"""Findings as sentences."""

from __future__ import annotations

import pytest

from quietlimb.engine.findings import FINDING_CODES, Finding
from quietlimb.words.findings import WORDINGS, of_values_given, remedy, says
from words.examples import a_finding


def test_every_code_has_a_wording_and_no_wording_lacks_a_code():
    """The two tables name the same codes.

    Oracle: by construction, the engine's table of codes.
    """
    assert set(WORDINGS) == set(FINDING_CODES)


@pytest.mark.parametrize("code", FINDING_CODES)
@pytest.mark.parametrize("at_mmhg", [None, 150.0])
def test_every_finding_is_told_and_has_a_remedy_or_an_explicit_none(code, at_mmhg):
    """One sentence with a full stop for what was seen; the remedy likewise, or None where the table says so.

    Oracle: by construction.
    """
    finding = a_finding(code, at_mmhg)
    sentences = [says(finding)]
    cure = remedy(finding)
    if WORDINGS[code].remedy is None:
        assert cure is None
    else:
        assert cure is not None
        sentences.append(cure)
    for sentence in sentences:
        assert sentence[0].isupper()
        assert sentence.endswith(".")
        assert "{" not in sentence
        assert "  " not in sentence


# The sentence is complete without them.
FOR_PROGRAMS_ONLY = {("no-pulse", "pulses"), ("limb-moved", "share"), ("no-envelope", "explained")}


@pytest.mark.parametrize("code", FINDING_CODES)
def test_every_number_of_a_finding_is_told(code):
    """A number that a finding carries shows in its sentence or remedy: changing it changes the words.

    Oracle: by construction.
    """
    before = a_finding(code)
    for name in FINDING_CODES[code]:
        if (code, name) in FOR_PROGRAMS_ONLY:
            continue
        after = Finding(code=code, severity="doubt", numbers={**before.numbers, name: 77.0})
        assert (says(after), remedy(after)) != (says(before), remedy(before)), name


def test_a_moving_limb_is_told_without_blame():
    """Where the pressure is known it is named; the limb moves, nobody moved it.

    Oracle: invented, the wording that we agreed on.
    """
    moved = Finding(code="limb-moved", severity="doubt", at_mmhg=149.7, numbers={"seconds": 2.4, "share": 0.1})
    assert says(moved) == (
        "The limb moved while the pressure fell through 150 mmHg: pulses over 2.4 s are disturbed. "
        "It may have moved for longer."
    )
    assert remedy(moved) == "Let the limb rest and take another reading."
    elsewhere = Finding(code="limb-moved", severity="doubt", numbers={"seconds": 2.4, "share": 0.1})
    assert says(elsewhere) == "The limb moved: pulses over 2.4 s are disturbed. It may have moved for longer."


@pytest.mark.parametrize("code", ["limb-moved", "vibration"])
def test_a_note_asks_for_no_other_reading(code):
    """What changes no verdict tells that it spoils none, and what casts doubt asks for another reading.

    Oracle: by construction, a note leaves the verdict alone.
    """
    note = Finding(code=code, severity="note", numbers=a_finding(code).numbers)
    doubt = Finding(code=code, severity="doubt", numbers=a_finding(code).numbers)
    assert "spoils no reading" in (remedy(note) or "")
    assert "another reading" in (remedy(doubt) or "")


def test_a_wide_interval_names_the_pressure_it_is_about():
    """Systolic, or simply the pressure where nothing is named.

    Oracle: invented, the wording that we agreed on.
    """
    numbers = {"half_width_mmhg": 24.6}
    told = says(Finding(code="wide-interval", severity="doubt", touches=("systolic",), numbers=numbers))
    assert told == "Systolic pressure: known only to within 25 mmHg either way."
    assert says(Finding(code="wide-interval", severity="doubt", numbers=numbers)).startswith("Pressure:")


def test_a_missing_systolic_side_says_how_far_to_inflate():
    """What was seen and what to do, each with its pressure.

    Oracle: invented, the wording that we agreed on.
    """
    missing = Finding(
        code="systolic-side-missing", severity="doubt", numbers={"highest_mmhg": 152.0, "inflate_to_mmhg": 190.0}
    )
    assert says(missing) == (
        "The pulses were already large when the record began at 152 mmHg, so the systolic pressure cannot be read."
    )
    assert remedy(missing) == "Inflate to 190 mmHg next time."


def test_a_narrow_cuff_names_the_widths_that_would_fit():
    """A 3 cm cuff on 13 cm: 23.1 %, reads high; 3.9 to 5.2 cm would fit.

    Oracle: common practice, the worked cuff table: 13 cm has 3.9 and 5.2 cm at 30 and 40 %. Printed digits.
    """
    narrow = Finding(
        code="cuff-narrow", severity="doubt", numbers={"ratio": 3 / 13, "circumference_cm": 13.0, "width_cm": 3.0}
    )
    assert "23.1 %" in says(narrow)
    assert "reads high" in says(narrow)
    assert remedy(narrow) == "Take a cuff 3.9 to 5.2 cm wide."


def test_a_fall_is_told_without_a_sign():
    """Falling by 4 mmHg a minute, whichever sign the number came with.

    Oracle: by construction.
    """
    told = {
        says(Finding(code="still-falling", severity="note", numbers={"mmhg_per_min": rate})) for rate in (4.0, -4.0)
    }
    assert told == {"The pressure was still falling by 4.0 mmHg a minute at the end."}


def test_shares_are_told_as_percent():
    """A spread of 0.254 against 0.20 reads 25 % against 20 %.

    Oracle: by construction.
    """
    uneven = Finding(code="not-consistent", severity="note", numbers={"spread": 0.254, "limit": 0.20})
    assert "25 %" in says(uneven)
    assert "20 %" in says(uneven)


def test_how_well_a_missing_value_is_known_is_not_told():
    """A wide interval goes when no value that it touches is given; every other finding stays.

    Oracle: by construction.
    """
    wide = Finding(code="wide-interval", severity="doubt", touches=("diastolic",), numbers={"half_width_mmhg": 30.0})
    moved = Finding(code="limb-moved", severity="doubt", touches=("diastolic",), numbers={"seconds": 2.0, "share": 0.1})
    assert of_values_given([wide, moved], {"systolic"}) == (moved,)
    assert of_values_given([wide, moved], {"systolic", "diastolic"}) == (wide, moved)
