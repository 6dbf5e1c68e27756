"""The study of the training animal, at small counts."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from learners import careful, careless, departing, good_choices
from training import Charted, Moved, choice_row, judged, learners_row, moved, sessions, showing, slope, surely_positive

from quietlimb.simulator.training import CASES, TrainingAnimal
from quietlimb.teaching.practice import RULES, departures

SEED = 30970101


def test_the_careful_learner_beats_the_careless_one() -> None:
    """Over six sessions of three cases: nearer on average, and within 10 mmHg more often.

    Oracle: by construction: the careful learner does what the model rewards.
    """
    told = [
        one
        for key in ("just-arrived", "tall-and-upright", "old-and-cross")
        for k in (0, 1)
        for one in sessions(key, SEED + k)
    ]
    careful_ones = [each.error for each in told if each.learner == "careful"]
    careless_ones = [each.error for each in told if each.learner == "careless"]
    assert all(error is not None and abs(error) < 15.0 for error in careful_ones)
    near = [sum(error is not None and abs(error) <= 10.0 for error in of) for of in (careful_ones, careless_ones)]
    assert near[0] >= 5
    assert near[1] <= 2


def test_learners_do_the_same_each_time_and_know_no_truth() -> None:
    """Twice the same session; the careful learner's choices depart from nothing but the first guess at the top.

    Oracle: by construction.
    """
    case = replace(CASES["slow-heart"], seed=SEED)
    assert careless(case, SEED).charted == careless(case, SEED).charted
    session = careful(case)
    animal = TrainingAnimal(case)
    found = {
        each.code
        for k, one in enumerate(session.attempts)
        for each in departures(animal, one.choices, minute=one.minute, number=one.number, first=k == 0)
    }
    assert found <= {"inflation-low"}
    assert good_choices(case) == session.attempts[0].choices


@pytest.mark.parametrize("code", RULES)
def test_every_rule_can_be_departed_from_alone(code: str) -> None:
    """Some case shows it by itself.

    Oracle: by construction.
    """
    cases = showing(code)  # type: ignore[arg-type]
    assert cases
    assert departing(CASES[cases[0]], code, readings=4) is not None  # type: ignore[arg-type]


@pytest.mark.parametrize(
    "code",
    [
        "position",
        "cuff-narrow",
        "cuff-wide",
        "cuff-below-heart",
        "cuff-above-heart",
        "after-examination",
        "fault-offset",
    ],
)
def test_a_choice_moves_the_error_as_modelled(code: str) -> None:
    """Three sessions: in the direction of the model, by about its amount.

    Oracle: by construction. Tolerance: 0.6 to 1.5 of it for three sessions of five readings.
    """
    cases = showing(code)  # type: ignore[arg-type]
    told = [moved(code, cases[k % len(cases)], SEED + k) for k in range(3)]  # type: ignore[arg-type]
    both = [(one.found, one.modelled) for one in told if one is not None and one.found is not None]
    assert len(both) == 3
    found, modelled = np.array(both).T
    assert (found * modelled > 0.0).all()
    assert 0.6 < slope(found, modelled) < 1.5


@pytest.mark.parametrize("code", ["limb-loaded", "tail-free", "inflation-low"])
def test_a_choice_that_spoils_costs_readings(code: str) -> None:
    """Three sessions lose most of their readings.

    Oracle: by construction: the engine refuses what is disturbed throughout or begins too low.
    """
    cases = showing(code)  # type: ignore[arg-type]
    told = [moved(code, cases[k % len(cases)], SEED + k) for k in range(3)]  # type: ignore[arg-type]
    assert np.mean([one.lost for one in told if one is not None]) >= 2.0


def test_rows_and_verdicts() -> None:
    """Amounts twice of the model are not as modelled, the other way round neither; a missing error is not near.

    Oracle: by construction.
    """

    def one(found: float | None, lost: int = 0, wider: float | None = 0.0, code: str = "position") -> Moved:
        return Moved(case="x", code=code, modelled=10.0, found=found, widened=wider, lost=lost)  # type: ignore[arg-type]

    assert judged("position", [one(9.0), one(12.0)]) == "yes"
    assert judged("position", [one(20.0), one(22.0)]) == "no"
    assert judged("position", [one(-10.0), one(-9.0)]) == "no"
    assert judged("limb-loaded", [one(None, 3, None), one(None, 4, None)]) == "yes"
    assert judged("limb-loaded", [one(0.1), one(-0.1)]) == "no"
    assert judged("deflation-fast", [one(0.1, 0, 2.0), one(0.2, 0, 2.1)]) == "yes"
    assert not surely_positive(np.array([1.0, -1.0, 0.5]))
    assert choice_row("position", [one(9.0), one(12.0)]).split()[-3:] == ["+0.00", "0.00", "yes"]
    row = learners_row(
        "x", "careful", [Charted(case="x", learner="careful", error=e, inflations=6) for e in (3.0, 20.0, None, 5.0)]
    )
    assert row.split()[-3:] == ["50.0", "25.0", "6.0"]
