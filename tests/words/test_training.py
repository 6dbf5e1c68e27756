"""The debrief of the training animal in words."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, get_args

import pytest

from quietlimb.engine.values import Estimate
from quietlimb.simulator.training import CASES, CHOICE_NAMES, Displayed
from quietlimb.simulator.training.display import Failure
from quietlimb.teaching.debriefing import Cost, Debrief
from quietlimb.teaching.marks import GRADES, Grade
from quietlimb.teaching.practice import RULES, Departure
from quietlimb.teaching.to_the_owner import judge
from quietlimb.words import training
from words.examples import a_cost, a_debrief, a_judged


@pytest.mark.parametrize("code", RULES)
def test_each_choice_has_its_sentence_its_cost_and_its_source(code: Any) -> None:
    """Nothing of a format is left, figures stand in it, and the rule says where it is from.

    Oracle: by construction.
    """
    cost = a_cost(code)
    for said in (training.done_sentence(cost.departure), training.cost_sentence(cost), training.rule_line(cost)):
        assert said
        assert "{" not in said
        assert "None" not in said
    assert training.rule_line(cost).startswith("Rule: ")


@pytest.mark.parametrize(
    ("code", "chosen", "says"),
    [
        ("acclimatisation", 0.534821, "First inflation half a minute after coming in: it wants 5 min"),
        ("acclimatisation", 0.2, "First inflation less than half a minute after"),
        ("acclimatisation", 1.97, "First inflation 1 min after"),
        ("acclimatisation", 4.9, "First inflation 4 min after"),
        ("cuff-below-heart", 12.3456, "Cuff 12.3 cm below the heart"),
        ("deflation-fast", 6.0, "A fall of 6 mmHg a second"),
        ("fault-leak", 0.351234, "Cuff or tube lost 0.35 mmHg a second"),
    ],
)
def test_figures_are_told_as_somebody_would_say_them(code: Any, chosen: float, says: str) -> None:
    """Minutes that have passed, and no more digits than anybody chose by.

    Oracle: by construction.
    """
    assert training.done_sentence(Departure(code=code, chosen=chosen, wanted=5.0)).startswith(says)


@pytest.mark.parametrize(
    ("reached", "says"),
    [
        (317.2, "300 mmHg were meant and the cuff reached 317: some 210 mmHg would do, and be over sooner."),
        (None, "Inflated to 300 mmHg: some 210 mmHg would do, and be over sooner."),
    ],
)
def test_what_the_cuff_reached_is_told_where_it_differs(reached: float | None, says: str) -> None:
    """What was meant and what came of it.

    Oracle: by construction.
    """
    one = Departure(code="inflation-high", chosen=300.0, wanted=210.0, reached=reached)
    assert training.done_sentence(one) == says
    low = training.done_sentence(Departure(code="inflation-low", chosen=170.0, wanted=184.0, reached=185.0))
    assert low.startswith("170 mmHg were meant and the cuff reached 185: mean some 184 mmHg")


@pytest.mark.parametrize(
    ("changed", "says"),
    [
        ({"found_mmhg": 24.6}, "It moved the charted pressure by +25 mmHg. The model of the animal says +25."),
        ({"found_mmhg": 0.4}, "It hardly moved the charted pressure. The model of the animal says +25."),
        (
            {"found_mmhg": -3.0, "beside": "mended", "rule": RULES["limb-loaded"], "readings": 1},
            "With all else mended it moves the charted pressure by -3 mmHg. With it mended 1 reading more is usable.",
        ),
        ({"found_mmhg": None, "readings": 4}, "With it mended 4 readings more are usable."),
        (
            {"found_mmhg": 0.2, "widened_mmhg": 4.2, "rule": RULES["deflation-fast"]},
            "It hardly moved the charted pressure. The interval was wider for it by 4 mmHg to either side.",
        ),
        (
            {"found_mmhg": 0.4, "lost": (2, 3, 4), "readings": 3, "rule": RULES["limb-loaded"]},
            "Inflations 2, 3, 4 were taken so, and their readings were lost. "
            "With it mended 3 readings more are usable.",
        ),
        (
            {"found_mmhg": 6.0, "lost": (2,), "rule": RULES["limb-loaded"]},
            "Inflation 2 was taken so, and its reading was lost. It moved the charted pressure by +6 mmHg.",
        ),
        (
            {"found_mmhg": None, "widened_mmhg": None, "lost": (2,)},
            "Inflation 2 was taken so, and its reading was lost.",
        ),
        (
            {"found_mmhg": 0.2, "lost_too": (1, 2), "rule": RULES["limb-loaded"]},
            "Inflations 1, 2 were lost; mending this alone does not bring them back: they were lost to another "
            "choice too.",
        ),
        (
            {"found_mmhg": None, "widened_mmhg": None, "lost_besides": (4,), "rule": RULES["limb-loaded"]},
            "Inflation 4 was lost to something else.",
        ),
        (
            {"found_mmhg": None, "widened_mmhg": None},
            "What it cost cannot be told: too few readings could be used.",
        ),
        (
            {"found_mmhg": None, "widened_mmhg": None, "rule": RULES["deflation-fast"]},
            "With it mended no reading more is usable.",
        ),
    ],
)
def test_a_cost_is_told_as_it_was_found(changed: dict[str, Any], says: str) -> None:
    """Moved, hardly moved, found beside mended choices, readings alone, or not to be told.

    Oracle: by construction.
    """
    cost: Cost = replace(a_cost("position"), **changed)
    assert training.cost_sentence(cost) == says


@pytest.mark.parametrize(
    ("charted", "says"),
    [
        (150.0, "Charted: 150 mmHg, 22 above."),
        (120.0, "Charted: 120 mmHg, 8 below."),
        (128.2, "Charted: 128 mmHg, the same."),
        (None, "mean 96."),
    ],
)
def test_the_truth_stands_beside_what_was_charted(charted: float | None, says: str) -> None:
    """Above, below, the same, or nothing.

    Oracle: by construction, 128 mmHg at rest.
    """
    said = training.truth_sentence(a_debrief(charted))
    assert said.startswith("At rest, calm, at the level of the heart: 128/78 mmHg, mean 96.")
    assert said.endswith(says)


@pytest.mark.parametrize("grade", get_args(Grade))
def test_each_grade_tells_its_limit_and_its_source(grade: Grade) -> None:
    """The limit that it is within or beyond.

    Oracle: by construction, the table of grades.
    """
    said = training.grade_sentence(grade)
    limit = GRADES[grade] or GRADES["off"]
    assert limit is not None
    assert (f"{limit.value:g} mmHg" in said) is (grade != "nothing charted")
    assert ("(" in said) is (grade != "nothing charted")


def test_what_became_of_the_inflations() -> None:
    """Kept and of no use, thrown out and good, how many in how long, and what the protocol misses.

    Oracle: by construction.
    """
    told: Debrief = replace(a_debrief(150.0), spoiled_kept=(2,), good_discarded=(3, 5))
    said = training.readings_sentences(told)
    assert said[0] == "Inflation 2 was kept and says nothing on the systolic pressure."
    assert said[1] == "Inflations 3, 5 were thrown out and would have been good ones."
    assert "min from coming in" in said[2]
    assert said[-1].startswith("Stopped early: 0 readings go into the protocol's average; it asks for 5")
    assert training.readings_sentences(replace(told, enough=True, consistent=False))[-1].startswith("The readings vary")
    assert len(training.readings_sentences(replace(told, enough=True, consistent=True))) == 3


def test_what_the_engine_charts_is_told() -> None:
    """For the readings as they were, and with every choice mended.

    Oracle: by construction.
    """
    value = Estimate(value=131.0, low=121.0, high=141.0, own_sd=5.0, shared_sd=0.0)
    told = replace(a_debrief(150.0), measured=value, all_mended=replace(value, value=128.0), costs=(a_cost("table"),))
    assert training.engine_sentence(told) == (
        "For these readings Quietlimb charts 131 mmHg; with every choice mended it is 128 mmHg."
    )
    assert training.engine_sentence(replace(told, costs=())) == "For these readings Quietlimb charts 131 mmHg."
    assert training.engine_sentence(replace(told, measured=None)).endswith("it is 128 mmHg.")
    assert training.engine_sentence(replace(told, all_mended=None)).startswith("Even with")


def test_a_display_shows_numbers_or_why_not() -> None:
    """As an instrument would, and each failure in words.

    Oracle: by construction.
    """
    shown = Displayed(systolic=142, mean=106, diastolic=88, pulse_rate=120)
    assert training.display_words(shown) == "142/88 (106) mmHg, 120 a minute"
    for failure in get_args(Failure):
        assert training.display_words(Displayed(failure=failure)).startswith("No number: ")


def test_every_choice_and_every_departure_has_its_name() -> None:
    """In the order of the choices and of the rules, each once, and no name twice.

    Oracle: by construction.
    """
    assert tuple(training.CHOICES) == CHOICE_NAMES
    assert list(training.NAMES) == list(training.DONE) == list(RULES)
    assert len({training.choice_label(name) for name in CHOICE_NAMES}) == len(CHOICE_NAMES)
    assert len({training.departure_name(code) for code in RULES}) == len(RULES)


def test_every_difficulty_has_a_name_and_every_page_its_word() -> None:
    """And the word says that it is no patient.

    Oracle: by construction.
    """
    assert len({training.difficulty_name(case.difficulty) for case in CASES.values()}) == 3
    assert "not a patient" in training.invented_sentence()


def test_only_those_inflations_stand_beside_a_figure_that_departed_by_it() -> None:
    """Two went to 230 mmHg, whatever would have done then; others, to 180 and 200, are told apart.

    Oracle: by construction.
    """
    tops = {2: 180.0, 3: 200.0, 5: 230.0, 6: 230.0}
    high = tuple(Departure(code="inflation-high", chosen=top, wanted=150.0 + k) for k, top in tops.items())
    cost = replace(a_cost("inflation-high"), numbers=tuple(tops), departures=high)
    assert training.done_sentence(cost.departure).startswith("Inflated to 230 mmHg")
    assert training.inflations_sentence(cost) == "Inflations 5, 6. By another figure: 2 (180), 3 (200)."
    assert training.inflations_sentence(a_cost("limb-loaded")) == "Inflations 1, 2."


def test_stopping_early_and_hurrying_are_told_with_their_source() -> None:
    """One sentence each: what was done, what is asked for, and who asks.

    Oracle: from memory, the protocol of ACVIM 2018; common practice, 30 to 60 s between readings.
    """
    told = replace(a_debrief(150.0), averaged=2, unrested=(2, 3), shortest_rest_s=4.2)
    *_, rest, few = training.readings_sentences(told)
    assert rest.startswith(
        "Inflations 2, 3 came without rest, the cuff empty for 4 s at the shortest: it wants 30 to 60 s between two. ("
    )
    assert "common practice" in rest
    assert few.startswith(
        "Stopped early: 2 readings go into the protocol's average; it asks for 5 beyond the first. (ACVIM 2018"
    )
    many = replace(told, inflations=tuple(a_judged(number) for number in range(1, 8)))
    assert training.readings_sentences(many)[-1].startswith("Too few are left: 2 readings")
    rested = replace(told, unrested=(), enough=True, consistent=True)
    assert not any("rest" in said or "Stopped" in said for said in training.readings_sentences(rested))


@pytest.mark.parametrize(
    ("said", "charted", "true", "says"),
    [
        (
            "fine",
            132.0,
            128.0,
            ["That follows from what was charted, and the truth asks for the same."],
        ),
        (
            "another day",
            152.0,
            128.0,
            [
                "It follows from what was charted, but the truth is another: the measuring misled, not the telling.",
                "The truth of 128 mmHg asks for: fine, and when to measure again.",
            ],
        ),
        (
            "fine",
            152.0,
            150.0,
            [
                "It does not follow from what was charted.",
                "The 152 mmHg that were charted ask for: raised, and measured again on another day before anything is "
                "decided.",
                "The truth of 150 mmHg asks for: raised, and measured again on another day before anything is decided.",
            ],
        ),
        (
            "fine",
            152.0,
            128.0,
            [
                "It does not follow from what was charted.",
                "The 152 mmHg that were charted ask for: raised, and measured again on another day before anything is "
                "decided.",
                "That the truth asks for what was told is luck.",
            ],
        ),
        (
            "no value",
            None,
            200.0,
            [
                "That follows: nothing was charted, and nothing was claimed.",
                "With a pressure of 200 mmHg, had it been found: the veterinarian today.",
            ],
        ),
    ],
)
def test_what_the_owner_was_told_is_judged_in_words(
    said: Any, charted: float | None, true: float, says: list[str]
) -> None:
    """First what was told, then how it stands, and that it moves nothing.

    Oracle: by construction.
    """
    owner = judge(said, charted_mmhg=charted, true_mmhg=true)
    session = a_debrief(charted)
    told = replace(session, owner=owner, resting=replace(session.resting, systolic=true))
    first, *judged, last = training.owner_sentences(told)
    assert first == training.saying_label(said)
    assert judged == says
    assert last == "What the owner is told moves no mmHg of what was charted."
    assert training.owner_rule_line(owner).endswith("Which words belong to which pressure: our own choice.")
    assert training.owner_sentences(session) == []
