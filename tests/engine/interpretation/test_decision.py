"""The decision flow, cell by cell."""

from __future__ import annotations

import pytest

from quietlimb.engine.interpretation.interpret import interpret_systolic

ABSENT = {"eyes": "absent", "brain": "absent", "heart": "absent", "kidneys": "absent"}
PRESENT = {**ABSENT, "kidneys": "present"}
NOT_EXAMINED: dict[str, str] = {}

FOUR_TO_EIGHT_WEEKS = (28.0, 56.0)
ONE_TO_TWO_WEEKS = (7.0, 14.0)
ONE_TO_THREE_DAYS = (1.0, 3.0)
TODAY = (0.0, 0.0)


def _next(systolic, organs, **more):
    found = interpret_systolic(systolic, species="cat", organs=organs, **more)
    return [(advice.code, advice.within_days) for advice in found.next]


TABLE = [
    (120, ABSENT, [("measure-by-risk", None)]),
    (120, PRESENT, [("look-for-another-cause", None), ("recheck-soon", None)]),
    (120, NOT_EXAMINED, [("measure-by-risk", None)]),
    (
        150,
        ABSENT,
        [("repeat-session-watch-closely", FOUR_TO_EIGHT_WEEKS), ("no-treatment-on-this-alone", None)],
    ),
    (
        150,
        PRESENT,
        [("look-for-another-cause", None), ("recheck", ONE_TO_TWO_WEEKS), ("treatment-on-judgement", None)],
    ),
    (
        150,
        NOT_EXAMINED,
        [
            ("organ-check-first", TODAY),
            ("repeat-session-watch-closely", FOUR_TO_EIGHT_WEEKS),
            ("no-treatment-on-this-alone", None),
        ],
    ),
    (170, ABSENT, [("repeat-session", FOUR_TO_EIGHT_WEEKS), ("treatment-if-persistent", None)]),
    (170, PRESENT, [("established-by-one-session", None), ("treatment-now", None)]),
    (
        170,
        NOT_EXAMINED,
        [
            ("organ-check-first", TODAY),
            ("repeat-session", FOUR_TO_EIGHT_WEEKS),
            ("treatment-if-persistent", None),
        ],
    ),
    (200, ABSENT, [("repeat-session", ONE_TO_TWO_WEEKS), ("treatment-if-persistent", None)]),
    (
        200,
        PRESENT,
        [("established-by-one-session", None), ("treatment-today", TODAY), ("recheck", ONE_TO_THREE_DAYS)],
    ),
    (
        200,
        NOT_EXAMINED,
        [
            ("eye-examination-urgent", TODAY),
            ("organ-check-first", TODAY),
            ("repeat-session", ONE_TO_TWO_WEEKS),
            ("treatment-if-persistent", None),
        ],
    ),
]


@pytest.mark.parametrize(("systolic", "organs", "expected"), TABLE)
def test_every_cell_of_the_decision_table(systolic, organs, expected):
    """Category against organ damage present, absent, not examined: the advice and its days.

    Oracle: from memory, ACVIM 2018 decision flow; 1-2 weeks at 180 and over published (WSAVA 2018, p. 382), one session
    with and two without damage published (Caney 2021); organs first when not looked for is common practice. Exact.
    """
    assert _next(systolic, organs) == expected


@pytest.mark.parametrize(
    ("below", "boundary"), [(139.999, 140.0), (159.999, 160.0), (179.999, 180.0), (139.5, 140.0), (179.5, 180.0)]
)
@pytest.mark.parametrize("organs", [ABSENT, PRESENT])
def test_the_flow_changes_at_the_boundary_itself(below, boundary, organs):
    """The unrounded value decides which cell applies.

    Oracle: from memory, ACVIM 2018: the boundary belongs to the higher category.
    """
    assert _next(below, organs) == _next(below - 5.0, organs)
    assert _next(boundary, organs) == _next(boundary + 5.0, organs)
    assert _next(below, organs) != _next(boundary, organs)


