"""Which caution applies when."""

from __future__ import annotations

import pytest

from engine.interpretation.examples import ALL_ABSENT, estimate, guideline
from quietlimb.engine.interpretation.background import Background, EarlierSession
from quietlimb.engine.interpretation.cautions import CAUTION_CODES
from quietlimb.engine.interpretation.interpret import interpret_systolic

CALM = {"species": "cat", "organs": ALL_ABSENT}
LAST_WEEK = EarlierSession(days_ago=7, systolic_mmhg=150.0, method="doppler")
AT_HOME = Background(history=(EarlierSession(days_ago=7, systolic_mmhg=140.0, place="home"),))
ALWAYS = {"emergency-signs", "veterinarian-decides", "not-a-certified-device"}
WITH_A_PRESSURE = ALWAYS | {"no-indirect-method-proven", "never-compare-methods"}


def _cautions(systolic, **more):
    found = interpret_systolic(systolic, **{**CALM, **more})
    return {caution.code: caution.numbers for caution in found.cautions}


def test_a_quiet_normal_session_carries_the_general_cautions_only():
    """Normal, level, organs examined: nothing beyond what is true of every value.

    Oracle: by construction.
    """
    assert set(_cautions(estimate(120.0))) == WITH_A_PRESSURE | {"normal-today-only"}


def test_without_a_pressure_only_what_is_always_true_remains():
    """No value, so nothing about values.

    Oracle: by construction.
    """
    assert set(_cautions(None)) == ALWAYS


