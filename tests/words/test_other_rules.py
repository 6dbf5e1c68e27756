"""Other rule sets, and what would change the advice, as sentences."""

from __future__ import annotations

import pytest

from quietlimb.engine.interpretation.would_change import CHANGE_CODES
from quietlimb.words import other_rules
from words.examples import a_change, an_advice, another_rule_set


@pytest.mark.parametrize("code", [code for code, numbers in CHANGE_CODES.items() if numbers])
def test_what_would_change_the_advice_tells_its_number_and_the_new_advice(code):
    """The number, then the sentences of the first two.

    Oracle: by construction.
    """
    told = other_rules.would_change_sentence(a_change(code))
    assert "140" in told
    assert "The rule set asks for treatment now; the veterinarian decides." in told
    assert "Repeat the session" in told
    assert an_advice("repeat-session").code == a_change(code).then[0].code


def test_another_rule_set_is_told_with_its_standing():
    """Category and line, and how far it was checked.

    Oracle: invented, the wording that we agreed on.
    """
    assert other_rules.other_rules_sentence(another_rule_set()) == (
        "IRIS 2015: stage AP1, borderline pressure; its line for considering treatment, 170 mmHg with these organs, is "
        "not reached (IRIS 2015, checked against a copy)."
    )


def test_rule_sets_that_say_the_same_share_a_sentence():
    """Two of a kind in one, each with line and standing; one alone keeps its own; a category is never merged.

    Oracle: by construction.
    """
    first = another_rule_set(rule_set="A 2001", differs=("treatment",), category=None)
    second = another_rule_set(
        rule_set="B 2002", differs=("treatment",), category=None, line_mmhg=175.0, standing="from memory"
    )
    alone = another_rule_set(rule_set="C 2003", differs=("treatment",), category=None, treatment="reached")
    found = other_rules.other_rules_sentences([first, alone, second, another_rule_set()])
    assert len(found) == 3
    assert "A 2001 170 mmHg (checked against a copy), B 2002 175 mmHg (from memory)" in found[2]
    assert found[1].startswith("C 2003")
    assert found[0].startswith("IRIS 2015")
