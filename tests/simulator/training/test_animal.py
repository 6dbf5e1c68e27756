"""The training animal: every choice has its consequence, and nothing it makes can be taken for a patient's."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from quietlimb.engine.errors import ParameterError
from quietlimb.figures.invented import is_invented
from quietlimb.simulator.training import CASES, Choices, TrainingAnimal, effects

CASE = CASES["tall-and-upright"]
GOOD = Choices(cuff_width_cm=7.5, inflate_to_mmhg=180.0)


def under_the_cuff(choices: Choices, **changes: Any) -> float:
    """Systolic pressure of the artery under the cuff in the first inflation [mmHg]."""
    case = replace(CASE, **changes)
    systolic = TrainingAnimal(case).inflate(choices, minute=0.0, number=1).truth.systolic
    assert systolic is not None
    return systolic


def test_the_same_is_the_same() -> None:
    """Case, choices, minute and number make the recording; another number makes another.

    Oracle: by construction.
    """
    first = TrainingAnimal(CASE).inflate(GOOD, minute=1.0, number=2)
    again = TrainingAnimal(CASE).inflate(GOOD, minute=1.0, number=2)
    other = TrainingAnimal(CASE).inflate(GOOD, minute=1.0, number=3)
    assert first.recording.fingerprint == again.recording.fingerprint
    assert first.recording.fingerprint != other.recording.fingerprint


def test_nothing_can_be_taken_for_a_patients() -> None:
    """Every recording says that it is invented, in the instrument, the animal's name and the remarks.

    Oracle: by construction, what pictures and pages look at.
    """
    for case in CASES.values():
        site = next(iter(case.circumference_cm))
        made = TrainingAnimal(case).inflate(replace(GOOD, site=site), minute=0.0, number=1)
        around = made.recording.circumstances
        assert is_invented(around)
        assert (around.animal or "").startswith("simulated")
        assert "Not a patient's" in (around.remarks or "")


def test_circumstances_tell_what_was_chosen() -> None:
    """Place, position, site, cuff, height, waiting and drugs stand in the circumstances.

    Oracle: by construction.
    """
    choices = replace(GOOD, site="tail", position="standing", drug_free=False, cuff_below_heart_cm=4.0)
    around = TrainingAnimal(CASE).inflate(choices, minute=0.0, number=1).recording.circumstances
    assert (around.site, around.position, around.place) == ("tail", "standing", "consulting-room")
    assert (around.cuff_width_cm, around.limb_circumference_cm) == (7.5, 14.0)
    assert (around.cuff_below_heart_cm, around.acclimatisation_min, around.sedation) == (4.0, 10.0, "sedated")


def test_beats_and_movements_are_the_same_whatever_is_chosen() -> None:
    """A slower fall, a higher top and a lower cuff leave the beats where they were; they only carry them over.

    Oracle: by construction: feet are the same up to the time that the deflation begins with.
    """
    animal = TrainingAnimal(CASE)
    done = animal.inflate(GOOD, minute=0.0, number=4).truth
    other = animal.inflate(replace(GOOD, fall_mmhg_per_s=5.0, cuff_below_heart_cm=9.0), minute=0.0, number=4).truth
    shared = min(done.foot_s.size, other.foot_s.size) - 1
    assert shared > 20
    np.testing.assert_allclose(done.foot_s[:shared], other.foot_s[:shared], atol=1e-9)


@pytest.mark.parametrize(
    ("changed", "mmhg"),
    [
        ({"place": "waiting-room"}, effects.WAITING_ROOM.value),
        ({"place": "hospital-cage"}, effects.HOSPITAL_CAGE.value),
        ({"on_table": True}, effects.ON_TABLE["dog"].value),
        ({"before_examination": False}, effects.EXAMINATION.value),
        ({"position": "sitting"}, 25.1),
        ({"position": "standing"}, 0.0),
        ({"site": "hindlimb"}, 2.8),
        ({"side": "left"}, 0.0),
        ({"cuff_below_heart_cm": 20.0}, 15.52),
        ({"cuff_below_heart_cm": -20.0}, -15.52),
        ({"acclimatisation_min": 0.0}, 12.0 - 12.0 * np.exp(-10.0 / 3.0)),
    ],
)
def test_each_choice_moves_the_artery_by_what_is_modelled(changed: dict[str, Any], mmhg: float) -> None:
    """The systolic pressure of the very same beats, under the cuff.

    Oracle: by construction, the sizes of `effects`. Tolerance: 1.2 mmHg, as beats swing with the pulse pressure, and
    a few more or fewer belong to the reading.
    """
    moved = under_the_cuff(replace(GOOD, **changed)) - under_the_cuff(GOOD)
    assert moved == pytest.approx(mmhg, abs=1.2)


def test_who_is_there_matters_to_an_animal_that_its_owner_calms() -> None:
    """By what is modelled there, and not at all to another.

    Oracle: invented, the size in `effects`.
    """
    away = replace(GOOD, owner_present=False)
    assert under_the_cuff(away) == under_the_cuff(GOOD)
    clings = replace(CASE.temper, owner_calms=True)
    assert under_the_cuff(away, temper=clings) - under_the_cuff(GOOD, temper=clings) == pytest.approx(5.0, abs=1.0)


def test_truth_settles_to_rest() -> None:
    """Raised as the case says as it comes in, at rest after an hour; choices move it, the height of a cuff does not.

    Oracle: by construction.
    """
    animal = TrainingAnimal(CASE)
    assert animal.truth(0.0).systolic == CASE.resting.systolic + CASE.temper.raised_mmhg
    assert animal.truth(60.0).systolic == pytest.approx(CASE.resting.systolic, abs=0.01)
    assert animal.truth(0.0, replace(GOOD, position="sitting")).systolic > animal.truth(0.0, GOOD).systolic + 25.0
    assert animal.truth(0.0, replace(GOOD, cuff_below_heart_cm=20.0)) == animal.truth(0.0, GOOD)
    assert animal.resting == CASE.resting


def test_an_instrument_shows_the_errors_of_its_setup() -> None:
    """A cuff at 20 % shows a tenth more, an offset adds itself, a slipped cuff shows a share more.

    Oracle: by construction, the sizes of `effects` and of the fault.
    """
    animal, narrow = TrainingAnimal(CASE), replace(GOOD, cuff_width_cm=3.8)
    right = animal.shown(GOOD, minute=0.0, number=1)
    assert animal.shown(narrow, minute=0.0, number=1).systolic == pytest.approx(1.1 * right.systolic)
    off = TrainingAnimal(CASES["display-that-lies"])
    unchecked = replace(GOOD, setup_checked=False)
    assert off.shown(unchecked, minute=0.0, number=1).systolic == pytest.approx(
        off.shown(GOOD, minute=0.0, number=1).systolic + 16.0
    )
    slipping = TrainingAnimal(CASES["cuff-on-the-move"])
    before, after = (slipping.shown(unchecked, minute=0.0, number=number).systolic for number in (2, 3))
    assert after == pytest.approx(before / 0.91)


@pytest.mark.parametrize(
    ("key", "changed", "scenario"),
    [
        ("weight-on-the-paw", {"limb_loaded": True}, "limb-loaded"),
        ("happy-tail", {"site": "tail", "tail_held": False}, "tail-wagging"),
    ],
)
def test_a_load_and_a_tail_disturb(key: str, changed: dict[str, Any], scenario: str) -> None:
    """Weight always, a tail that nobody holds in most inflations of a dog that wags, and neither when minded.

    Oracle: by construction; 10 inflations at a share of 0.85 are fewer than 5 with a probability under 0.001.
    """
    animal = TrainingAnimal(CASES[key])
    choices = replace(GOOD, **changed)
    minded = replace(choices, limb_loaded=False, tail_held=True)
    disturbed = [animal.inflate(choices, minute=0.0, number=k).scenario for k in range(1, 11)]
    assert disturbed.count(scenario) >= 5
    assert scenario not in [animal.inflate(minded, minute=0.0, number=k).scenario for k in range(1, 11)]


def test_a_leak_takes_its_air_beside_the_valve() -> None:
    """From the inflation on that it begins with, unless cuff and tube are looked over.

    Oracle: by construction, the size of the fault.
    """
    animal, unchecked = TrainingAnimal(CASES["hissing-tube"]), replace(GOOD, setup_checked=False)
    leaks = [animal.inflate(unchecked, minute=0.0, number=k).truth.leak_mmhg_per_s for k in (2, 3)]
    assert leaks == [0.0, 2.5]
    assert animal.inflate(GOOD, minute=0.0, number=3).truth.leak_mmhg_per_s == 0.0


def test_the_top_is_what_the_display_shows() -> None:
    """With a display that shows 16 mmHg too much the cuff stands lower, and the recording shows what was chosen.

    Oracle: by construction. Tolerance: 6 mmHg, for air that warms and the beats.
    """
    animal, unchecked = TrainingAnimal(CASES["display-that-lies"]), replace(GOOD, setup_checked=False)
    highest = animal.inflate(unchecked, minute=0.0, number=1).recording.cuff_pressure_mmhg.max()
    assert highest == pytest.approx(180.0, abs=6.0)


@pytest.mark.parametrize("number", [1, 2])
@pytest.mark.parametrize("deflation", ["linear", "steps"])
@pytest.mark.parametrize("fall", [1.0, 12.0])
@pytest.mark.parametrize("top", [120.0, 300.0])
def test_the_ends_of_what_can_be_chosen_can_be_recorded(number: int, deflation: Any, fall: float, top: float) -> None:
    """Slowest and fastest, lowest and highest, by hand and in steps, with an irregular pulse and a display far off.

    Oracle: by construction: a recording refuses what it cannot be.
    """
    choices = replace(GOOD, inflate_to_mmhg=top, fall_mmhg_per_s=fall, deflation=deflation, setup_checked=False)
    for rhythm in ("regular", "atrial fibrillation"):
        case = replace(CASES["no-two-beats-alike"], pulse_rate=50.0, rhythm=rhythm)
        made = TrainingAnimal(case).inflate(choices, minute=0.0, number=number)
        assert made.truth.deflation == deflation
        assert made.truth.foot_s.size >= 1


@pytest.mark.parametrize(
    ("changed", "minute", "number", "code"),
    [
        ({"site": "forelimb"}, 0.0, 1, "site-not-there"),
        ({"site": "tail", "place": "home"}, 0.0, 1, "place-not-there"),
        ({"site": "tail"}, -1.0, 1, "impossible-inflation"),
        ({"site": "tail"}, 0.0, 0, "impossible-inflation"),
    ],
)
def test_what_the_case_does_not_have_is_told(changed: dict[str, Any], minute: float, number: int, code: str) -> None:
    """A bandaged limb, a place that cannot be had, a minute or number that cannot be.

    Oracle: by construction.
    """
    with pytest.raises(ParameterError) as raised:
        TrainingAnimal(CASES["happy-tail"]).inflate(replace(GOOD, **changed), minute=minute, number=number)
    assert raised.value.code == code
