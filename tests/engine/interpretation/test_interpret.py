"""From a charted pressure to its meaning."""

from __future__ import annotations

import math

import pytest
from scipy import stats

from engine.interpretation.examples import ALL_ABSENT, charted, estimate, guideline
from quietlimb.engine.errors import ParameterError
from quietlimb.engine.interpretation.background import Background, EarlierSession
from quietlimb.engine.interpretation.interpret import interpret, interpret_systolic


def _codes(found):
    return [advice.code for advice in found.next]


def test_the_charted_systolic_decides_and_today_is_narrower_than_the_animal():
    """Category from the charted value; the animal's probabilities are more spread out than today's.

    Oracle: by construction, the day-to-day part only adds spread.
    """
    found = interpret(charted(estimate(150.0, 3.0)), organs=ALL_ABSENT)
    assert found.rule_set == "ACVIM 2018"
    assert found.category == "prehypertensive"
    assert found.today[1].probability > 0.99
    assert 0.5 < found.animal[1].probability < 0.8
    assert found.day_to_day_sd == 10.0


def test_the_day_to_day_part_can_be_told():
    """A known animal's own spread takes the place of the default.

    Oracle: by construction.
    """
    found = interpret(charted(estimate(150.0)), day_to_day_sd=0.0)
    assert found.animal == found.today
    assert found.day_to_day_sd == 0.0


def test_a_charted_pressure_passes_on_what_a_plain_call_is_told():
    """Interpreting a charted pressure is interpreting its systolic with its circumstances.

    Oracle: a slower twin, the plain call with everything spelled out.
    """
    pressure = charted(
        estimate(165.0),
        circumstances={
            "species": "dog",
            "method": "doppler",
            "cuff_width_cm": 3.0,
            "limb_circumference_cm": 13.0,
            "cuff_below_heart_cm": -12.0,
            "acclimatisation_min": 2.0,
        },
        diastolic=estimate(90.0),
        mean=estimate(110.0),
        course="falling",
        guideline=guideline(158.0),
    )
    assert interpret(pressure, organs=ALL_ABSENT, situational_likely=True) == interpret_systolic(
        pressure.systolic,
        species="dog",
        method="doppler",
        organs=ALL_ABSENT,
        situational_likely=True,
        mean_mmhg=110.0,
        diastolic_given=True,
        readings=6,
        course="falling",
        guideline=pressure.guideline,
        cuff_width_cm=3.0,
        limb_circumference_cm=13.0,
        cuff_below_heart_cm=-12.0,
        acclimatisation_min=2.0,
    )


def test_the_fall_the_breed_and_the_place_of_a_series_are_passed_on():
    """A fall of 12 mmHg is a clue, the breed has its remark, and a session at home is no session away from home.

    Oracle: by construction; common practice, a fall of 10 and more through the session is a clue.
    """
    around = {"species": "dog", "breed": "Saluki", "place": "home"}
    found = interpret(charted(estimate(170.0), circumstances=around, fall_mmhg=12.0), organs=ALL_ABSENT)
    assert [(clue.code, dict(clue.numbers)) for clue in found.clues] == [("fell-through-session", {"fall_mmhg": 12.0})]
    assert found.breed.breed == "Saluki"
    told = interpret(charted(estimate(170.0), circumstances=around), background=Background(breed="beagle"))
    assert told.breed.breed == "beagle"
    normal = Background(history=(EarlierSession(days_ago=2, systolic_mmhg=130.0, place="home"),))
    at_home = interpret(charted(estimate(170.0), circumstances=around), organs=ALL_ABSENT, background=normal)
    away = interpret(
        charted(estimate(170.0), circumstances={**around, "place": "consulting-room"}),
        organs=ALL_ABSENT,
        background=normal,
    )
    assert (at_home.status.name, away.status.name) == ("suspected", "situational")


def test_the_chance_that_the_pressure_is_low():
    """Half at 90 mmHg; told for a sedated animal too, and not without a pressure.

    Oracle: by construction, symmetry of the normal law about the limit of common practice.
    """
    assert interpret_systolic(estimate(90.0), species="cat").low_today == pytest.approx(0.5, abs=1e-12)
    assert interpret_systolic(80.0, species="cat", sedation="anaesthetised").low_today == 1.0
    assert interpret_systolic(None, species="cat").low_today is None