@pytest.mark.parametrize("eyes", ["not examined", "unclear"])
def test_eyes_are_urgent_at_180_even_when_another_organ_is_damaged(eyes):
    """Known kidney damage does not answer the question of the eyes.

    Oracle: common practice, the eye examination is urgent at 180 mmHg and over when not done.
    """
    assert _next(180.0, {"kidneys": "present", "eyes": eyes})[0] == ("eye-examination-urgent", TODAY)
    assert _next(179.9, {"kidneys": "present", "eyes": eyes})[0] != ("eye-examination-urgent", TODAY)


@pytest.mark.parametrize(
    ("systolic", "organs", "code"),
    [
        (150, ABSENT, "situational-likely"),
        (170, ABSENT, "situational-likely"),
        (200, ABSENT, "not-dismissed-as-situational"),
        (200, NOT_EXAMINED, "not-dismissed-as-situational"),
        (170, PRESENT, "situational-not-assumed"),
        (200, PRESENT, "situational-not-assumed"),
    ],
)
def test_a_suspected_situational_rise_adds_one_word_and_removes_none(systolic, organs, code):
    """The flow stays as it is; damage speaks against the suspicion, and 180 mmHg is never put down to it unseen.

    Oracle: common practice.
    """
    assert _next(systolic, organs, situational_likely=True) == [*_next(systolic, organs), (code, None)]


def test_low_pressure_is_confirmed_at_once():
    """Under 90 mmHg: another cuff or site, look at the animal, call. 90 itself is not low.

    Oracle: common practice.
    """
    assert _next(89.9, ABSENT) == [("confirm-low-pressure", TODAY), ("look-at-the-animal-and-call", TODAY)]
    assert _next(90.0, ABSENT) == [("measure-by-risk", None)]
    assert ("look-for-another-cause", None) in _next(89.9, PRESENT)


def test_a_low_mean_pressure_is_confirmed_too():
    """A mean under 65 mmHg counts when the systolic is not low.

    Oracle: common practice, which says 60 or 65; 65 chosen as the more careful.
    """
    assert _next(100, ABSENT, mean_mmhg=64.9)[0] == ("confirm-low-mean-pressure", TODAY)
    assert _next(100, ABSENT, mean_mmhg=65.0) == [("measure-by-risk", None)]


@pytest.mark.parametrize("sedation", ["sedated", "anaesthetised"])
def test_sedated_animals_stay_out_of_the_flow_for_high_pressure(sedation):
    """No category, no probabilities, no repeat window: measure again awake. Low pressure is still told.

    Oracle: from memory, ACVIM 2018: no sedation, no comparison with pressures taken awake.
    """
    found = interpret_systolic(200, species="dog", sedation=sedation, organs=PRESENT)
    assert [advice.code for advice in found.next] == ["sedated-outside-the-flow"]
    assert (found.category, found.today, found.animal, found.near_boundary) == (None, (), (), False)
    assert [code for code, _ in _next(80, ABSENT, sedation=sedation)] == [
        "confirm-low-pressure",
        "look-at-the-animal-and-call",
        "sedated-outside-the-flow",
    ]


def test_without_a_pressure_the_advice_is_to_measure_again():
    """No usable reading gives no category, and no advice about high pressure.

    Oracle: by construction.
    """
    found = interpret_systolic(None, species="cat", organs=PRESENT)
    assert [advice.code for advice in found.next] == ["measure-again"]
    assert (found.category, found.today, found.animal) == (None, (), ())


@pytest.mark.parametrize(("systolic", "organs", "expected"), TABLE)
def test_every_advice_names_its_source_and_standing(systolic, organs, expected):
    """No rule without its source.

    Oracle: by construction: the sources that the standards files name.
    """
    found = interpret_systolic(systolic, species="cat", organs=organs).next
    assert len(found) == len(expected)
    for advice in found:
        assert advice.source in {"ACVIM2018", "Caney2021", "WSAVA2018"}
        assert advice.place
        assert advice.standing == ("from memory" if advice.source == "ACVIM2018" else "published")
