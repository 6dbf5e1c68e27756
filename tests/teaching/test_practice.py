"""Good practice: what departs from it, and that each departure can be mended."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, get_args

import pytest

from quietlimb.engine.standards.cuff_width import judge_width
from quietlimb.simulator.training import CASES, Choices, TrainingAnimal
from quietlimb.teaching.practice import RULES, Code, all_mended, departures, fitting_width_cm, mended, quiet_place

GOOD = Choices(cuff_width_cm=7.5, inflate_to_mmhg=178.0)
# A choice that departs by each rule, and the case that shows it.
DEPARTING: dict[str, tuple[str, dict[str, Any]]] = {
    "acclimatisation": ("tall-and-upright", {"acclimatisation_min": 1.0}),
    "place": ("tall-and-upright", {"place": "waiting-room"}),
    "table": ("tall-and-upright", {"on_table": True}),
    "after-examination": ("tall-and-upright", {"before_examination": False}),
    "owner-away": ("everything-first", {"owner_present": False, "cuff_width_cm": 5.5}),
    "calming-drug": ("tall-and-upright", {"drug_free": False}),
    "position": ("tall-and-upright", {"position": "standing"}),
    "site": ("tall-and-upright", {"site": "hindlimb", "cuff_width_cm": 6.0}),
    "cuff-narrow": ("tall-and-upright", {"cuff_width_cm": 3.0}),
    "cuff-wide": ("tall-and-upright", {"cuff_width_cm": 9.0}),
    "cuff-below-heart": ("tall-and-upright", {"cuff_below_heart_cm": 6.5}),
    "cuff-above-heart": ("tall-and-upright", {"cuff_below_heart_cm": -6.5}),
    "limb-loaded": ("tall-and-upright", {"limb_loaded": True}),
    "tail-free": ("tall-and-upright", {"site": "tail", "tail_held": False, "cuff_width_cm": 5.0}),
    "inflation-low": ("tall-and-upright", {"inflate_to_mmhg": 130.0}),
    "inflation-high": ("tall-and-upright", {"inflate_to_mmhg": 260.0}),
    "deflation-fast": ("tall-and-upright", {"fall_mmhg_per_s": 9.0}),
    "deflation-slow": ("tall-and-upright", {"fall_mmhg_per_s": 1.0}),
    "fault-offset": (
        "display-that-lies",
        {"setup_checked": False, "cuff_width_cm": 2.5, "place": "carrier", "inflate_to_mmhg": 200.0},
    ),
    "fault-leak": (
        "hissing-tube",
        {"setup_checked": False, "cuff_width_cm": 3.0, "place": "carrier", "inflate_to_mmhg": 195.0},
    ),
    "fault-slipped": (
        "cuff-on-the-move",
        {"setup_checked": False, "cuff_width_cm": 4.0, "inflate_to_mmhg": 200.0},
    ),
}


def found(key: str, choices: Choices, number: int = 5) -> list[str]:
    return [each.code for each in departures(TrainingAnimal(CASES[key]), choices, minute=4.0, number=number)]


def test_every_code_has_a_rule_and_every_rule_an_example() -> None:
    """The codes, the rules and the examples of these tests are the same list.

    Oracle: by construction.
    """
    assert list(RULES) == list(get_args(Code)) == list(DEPARTING)
    assert {code for case in CASES.values() for code in case.teaches} <= set(RULES)


def test_good_choices_depart_from_nothing() -> None:
    """A calm way of doing it, in each case.

    Oracle: from memory, the protocol of ACVIM 2018; common practice.
    """
    assert found("tall-and-upright", GOOD) == []
    for case in CASES.values():
        site = next(iter(case.circumference_cm))
        choices = Choices(
            place=quiet_place(case),
            site=site,
            cuff_width_cm=fitting_width_cm(case, site),
            inflate_to_mmhg=case.resting.systolic + 45.0,
            fall_mmhg_per_s=min(3.0, 3.0 / case.period_s),
        )
        assert found(case.key, choices) == []


@pytest.mark.parametrize("code", RULES)
def test_each_choice_departs_alone_and_can_be_mended(code: Any) -> None:
    """The example departs by its own rule, and the choice mended departs by none.

    Oracle: by construction. On the tail of a dog there is nothing else to mend.
    """
    key, changed = DEPARTING[code]
    choices = replace(GOOD, **changed)
    assert found(key, choices) == [code]
    animal = TrainingAnimal(CASES[key])
    assert found(key, mended(animal, choices, code, minute=4.0, number=5)) == []


def test_everything_is_mended_at_once_but_for_one() -> None:
    """A session with all that can be wrong comes out right, and with one choice left departs by that alone.

    Oracle: by construction.
    """
    animal = TrainingAnimal(CASES["old-and-cross"])
    worst = Choices(
        place="waiting-room",
        acclimatisation_min=0.0,
        position="sitting",
        site="hindlimb",
        cuff_width_cm=1.0,
        cuff_below_heart_cm=15.0,
        inflate_to_mmhg=120.0,
        fall_mmhg_per_s=10.0,
        limb_loaded=True,
        before_examination=False,
        owner_present=False,
        drug_free=False,
    )
    assert len(departures(animal, worst, minute=0.0, number=1)) == 12
    best = all_mended(animal, worst, minute=0.0, number=1)
    assert departures(animal, best, minute=0.0, number=1) == ()
    narrow = all_mended(animal, worst, minute=0.0, number=1, but="cuff-narrow")
    assert [each.code for each in departures(animal, narrow, minute=0.0, number=1)] == ["cuff-narrow"]


def test_a_first_guess_that_is_too_high_is_no_departure() -> None:
    """Nobody knows the pressure before the first inflation; later the same top departs.

    Oracle: common practice.
    """
    animal, high = TrainingAnimal(CASES["tall-and-upright"]), replace(GOOD, inflate_to_mmhg=220.0)
    assert departures(animal, high, minute=0.0, number=1, first=True) == ()
    assert [each.code for each in departures(animal, high, minute=2.0, number=2)] == ["inflation-high"]


def test_a_mended_site_keeps_the_cuffs_share_of_the_limb() -> None:
    """A cuff too narrow at the hind limb is as much too narrow at the forelimb: one choice is mended, not two.

    Oracle: by construction.
    """
    animal = TrainingAnimal(CASES["tall-and-upright"])
    narrow = replace(GOOD, site="hindlimb", cuff_width_cm=3.2)
    moved = mended(animal, narrow, "site", minute=4.0, number=5)
    assert moved.site == "forelimb"
    assert animal.ratio(moved) == pytest.approx(animal.ratio(narrow))


def test_a_fitting_width_fits() -> None:
    """On every limb of every case.

    Oracle: from memory, 30 to 40 % by ACVIM 2018.
    """
    for case in CASES.values():
        for site, around in case.circumference_cm.items():
            assert judge_width(fitting_width_cm(case, site), around, case.species).fit == "fits"