def test_low_pressure_of_the_animal_holds_the_day_and_the_method():
    """At 100 mmHg, own part 3 and shared part 4, day 10: with a method of 8 that stands in place of the 4.

    Oracle: reference library, scipy.stats.norm. Tolerance 1e-6, from the six decimals of 1.959964 in the interval.
    """
    found = interpret_systolic(estimate(100.0), species="cat", day_to_day_sd=10.0)
    assert found.low_animal == pytest.approx(stats.norm.cdf(90.0, 100.0, math.hypot(5.0, 10.0)), abs=1e-6)
    found = interpret_systolic(estimate(100.0), species="cat", day_to_day_sd=10.0, method_sd=8.0)
    assert found.low_animal == pytest.approx(stats.norm.cdf(90.0, 100.0, math.hypot(3.0, 10.0, 8.0)), abs=1e-6)
    assert interpret_systolic(80.0, species="cat", sedation="sedated").low_animal is None


@pytest.mark.parametrize("spread", [-1.0, math.nan, math.inf])
def test_an_impossible_error_of_the_method_is_refused(spread):
    """A standard deviation is 0 or more and finite.

    Oracle: by construction.
    """
    with pytest.raises(ParameterError) as caught:
        interpret_systolic(150.0, species="cat", method_sd=spread)
    assert caught.value.code == "impossible-method-error"


def test_sedation_of_the_series_is_heeded():
    """A sedated series gets no category.

    Oracle: from memory, ACVIM 2018.
    """
    found = interpret(charted(estimate(190.0), circumstances={"sedation": "sedated"}))
    assert found.category is None
    assert _codes(found) == ["sedated-outside-the-flow"]


def test_no_usable_reading_is_an_answer():
    """Category None, empty probabilities, organs still listed, advice to measure again.

    Oracle: by construction.
    """
    found = interpret(charted(None, guideline=guideline(None, kept=(), enough=False, consistent=False)))
    assert found.category is None
    assert (found.today, found.animal) == ((), ())
    assert _codes(found) == ["measure-again"]
    assert len(found.organs) == 4


def test_two_values_in_two_categories_are_both_told():
    """Charted 158, guideline 161: both stand in the advice, and the charted value keeps its category.

    Oracle: by construction.
    """
    found = interpret(charted(estimate(158.0), guideline=guideline(161.0)), organs=ALL_ABSENT)
    told = found.next[0]
    assert found.category == "prehypertensive"
    assert told.code == "two-values-two-categories"
    assert told.numbers == {"charted_mmhg": 158.0, "guideline_mmhg": 161.0}


def test_two_values_in_one_category_leave_nothing_to_choose():
    """Charted 150, guideline 157: no advice about it.

    Oracle: by construction.
    """
    found = interpret(charted(estimate(150.0), guideline=guideline(157.0)), organs=ALL_ABSENT)
    assert "two-values-two-categories" not in _codes(found)


def test_too_few_readings_ask_for_more():
    """Three kept where the guideline asks for five.

    Oracle: from memory, ACVIM 2018: 5 to 7 readings.
    """
    found = interpret(charted(estimate(150.0), guideline=guideline(150.0, kept=(2, 3, 4), enough=False)))
    told = next(advice for advice in found.next if advice.code == "take-more-readings")
    assert told.numbers == {"kept": 3.0, "needed": 5.0}


def test_readings_that_do_not_agree_ask_for_a_new_start():
    """A set beyond the 20 % rule: another cuff, site, room or rest.

    Oracle: from memory, ACVIM 2018.
    """
    found = interpret(charted(estimate(150.0), guideline=guideline(150.0, consistent=False, spread=0.31)))
    assert "start-again" in _codes(found)
    assert "not-consistent" in {caution.code for caution in found.cautions}


