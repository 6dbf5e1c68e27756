"""The list of cautions about indirect pressure, one by one: which caution of ours says it, and when it is told."""

from __future__ import annotations

from typing import Any

import pytest

from engine.interpretation.examples import ALL_ABSENT, estimate, guideline
from quietlimb.engine.interpretation.background import Background, EarlierSession
from quietlimb.engine.interpretation.interpret import interpret_systolic
from quietlimb.words.cautions import sentence

LAST_WEEK = Background(history=(EarlierSession(days_ago=7, systolic_mmhg=150.0),))
UNEVEN = guideline(150.0, consistent=False, spread=0.3)
# Number in the list -> code of ours, words of its sentence, a case with it, a case without it (None: told always).
# Cases are told of a cat at 150 mmHg whose organs are all sound, unless they say otherwise.
LIST: dict[int, tuple[str, str, dict[str, Any], dict[str, Any] | None]] = {
    1: ("one-method-one-day", "no diagnosis", {"readings": 5}, {}),
    2: ("situational-rise", "15 to 20 mmHg", {}, {"systolic": 130.0}),
    3: ("normal-today-only", "does not rule out", {"systolic": 139.9}, {"systolic": 140.0}),
    4: ("one-session", "one session", {}, {"organs": {**ALL_ABSENT, "eyes": "present"}}),
    5: ("eyes-not-examined", "widened pupils", {"organs": {}}, {}),
    6: ("never-compare-methods", "not comparable", {}, None),
    7: ("no-indirect-method-proven", "No cuff device", {}, None),
    8: ("accuracy-falls-at-extremes", "very uneven", {"guideline": UNEVEN}, {"guideline": guideline(150.0)}),
    9: ("not-consistent", "no category is given", {"guideline": UNEVEN}, {"guideline": guideline(150.0)}),
    10: ("near-boundary", "within 3 mmHg", {"systolic": 157.0}, {"systolic": 156.9}),
    11: ("breed-differs", "higher or lower", {"background": Background(breed="Birman")}, {}),
    12: ("drug-in-record", "veterinarian to weigh", {"background": Background(drugs=("sodium",))}, {}),
    13: ("change-within-variation", "proves no change", {"background": LAST_WEEK}, {}),
    14: ("veterinarian-decides", "drugs and doses", {}, None),
    15: ("emergency-signs", "whatever the number", {"systolic": 120.0}, None),
    16: ("other-rule-sets-differ", "rule sets", {"systolic": 165.0}, {"systolic": 152.0}),
}


def _told(told: dict[str, Any]) -> dict[str, str]:
    whole: dict[str, Any] = {"systolic": 150.0, "species": "cat", "organs": ALL_ABSENT, **told}
    found = interpret_systolic(whole.pop("systolic"), **whole)
    return {caution.code: sentence(caution) for caution in found.cautions}


def test_the_list_has_sixteen_cautions_and_each_one_of_ours() -> None:
    """One to one: no number is missing, and no caution of ours stands for two.

    Oracle: common practice, the caution list.
    """
    assert list(LIST) == list(range(1, 17))
    assert len({code for code, *_ in LIST.values()}) == 16


@pytest.mark.parametrize("number", LIST)
def test_a_caution_of_the_list_is_told_where_it_applies(number: int) -> None:
    """With its words, and not where it does not apply; those of every value are told at any pressure.

    Oracle: common practice, the caution list; 3 mmHg and what is high are its own figures.
    """
    code, words, with_it, without_it = LIST[number]
    assert words in _told(with_it)[code]
    if without_it is None:
        assert all(code in _told({"systolic": value}) for value in (70.0, 120.0, 150.0, 200.0))
    else:
        assert code not in _told(without_it)


def test_a_dog_is_told_what_the_visit_does_to_dogs() -> None:
    """The second caution has a sentence for either species, and an animal one of them.

    Oracle: by construction.
    """
    assert "situational-rise-dogs" in _told({"species": "dog"})
    assert "situational-rise" not in _told({"species": "dog"})


def test_readings_that_broke_the_rule_give_no_category_and_no_status() -> None:
    """Neither category nor flow nor label; what the pressure probably is, is still told, and to start again.

    Oracle: common practice, number 9 of the list; from memory, ACVIM 2018: start again, and without consistent readings
    chart no valid value.
    """
    told: dict[str, Any] = {"species": "cat", "organs": ALL_ABSENT}
    found = interpret_systolic(estimate(170.0), guideline=UNEVEN, **told)
    assert found.category is None
    assert [each.probability for each in found.today] == [
        each.probability for each in interpret_systolic(estimate(170.0), guideline=guideline(170.0), **told).today
    ]
    assert [advice.code for advice in found.next] == ["start-again"]
    assert found.status is not None
    assert (found.status.name, found.status.left_out_why) == ("not established", ("not consistent",))
    # one spoiled reading among good ones takes no category away, and is told
    but_one = guideline(170.0, consistent=False, spread=0.3, consistent_but_for_spoiled=True)
    one_spoiled = interpret_systolic(estimate(170.0), guideline=but_one, **told)
    assert one_spoiled.category == "hypertensive"
    assert "consistent-but-for-spoiled" in {caution.code for caution in one_spoiled.cautions}
    # a spread that nobody could figure breaks nothing
    few = guideline(170.0, consistent=False, spread=None, enough=False, kept=(2,))
    assert interpret_systolic(estimate(170.0), guideline=few, **told).category == "hypertensive"


@pytest.mark.parametrize(
    ("systolic", "more", "codes"),
    [
        (190.0, {}, {"eye-examination-urgent"}),
        (190.0, {"organs": {"eyes": "present"}}, {"emergency-of-eyes-or-brain"}),
        (170.0, {}, set()),
        (85.0, {}, {"confirm-low-pressure", "look-at-the-animal-and-call"}),
        (105.0, {"rules": "isfm-2017", "background": Background(treated=True)}, {"too-low-under-treatment"}),
    ],
)
def test_what_is_urgent_does_not_wait_for_consistent_readings(systolic, more, codes) -> None:
    """Eyes at 180 and over, an emergency, low pressure, too low under treatment: beside starting again.

    Oracle: by construction, safety; the limits are those of ACVIM 2018 and ISFM 2017, from memory.
    """
    found = interpret_systolic(systolic, species="cat", guideline=UNEVEN, **more)
    assert {advice.code for advice in found.next} == codes | {"start-again"}