@pytest.mark.parametrize(
    ("code", "with_it", "without_it"),
    [
        ("situational-rise", {"systolic": 150.0}, {"systolic": 139.9}),
        ("situational-rise", {"systolic": 150.0}, {"systolic": 150.0, "organs": {"eyes": "present"}}),
        ("one-session", {"systolic": 150.0}, {"systolic": 150.0, "organs": {"eyes": "present"}}),
        ("organs-not-examined", {"organs": {**ALL_ABSENT, "eyes": "unclear"}}, {}),
        ("near-boundary", {"systolic": estimate(141.0, 4.0)}, {"systolic": estimate(150.0, 4.0)}),
        ("diastolic-least-certain", {"diastolic_given": True}, {"diastolic_given": False}),
        ("cuff-does-not-fit", {"cuff_width_cm": 4.0, "limb_circumference_cm": 8.0}, {"cuff_width_cm": 4.0}),
        (
            "cuff-does-not-fit",
            {"cuff_width_cm": 2.9, "limb_circumference_cm": 10.0},
            {"cuff_width_cm": 3.0, "limb_circumference_cm": 10.0},
        ),
        ("cuff-off-heart-level", {"cuff_below_heart_cm": 10.0}, {"cuff_below_heart_cm": 6.4}),
        ("cuff-off-heart-level", {"cuff_below_heart_cm": -6.5}, {"cuff_below_heart_cm": -6.4}),
        ("height-counted-by-guideline", {"cuff_below_heart_cm": -10.1}, {"cuff_below_heart_cm": 10.0}),
        ("short-acclimatisation", {"acclimatisation_min": 4.9}, {"acclimatisation_min": 5.0}),
        ("settled-under-an-hour", {"acclimatisation_min": 59.9}, {"acclimatisation_min": 60.0}),
        ("settled-under-an-hour", {"acclimatisation_min": 5.0}, {"acclimatisation_min": 4.9}),
        (
            "settled-under-an-hour",
            {"acclimatisation_min": 10.0},
            {"acclimatisation_min": 10.0, "species": "dog"},
        ),
        ("settled-under-an-hour", {"acclimatisation_min": 10.0}, {"acclimatisation_min": 10.0, "systolic": 139.9}),
        ("situational-rise-dogs", {"species": "dog"}, {"species": "cat"}),
        ("situational-rise", {"species": "cat"}, {"species": "dog"}),
        ("one-method-one-day", {"readings": 5}, {}),
        (
            "accuracy-falls-at-extremes",
            {"guideline": guideline(150.0, consistent=False, spread=0.3)},
            {"guideline": guideline(150.0)},
        ),
        (
            "higher-at-home",
            {"systolic": 130.0, "background": AT_HOME},
            {"systolic": 130.0, "background": AT_HOME, "place": "home"},
        ),
        ("higher-at-home", {"systolic": 139.9, "background": AT_HOME}, {"systolic": 140.0, "background": AT_HOME}),
        (
            "usual-first-fall",
            {"background": Background(treated=True, treatment_moved=True)},
            {"background": Background(treated=True)},
        ),
        (
            "usual-first-fall",
            {"background": Background(treated=True, treatment_moved=True)},
            {"background": Background(treated=True, treatment_moved=True), "species": "dog"},
        ),
        (
            "dogs-often-stay-high",
            {"background": Background(treated=True), "species": "dog", "systolic": 160.0},
            {"background": Background(treated=True), "species": "dog", "systolic": 159.9},
        ),
        (
            "recheck-texts-differ",
            {"background": Background(treated=True, treatment_moved=True)},
            {"background": Background(treated=True)},
        ),
        ("sedated", {"sedation": "sedated"}, {"sedation": "awake"}),
        ("may-be-low", {"systolic": estimate(92.0, 8.0)}, {"systolic": estimate(120.0, 8.0)}),
        (
            "weakness-not-told",
            {"systolic": 118.0, "background": Background(treated=True)},
            {"systolic": 118.0, "background": Background(treated=True, weak=False)},
        ),
        ("still-falling", {"course": "falling"}, {"course": "rising"}),
        ("still-rising", {"course": "rising"}, {"course": "falling"}),
        (
            "not-consistent",
            {"guideline": guideline(150.0, consistent=False, spread=0.3)},
            {"guideline": guideline(150.0, consistent=False, spread=None, enough=False)},
        ),
        ("few-readings", {"guideline": guideline(150.0, enough=False)}, {"guideline": guideline(150.0)}),
        ("few-readings", {"readings": 4}, {"readings": 5}),
        ("near-boundary", {"systolic": estimate(153.0, 5.1)}, {"systolic": estimate(153.0, 3.0)}),
        ("near-boundary", {"systolic": 137.0}, {"systolic": 136.9}),
        ("near-boundary", {"systolic": 163.0}, {"systolic": 163.1}),
        ("breed-differs", {"background": Background(breed="Birman")}, {"background": Background(breed="Siamese")}),
        ("hardly-ever-so-high", {"systolic": 260.0}, {"systolic": 259.9}),
        ("accuracy-falls-at-extremes", {"systolic": 180.0}, {"systolic": 179.9}),
        ("normal-today-only", {"systolic": 139.9}, {"systolic": 140.0}),
        ("normal-today-only", {"systolic": 90.0}, {"systolic": 89.9}),
        ("eyes-not-examined", {"organs": {**ALL_ABSENT, "eyes": "unclear"}}, {}),
        (
            "other-eye-not-examined",
            {"organs": {"left eye": "present"}},
            {"organs": {"left eye": "present", "right eye": "absent"}},
        ),
        ("other-eye-not-examined", {"organs": {"left eye": "present"}}, {"organs": {"left eye": "absent"}}),
        ("eyes-not-examined", {"organs": {}}, {"organs": {}, "systolic": 120.0}),
        ("drug-in-record", {"background": Background(drugs=("glucocorticoid",))}, {"background": Background(drugs=())}),
        (
            "condition-in-record",
            {"background": Background(conditions=("diabetes",))},
            {"background": Background(conditions=())},
        ),
        ("one-session", {}, {"background": Background(history=(LAST_WEEK,))}),
        ("one-session", {}, {"background": Background(treated=True)}),
        ("other-rule-sets-differ", {"systolic": 165.0}, {"systolic": 152.0}),
        ("other-rule-sets-differ", {"systolic": 149.9}, {"systolic": 150.0}),
        (
            "diastolic-in-higher-category",
            {"systolic": 145.0, "rules": "acvim-2007", "diastolic_mmhg": 95.0},
            {"systolic": 145.0, "rules": "acvim-2007", "diastolic_mmhg": 94.9},
        ),
        ("diastolic-in-higher-category", {"rules": "iris-2015", "diastolic_mmhg": 120.0}, {"diastolic_mmhg": 120.0}),
        ("below-healthy-cats", {"systolic": 104.4, "method": "doppler"}, {"systolic": 104.5, "method": "doppler"}),
        ("below-healthy-cats", {"systolic": 90.0, "method": "doppler"}, {"systolic": 89.9, "method": "doppler"}),
        ("below-healthy-cats", {"systolic": 100.0, "method": "doppler"}, {"systolic": 100.0}),
    ],
)
def test_each_caution_appears_with_its_condition_and_not_without(code, with_it, without_it):
    """On either side of the condition.

    Oracle: common practice (the caution list) with the limits of ACVIM 2018, from memory.
    """
    assert code in _cautions(**{"systolic": 150.0, **with_it})
    assert code not in _cautions(**{"systolic": 150.0, **without_it})


@pytest.mark.parametrize(("systolic", "proves_nothing"), [(179.8, True), (180.0, False), (120.2, True), (120.0, False)])
def test_a_change_within_what_chance_makes_is_told(systolic, proves_nothing):
    """From 150 mmHg to today's mean of five readings by Doppler in a dog, the edges lie 29.9 mmHg on either side.

    Oracle: by construction, by hand: sqrt(9.02^2 / 5 + 10^2) = 10.79, times 1.96 sqrt 2 is 29.9.
    """
    told = {"species": "dog", "method": "doppler", "readings": 5, "background": Background(history=(LAST_WEEK,))}
    assert ("change-within-variation" in _cautions(systolic, **told)) is proves_nothing


