"""No sentence names a drug or a dose, or blames anybody."""

from __future__ import annotations

import re

import pytest

from words.examples import every_sentence

DOSE = re.compile(
    r"\d\s*(mg|µg|μg|mcg|ng|g|ml|iu|units?|drops?|tablets?|capsules?)\b(?!\w)|/\s*kg|per\s+kilo|tablet|capsule|inject|"
    r"(once|twice|three times)\s+(a\s+day|daily)|every\s+\d+\s+hours",
    re.IGNORECASE,
)
# Endings of the drug classes used against high pressure, and sedatives' common ones.
DRUG = re.compile(
    r"\w+(dipine|sartan|april|prilat|olol|azosin|alazine|prusside|semide|thiazide|lactone|midine|promazine)\b", re.I
)
BLAME = re.compile(r"\b(you|your|fault|careless|failed to|wrongly|mistake|should have)\b", re.IGNORECASE)


def objections(sentence: str) -> list[str]:
    return [name for name, rule in (("dose", DOSE), ("drug", DRUG), ("blame", BLAME)) if rule.search(sentence)]


def test_no_sentence_names_a_drug_or_a_dose_or_blames():
    """Every sentence of the room, formatted.

    Oracle: by construction, what the project promises.
    """
    told = every_sentence()
    assert len(told) > 150
    assert {sentence: objections(sentence) for sentence in told if objections(sentence)} == {}


@pytest.mark.parametrize(
    ("sentence", "objection"),
    [
        ("Give 0.6 mg once a day.", "dose"),
        ("Half a tablet.", "dose"),
        ("Start at 0.1/kg.", "dose"),
        ("5 ml every 12 hours", "dose"),
        ("Consider amlodipine.", "drug"),
        ("Telmisartan is an option.", "drug"),
        ("You moved the limb.", "blame"),
    ],
)
def test_the_check_itself_can_fail(sentence, objection):
    """Sentences of the forbidden kinds are caught.

    Oracle: invented, one example a kind.
    """
    assert objection in objections(sentence)


@pytest.mark.parametrize("sentence", ["It fell by 12 mmHg.", "Drugs and doses are for the licensed veterinarian."])
def test_the_check_lets_pressures_and_deferral_pass(sentence):
    """mmHg is no dose, and to say who decides on doses is not to name one.

    Oracle: invented.
    """
    assert objections(sentence) == []
