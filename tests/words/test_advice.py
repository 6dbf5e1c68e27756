"""What to do next, as sentences."""

from __future__ import annotations

from typing import get_args

import pytest

from quietlimb.engine.interpretation.background import Background
from quietlimb.engine.interpretation.interpret import interpret_systolic
from quietlimb.engine.values import Standing
from quietlimb.words.advice import SENTENCES, sentence, shared_source_line, source_line
from words.examples import ADVICE_CODES, an_advice


def test_every_code_has_a_sentence_and_no_sentence_lacks_a_code():
    """The tables of the engine and of the words name the same codes.

    Oracle: by construction.
    """
    assert set(SENTENCES) == set(ADVICE_CODES)


@pytest.mark.parametrize("code", ADVICE_CODES)
def test_every_advice_is_told_with_its_numbers(code):
    """A full sentence, no placeholder left.

    Oracle: by construction.
    """
    told = sentence(an_advice(code))
    assert told[0].isupper()
    assert told.endswith(".")
    assert "{" not in told


ORGANS = ("eyes", "brain", "heart", "kidneys")


@pytest.mark.parametrize("systolic", [None, 80.0, 120.0, 150.0, 170.0, 200.0])
@pytest.mark.parametrize("state", ["present", "absent", "unclear", "not examined"])
@pytest.mark.parametrize("likely", [True, False])
def test_whatever_is_advised_can_be_told_with_its_days(systolic, state, likely):
    """Advice as the engine gives it formats, and a window of days shows in its sentence.

    Oracle: by construction.
    """
    found = interpret_systolic(
        systolic, species="cat", organs=dict.fromkeys(ORGANS, state), situational_likely=likely, mean_mmhg=60.0
    )
    assert found.next
    urgent_in_itself = {"confirm-low-pressure", "confirm-low-mean-pressure", "look-at-the-animal-and-call"}
    for advice in found.next:
        told = sentence(advice)
        if advice.within_days is not None and advice.code not in urgent_in_itself:
            assert any(word in told for word in ("today", "days", "weeks")), told


@pytest.mark.parametrize(
    ("told", "expected"),
    [
        ({"species": "cat", "background": Background(conditions=("hyperthyroidism",))}, "in 3 to 6 months"),
        ({"species": "cat", "background": Background(age_years=9.0)}, "Cats of 9 years and more"),
        ({"species": "cat", "rules": "isfm-2017", "background": Background(age_years=5.0)}, "Cats from 3 years on"),
        ({"species": "dog", "background": Background(young=True)}, "no routine measuring"),
    ],
)
def test_screening_is_told_in_one_sentence(told, expected):
    """Who, and when.

    Oracle: from memory, ACVIM 2018 and ISFM 2017.
    """
    found = interpret_systolic(120.0, **told)
    assert [expected in sentence(advice) for advice in found.next] == [True]


def test_a_repeat_names_its_weeks():
    """Four to eight weeks, and who decides.

    Oracle: from memory, ACVIM 2018: 4-8 weeks.
    """
    assert "in 4 to 8 weeks" in sentence(
        an_advice("repeat-session", within_days=(28.0, 56.0), numbers={"sessions": 2.0})
    )


def test_two_values_are_told_with_both_categories_and_the_choice():
    """Both values, both categories, and that the veterinarian chooses.

    Oracle: by construction; categories by the published lines 140 and 160.
    """
    told = sentence(an_advice("two-values-two-categories", numbers={"charted_mmhg": 158.24, "guideline_mmhg": 161.0}))
    assert "158.2 mmHg is prehypertensive" in told
    assert "161.0 mmHg is hypertensive" in told
    assert "the veterinarian chooses" in told


def test_two_values_by_an_older_scheme_are_told_in_its_categories():
    """148 and 151 lie on either side of 150.

    Oracle: published, ACVIM 2007.
    """
    numbers = {"charted_mmhg": 148.0, "guideline_mmhg": 151.0}
    told = sentence(an_advice("two-values-two-categories", numbers=numbers, source="ACVIM2007"))
    assert "148.0 mmHg is category I," in told
    assert "151.0 mmHg is category II:" in told


def test_our_own_choice_is_not_told_as_a_publication():
    """A rule of ours says so, alone and for several.

    Oracle: by construction.
    """
    own = an_advice("category-of-an-old-scheme", source="Quietlimb", standing="invented")
    assert source_line(own) == "(our own choice)"
    assert shared_source_line([own, own]) == "All our own choice."


def test_a_rule_from_memory_says_so():
    """The standing stands beside the source.

    Oracle: invented, the wording that we agreed on.
    """
    assert source_line(an_advice("recheck")) == "(ACVIM 2018, from memory: not checked against the print)"


@pytest.mark.parametrize("standing", get_args(Standing))
def test_every_standing_is_told_differently(standing):
    """No two standings read alike.

    Oracle: by construction.
    """
    lines = {source_line(an_advice("recheck", standing=other)) for other in get_args(Standing)}
    assert len(lines) == len(get_args(Standing))
    assert source_line(an_advice("recheck", standing=standing)).startswith("(")


def test_one_source_behind_all_is_told_once():
    """Two or more of the same source and standing share a line; otherwise each has its own.

    Oracle: by construction.
    """
    same = an_advice("recheck")
    assert shared_source_line([same, an_advice("treatment-now")]) == (
        "All by ACVIM 2018, from memory: not checked against the print."
    )
    assert shared_source_line([same]) is None
    assert shared_source_line([]) is None
    assert shared_source_line([same, an_advice("recheck", source="Caney2021")]) is None
    assert shared_source_line([same, an_advice("recheck", standing="published")]) is None


@pytest.mark.parametrize("standing", get_args(Standing))
def test_every_standing_can_be_shared(standing):
    """Each tells of all, and none like another.

    Oracle: by construction.
    """
    told = {shared_source_line([an_advice("recheck", standing=each)] * 2) for each in get_args(Standing)}
    assert len(told) == len(get_args(Standing))
    assert shared_source_line([an_advice("recheck", standing=standing)] * 2).startswith("All ")


def test_a_repeat_without_days_does_not_speak_of_undamaged_organs():
    """A cat with a damaged kidney by ISFM 2017, which asks for two sessions then: no word of being without damage, and
    the days of ACVIM 2018 beside it.

    Oracle: from memory, the line of ISFM 2017 at 160 mmHg with any damage.
    """
    found = interpret_systolic(165.0, species="cat", organs={"kidneys": "present"}, rules="isfm-2017")
    told = next(sentence(advice) for advice in found.next if advice.code == "repeat-session-undated")
    assert "ithout organ damage" not in told
    assert "ACVIM 2018 says in 1 to 2 weeks" in told
