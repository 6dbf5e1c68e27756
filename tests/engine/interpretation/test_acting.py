"""Whether a pressure can be acted on."""

from __future__ import annotations

import pytest

from engine.interpretation.examples import ALL_ABSENT
from quietlimb.engine.interpretation.acting import ACT, AT_ONCE, LOOK_FIRST, MEASURE_FIRST, SPEAKS_FOR, can_act
from quietlimb.engine.interpretation.decision import DECISION_CODES
from quietlimb.engine.interpretation.interpret import interpret_systolic
from quietlimb.engine.interpretation.measuring import MEASURING_CODES
from quietlimb.engine.values import Estimate


def test_every_advice_speaks_for_one_answer() -> None:
    """No code of the advice is forgotten, none stands in two groups, none is made up.

    Oracle: by construction, the engine's own lists of codes.
    """
    assert set(SPEAKS_FOR) == {*DECISION_CODES, *MEASURING_CODES}
    assert len(SPEAKS_FOR) == len(AT_ONCE) + len(ACT) + len(LOOK_FIRST) + len(MEASURE_FIRST)


@pytest.mark.parametrize(
    ("systolic", "organs", "answer", "at_once"),
    [
        (120.0, ALL_ABSENT, "yes", False),
        (150.0, ALL_ABSENT, "repeat", False),
        (165.0, ALL_ABSENT | {"eyes": "present"}, "yes", False),
        (170.0, {}, "eyes first", False),
        (195.0, ALL_ABSENT | {"eyes": "unclear"}, "eyes first", False),
        (195.0, ALL_ABSENT | {"eyes": "present"}, "yes", True),
        (60.0, ALL_ABSENT, "yes", True),
        (None, ALL_ABSENT, "repeat", False),
    ],
)
def test_the_answer_by_pressure_and_organs(
    systolic: float | None, organs: dict[str, str], answer: str, at_once: bool
) -> None:
    """Normal: yes. High without damage: repeat. Organs not known: those first. Damage: act; signs at 180: at once.

    Oracle: the decision table (from memory, ACVIM 2018) followed by hand; the order of the answers is invented.
    """
    found = can_act(interpret_systolic(systolic, species="dog", organs=organs))
    assert (found.answer, found.at_once) == (answer, at_once)
    assert len(found.reasons) <= 3
    assert all(SPEAKS_FOR[advice.code] == answer for advice in found.reasons)


def test_an_open_category_is_a_reason_to_repeat() -> None:
    """170 mmHg with a standard deviation of 20: no category reaches a half, so damage alone does not settle it.

    Oracle: by construction; 20 mmHg wide, the category holds less than 0.4 of a normal distribution of that width.
    """
    wide = Estimate(value=170.0, low=130.8, high=209.2, own_sd=20.0, shared_sd=0.0)
    found = can_act(interpret_systolic(wide, species="dog", organs=ALL_ABSENT | {"eyes": "present"}))
    assert found.open
    assert found.answer == "repeat"
