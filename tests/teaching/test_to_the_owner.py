"""What the owner is told, against what was charted and against the truth."""

from __future__ import annotations

from dataclasses import replace
from typing import get_args

import pytest

from quietlimb.engine.standards.rule_sets import RULE_SETS
from quietlimb.simulator.training import CASES, Choices
from quietlimb.teaching import Attempt, debrief
from quietlimb.teaching.to_the_owner import HowItStands, Saying, asked_by, judge


@pytest.mark.parametrize(
    ("systolic", "treated", "saying", "source"),
    [
        (None, False, "no value", "practice"),
        (89.9, False, "veterinarian today", "practice"),
        (90.0, False, "fine", "ACVIM2018"),
        (139.9, False, "fine", "ACVIM2018"),
        (140.0, False, "another day", "ACVIM2018"),
        (179.9, False, "another day", "ACVIM2018"),
        (180.0, False, "veterinarian today", "ACVIM2018"),
        (159.9, True, "fine", "WSAVA2018"),
        (160.0, True, "another day", "ACVIM2018"),
        (180.0, True, "veterinarian today", "ACVIM2018"),
    ],
)
def test_each_pressure_asks_for_its_words(systolic: float | None, treated: bool, saying: Saying, source: str) -> None:
    """Fine below the first category and, under treatment, below the least goal; low and severe the veterinarian today.

    Oracle: from memory, ACVIM 2018 (140, 160 and 180 mmHg); published, WSAVA 2018 (the least goal of 160 mmHg); common
    practice for 90 mmHg; which words belong to them is invented.
    """
    asked = asked_by(systolic, treated=treated)
    assert (asked.saying, asked.limit.source) == (saying, source)


@pytest.mark.parametrize("key", RULE_SETS)
def test_every_rule_set_asks_for_every_saying(key: str) -> None:
    """From low to severe, in each of them, the four words come.

    Oracle: by construction.
    """
    asked = [asked_by(None, rules=RULE_SETS[key]).saying]
    asked += [asked_by(float(mmhg), rules=RULE_SETS[key]).saying for mmhg in range(60, 260)]
    assert set(asked) == set(get_args(Saying))


@pytest.mark.parametrize(
    ("said", "charted", "true", "standing"),
    [
        ("fine", 132.0, 128.0, "holds"),
        ("another day", 132.0, 128.0, "does not follow"),
        ("another day", 132.0, 150.0, "does not follow"),
        ("another day", 152.0, 128.0, "truth is another"),
        ("fine", 128.0, 214.0, "truth is another"),
        ("veterinarian today", 201.0, 214.0, "holds"),
        ("no value", None, 214.0, "holds"),
        ("no value", 132.0, 128.0, "does not follow"),
        ("fine", None, 128.0, "does not follow"),
        (None, 132.0, 128.0, "nothing told"),
    ],
)
def test_there_are_two_ways_of_being_wrong(
    said: Saying | None, charted: float | None, true: float, standing: HowItStands
) -> None:
    """It does not follow from what was charted; or it follows, and the truth is another. No value claims nothing.

    Oracle: by construction, with the limits of 140 and 180 mmHg (from memory, ACVIM 2018).
    """
    told = judge(said, charted_mmhg=charted, true_mmhg=true)
    assert told.standing == standing
    right_by_chance = said is not None and said == told.by_truth.saying and standing == "does not follow"
    assert told.by_luck is right_by_chance


def test_the_cases_ask_for_each_of_the_words() -> None:
    """Among the cases that come with the program the truth asks for fine, another day and the veterinarian today.

    Oracle: by construction, the truths of the cases.
    """
    asked = {key: asked_by(case.resting.systolic, treated=case.treated).saying for key, case in CASES.items()}
    assert asked["just-arrived"] == "fine"
    assert asked["higher-than-thought"] == "veterinarian today"
    assert set(asked.values()) == {"fine", "another day", "veterinarian today"}


@pytest.mark.parametrize("key", ["just-arrived", "weight-on-the-paw", "higher-than-thought"])
def test_it_moves_no_millimetre(key: str) -> None:
    """Whatever is told, error, grade, costs and all else of the debrief are the same, and it is judged by the truth.

    Oracle: by construction: the same session with each of the words, in a case for each answer of the truth.
    """
    case = CASES[key]
    site = next(iter(case.circumference_cm))
    choices = Choices(
        place=case.places[0],
        site=site,
        cuff_width_cm=round(0.35 * case.circumference_cm[site], 1),
        inflate_to_mmhg=min(300.0, case.resting.systolic + 50.0),
    )
    attempts = [Attempt(choices=choices, minute=0.0, number=1)]
    alone = debrief(case, attempts, case.resting.systolic)
    assert alone.owner is not None
    assert alone.owner.standing == "nothing told"
    asked = alone.owner.by_truth.saying
    for said in get_args(Saying):
        told = debrief(case, attempts, case.resting.systolic, to_the_owner=said)
        assert told.owner is not None
        assert told.owner.standing == ("holds" if said == asked else "does not follow")
        assert replace(told, owner=alone.owner) == alone