@pytest.mark.parametrize(
    ("species", "at_goal", "days"),
    [("cat", False, (3, 14)), ("dog", False, (7, 14)), ("cat", True, (30, 180)), ("dog", True, (30, 180))],
)
def test_how_far_texts_differ_on_the_next_look(species, at_goal, days):
    """After a change 3 to 14 days, 7 to 14 without the texts on cats; at the goal 1 to 6 months.

    Oracle: published and from memory, the windows of `follow_up_in_print`.
    """
    past = tuple(EarlierSession(days_ago=day, systolic_mmhg=150.0, treated=True) for day in (20, 10))
    background = Background(treated=True, treatment_moved=not at_goal, history=past if at_goal else ())
    told = _cautions(150.0, species=species, background=background)["recheck-texts-differ"]
    assert (told["from_days"], told["to_days"]) == days


@pytest.mark.parametrize(
    ("past", "today"),
    [
        (EarlierSession(days_ago=7, systolic_mmhg=150.0, method="oscillometric"), {}),
        (EarlierSession(days_ago=7, systolic_mmhg=150.0, method="doppler", site="tail"), {"site": "forelimb"}),
    ],
)
def test_another_method_or_site_is_not_compared(past, today):
    """A break in the comparison is told, and no change.

    Oracle: common practice, the comparability of sessions: method and site must match.
    """
    told = _cautions(150.0, method="doppler", background=Background(history=(past,)), **today)
    assert "not-comparable-with-last" in told
    assert "change-within-variation" not in told
    assert "not-comparable-with-last" not in _cautions(
        150.0, method="doppler", background=Background(history=(LAST_WEEK,)), **today
    )


def test_every_caution_carries_the_numbers_that_its_code_promises():
    """Some crowded cases use every code with just its numbers.

    Oracle: by construction, the table of codes.
    """
    crowded = {
        "organs": {},
        "diastolic_given": True,
        "course": "falling",
        "guideline": guideline(150.0, consistent=False, spread=0.3, enough=False, kept=(2, 3)),
        "cuff_width_cm": 4.0,
        "limb_circumference_cm": 8.0,
        "cuff_below_heart_cm": 15.0,
        "acclimatisation_min": 1.0,
        "background": Background(drugs=("stimulant",), conditions=("diabetes",)),
    }
    again = Background(history=(EarlierSession(days_ago=7, systolic_mmhg=178.0),))
    elsewhere = Background(history=(EarlierSession(days_ago=7, systolic_mmhg=178.0, method="doppler"),))
    seen = _cautions(estimate(165.0), background=again) | _cautions(estimate(165.0), background=elsewhere)
    seen |= _cautions(145.0, rules="acvim-2007", diastolic_mmhg=96.0) | _cautions(100.0, method="doppler")
    moved = Background(treated=True, treatment_moved=True)
    seen |= _cautions(165.0, background=moved, acclimatisation_min=10.0, organs={"left eye": "present"})
    seen |= _cautions(165.0, acclimatisation_min=10.0)
    seen |= _cautions(165.0, background=moved, species="dog") | _cautions(130.0, background=AT_HOME)
    seen |= _cautions(estimate(181.0), **crowded) | _cautions(150.0, species="dog") | _cautions(150.0, readings=3)
    seen |= _cautions(estimate(120.0), **crowded) | _cautions(estimate(120.0), sedation="sedated")
    seen |= _cautions(estimate(165.0), **{**crowded, "guideline": None})
    seen |= _cautions(150.0, background=Background(breed="Birman"))
    seen |= _cautions(150.0, guideline=guideline(160.0, consistent=False, spread=0.3, consistent_but_for_spoiled=True))
    seen |= _cautions(estimate(118.0), background=Background(treated=True)) | _cautions(estimate(94.0, 8.0))
    seen |= _cautions(270.0) | _cautions(150.0, course="rising")
    assert set(seen) == set(CAUTION_CODES)
    for code, numbers in seen.items():
        assert set(numbers) == set(CAUTION_CODES[code])


@pytest.mark.parametrize(
    ("code", "told", "sources"),
    [
        (
            "situational-rise",
            {"systolic": 165.0},
            {("Caney2021", "published"), ("Sastravaha2020", "derived"), ("Belew1999", "published")},
        ),
        ("near-boundary", {"systolic": 161.0}, {("Quietlimb", "invented")}),
        (
            "settled-under-an-hour",
            {"systolic": 165.0, "acclimatisation_min": 20.0},
            {("Sastravaha2020", "published"), ("Sastravaha2020", "derived")},
        ),
        ("no-indirect-method-proven", {"systolic": 165.0}, set()),
    ],
)
def test_a_printed_figure_has_its_source_and_standing(code, told, sources):
    """Figures that are not of this session say where they stand; a caution without figures has nothing to say.

    Oracle: by construction, the numbers that the sentence tells, as they are cited.
    """
    found = interpret_systolic(**{**CALM, **told})
    caution = next(each for each in found.cautions if each.code == code)
    assert set(caution.sources) == sources
