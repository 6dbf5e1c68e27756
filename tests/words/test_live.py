"""What is said while the pressure falls."""

from __future__ import annotations

import pytest

from quietlimb.engine.findings import FINDING_CODES, REMARK_CODES, Finding
from quietlimb.words.live import SENTENCES, at_the_end, pulses_line, say, when_lost
from words.examples import a_remark

# The sentence says that it is happening, or which of two limits was passed.
FOR_PROGRAMS_ONLY = {
    ("limb-moving", "seconds"),
    ("cuff-pressed", "seconds"),
    ("limb-moved-too-long", "goes_on"),
    ("valve-open-now", "pressure_mmhg"),
}


def test_every_remark_has_a_sentence_and_no_sentence_lacks_a_remark():
    """The two tables name the same codes, and no remark bears the name of a finding.

    Oracle: by construction, the engine's table of codes.
    """
    assert set(SENTENCES) == set(REMARK_CODES)
    assert not set(REMARK_CODES) & set(FINDING_CODES)


def test_a_count_that_went_back_says_so():
    """Where pulses were taken back the number of them stands beside the count, and nothing where none were.

    Oracle: invented wording.
    """
    assert pulses_line(7, 0) == "pulses 7"
    assert pulses_line(7, 1) == "pulses 7, 1 taken back: not like the others"


@pytest.mark.parametrize("code", REMARK_CODES)
def test_every_remark_is_one_short_sentence(code: str):
    """One sentence with a full stop, no place left open, short enough to be read at a glance.

    Oracle: by construction; 90 characters are invented, two lines of large type.
    """
    sentence = say(a_remark(code))
    assert sentence[0].isupper()
    assert sentence.endswith(".")
    assert "{" not in sentence
    assert "None" not in sentence
    assert len(sentence) <= 90


@pytest.mark.parametrize("code", REMARK_CODES)
def test_every_number_of_a_remark_is_told(code: str):
    """A number that a remark carries shows in its sentence.

    Oracle: by construction.
    """
    before = a_remark(code)
    for name in REMARK_CODES[code]:
        if (code, name) in FOR_PROGRAMS_ONLY:
            continue
        after = Finding(code=code, severity="doubt", numbers={**before.numbers, name: 77.0})
        assert say(after) != say(before), name


def test_what_to_do_is_told_with_numbers_and_units():
    """The sentences as they were asked for.

    Oracle: invented, the wording that we agreed on.
    """
    moved = Finding(code="limb-moved-too-long", severity="spoils", numbers={"seconds": 2.4, "goes_on": 0.0})
    assert say(moved) == "Moved for 2.4 s: let the air out, let the limb rest, and start again."
    moving = Finding(code="limb-moved-too-long", severity="spoils", numbers={"seconds": 2.4, "goes_on": 1.0})
    assert say(moving) == "Moving for 2.4 s: let the air out, let the limb rest, and start again."
    higher = Finding(code="inflate-higher", severity="doubt", numbers={"to_mmhg": 190.0})
    assert say(higher) == "Inflate to 190 mmHg next time."
    assert say(Finding(code="enough", severity="note")) == "Enough: let the air out."


@pytest.mark.parametrize(
    ("pressure_mmhg", "inflated_s", "told"),
    [
        (304.0, 12.0, "Open the valve now: 304 mmHg in the cuff."),
        (295.0, 12.0, "Open the valve now: 295 mmHg in the cuff."),
        (80.0, 91.0, "Open the valve now: the cuff has held pressure for 91 s."),
        (304.0, 91.0, "Open the valve now: 304 mmHg in the cuff."),
    ],
)
def test_an_open_valve_is_asked_for_with_its_reason(pressure_mmhg: float, inflated_s: float, told: str):
    """Too high, or too long; where both, the pressure.

    Oracle: by construction.
    """
    numbers = {"pressure_mmhg": pressure_mmhg, "inflated_s": inflated_s}
    assert say(Finding(code="valve-open-now", severity="note", numbers=numbers)) == told


@pytest.mark.parametrize(("pressure_mmhg", "told"), [(None, False), (0.4, False), (11.9, False), (12.0, True)])
def test_a_full_cuff_is_told_of_at_the_end(pressure_mmhg: float | None, told: bool):
    """The first words are what to do; an empty cuff, and one that was never seen, need none.

    Oracle: by construction, the pressure under which the engine calls a cuff empty.
    """
    sentence = at_the_end(pressure_mmhg)
    assert (sentence is not None) == told
    assert sentence is None or sentence.startswith("Let the air out: the cuff was last at 12 mmHg")


def test_a_refused_recording_tells_why():
    """The reason stands in the sentence where it is known.

    Oracle: by construction.
    """
    refused = Finding(code="recording-refused", severity="spoils", told="only 2.1 s; record at least 3 s of deflation")
    assert say(refused) == "This one cannot be read: only 2.1 s; record at least 3 s of deflation."


@pytest.mark.parametrize(
    ("pressure_mmhg", "told"), [(None, False), (3.0, False), (11.9, False), (12.0, True), (144.2, True)]
)
def test_a_silent_sensor_sends_to_the_manometer(pressure_mmhg: float | None, told: bool):
    """Always to manometer and valve; with the pressure last seen where the cuff was full.

    Oracle: by construction, the engine's limit of an empty cuff, 12 mmHg.
    """
    sentence = when_lost(pressure_mmhg)
    assert "manometer" in sentence
    assert "let the air out" in sentence
    assert ("mmHg" in sentence) == told
    if pressure_mmhg is not None and told:
        assert f"{pressure_mmhg:.0f} mmHg" in sentence