def test_measuring_goes_on_before_anything_else_unless_the_pressure_is_low():
    """The cuff is still on: first more readings, then the flow; a low pressure comes before both.

    Oracle: by construction.
    """
    assert _codes(interpret(charted(estimate(200.0), course="falling")))[0] == "wait-until-level"
    low = _codes(interpret(charted(estimate(80.0), course="falling")))
    assert (low[0], low[-1]) == ("look-at-the-animal-and-call", "wait-until-level")


@pytest.mark.parametrize(
    ("course", "fall_mmhg", "asked"),
    [("rising", -4.0, True), ("unclear", -10.0, True), ("unclear", -9.9, False), ("level", -10.0, False)],
)
def test_a_rise_through_the_session_asks_to_settle(course, fall_mmhg, asked):
    """Rising, or not known to be and up by 10 mmHg: settle and go on.

    Oracle: common practice; 10 mmHg is that of a fall that speaks for the visit.
    """
    found = interpret(charted(estimate(150.0), course=course, fall_mmhg=fall_mmhg))
    assert ("settle-while-rising" in _codes(found)) is asked


def test_an_average_that_broke_its_rule_is_nothing_to_choose():
    """Consistent but for a spoiled reading: the charted pressure has the category, and the average none.

    Oracle: from memory, ACVIM 2018: readings that are not consistent are not averaged.
    """
    average = guideline(165.0, consistent=False, spread=0.3, consistent_but_for_spoiled=True)
    found = interpret(charted(estimate(150.0), guideline=average))
    assert found.category == "prehypertensive"
    assert not {"two-values-two-categories", "start-again"} & set(_codes(found))


def test_a_falling_course_asks_to_go_on():
    """Still falling: go on until it levels off.

    Oracle: from memory, ACVIM 2018.
    """
    assert "wait-until-level" in _codes(interpret(charted(estimate(150.0), course="falling")))
    assert "wait-until-level" not in _codes(interpret(charted(estimate(150.0), course="level")))


@pytest.mark.parametrize("systolic", [0.0, -5.0, 351.0, math.nan, math.inf])
def test_impossible_pressures_are_refused(systolic):
    """Not a pressure: an error with a remedy that remembers kPa.

    Oracle: by construction.
    """
    with pytest.raises(ParameterError, match="kPa") as caught:
        interpret_systolic(systolic, species="cat")
    assert caught.value.code == "impossible-pressure"


@pytest.mark.parametrize("spread", [-1.0, math.nan, math.inf])
def test_impossible_spread_is_refused(spread):
    """A standard deviation is 0 or more and finite.

    Oracle: by construction.
    """
    with pytest.raises(ParameterError) as caught:
        interpret_systolic(150.0, species="cat", day_to_day_sd=spread)
    assert caught.value.code == "impossible-day-to-day"


def test_unknown_species_is_refused():
    """Only cats and dogs, by the two methods.

    Oracle: by construction.
    """
    with pytest.raises(ParameterError) as caught:
        interpret_systolic(150.0, species="rabbit")
    assert caught.value.code == "unknown-species-or-method"


@pytest.mark.parametrize(
    ("systolic", "mean", "diastolic", "words"),
    [
        (150.0, 150.0, None, "mean pressure of 150 mmHg is not under the systolic one of 150"),
        (150.0, 170.0, 90.0, "mean pressure of 170"),
        (150.0, 110.0, 110.0, "diastolic pressure of 110 mmHg is not under the mean one"),
        (150.0, None, 151.0, "diastolic pressure of 151 mmHg is not under the systolic one"),
        (None, 100.0, 120.0, "diastolic pressure of 120 mmHg is not under the mean one"),
    ],
)
def test_pressures_that_contradict_each_other_are_refused(systolic, mean, diastolic, words):
    """Diastolic < mean < systolic, at the edge and beyond, with any of them left out.

    Oracle: by construction, what the three words mean.
    """
    with pytest.raises(ParameterError) as caught:
        interpret_systolic(systolic, species="cat", mean_mmhg=mean, diastolic_mmhg=diastolic)
    assert caught.value.code == "pressures-out-of-order"
    assert words in caught.value.says
    assert "swapped" in caught.value.remedy
    interpret_systolic(150.0, species="cat", mean_mmhg=149.9, diastolic_mmhg=149.8)
