"""The whole: what is said of a history on a day."""

from __future__ import annotations

from typing import Any

import pytest

from engine.follow_up.examples import course, history, session
from quietlimb.engine.errors import ParameterError
from quietlimb.engine.follow_up.change import change_between
from quietlimb.engine.follow_up.follow import CAUTION_CODES, URGENT_CODES, follow
from quietlimb.engine.standards.iris_2019 import IRIS_2019

TREATED = [(0, 176.0), (28, 189.0), (39, 158.0), (53, 163.0), (64, 146.0), (130, 149.0)]
EVENTS = ((28, "begun"), (53, "changed"))


def test_the_parts_are_those_of_the_parts() -> None:
    """Level, changes and events are what the functions below give for the same history.

    Oracle: by construction, those functions called directly; equality.
    """
    found = follow(history(TREATED, *EVENTS), on_day=140)
    fitted = course(TREATED, *EVENTS)
    assert found.level == fitted.level(140).estimate()
    assert found.since_last == change_between(fitted, 64, 130)
    assert found.since_first == change_between(fitted, 0, 130)
    assert [since.change for since in found.since_events] == [
        change_between(fitted, 28, 130),
        change_between(fitted, 53, 130),
    ]
    assert found.treated
    assert found.latest is not None
    assert [each.level for each in found.latest.sessions] == [fitted.level(day).estimate() for day, _ in TREATED]


def test_an_old_day_is_seen_as_it_was() -> None:
    """On day 45 nothing is known of what came later.

    Oracle: by construction, the history without it; equality.
    """
    then = follow(history(TREATED, *EVENTS), on_day=45)
    assert then.level == follow(history(TREATED[:3], EVENTS[0]), on_day=45).level


@pytest.mark.parametrize(
    ("sessions", "events", "on_day", "code"),
    [
        ([(0, 80.0)], (), 1, "low-may-be"),
        ([*((30 * k, 150.0) for k in range(9)), (300, 89.0)], (), 301, "low-may-be"),
        ([*((30 * k, 140.0) for k in range(9)), (300, 180.0)], (), 301, "latest-severe"),
        ([(0, 150.0), session(30, 150.0, site="tail")], (), 40, "break"),
        (
            [(0, 150.0), session(30, 150.0, place="home"), session(60, 150.0, place="carrier")],
            (),
            70,
            "marked-differences",
        ),
        ([(30 * k, 150.0 + 80.0 * (k == 3)) for k in range(8)], (), 220, "odd-session"),
        ([(30 * k, 150.0 + 30.0 * (k == 5)) for k in range(6)], (), 160, "latest-unsettled"),
        ([(30 * k, 150.0 - 35.0 * (k == 5)) for k in range(6)], (), 160, "latest-unsettled"),
        ([(30 * k, 150.0 + 45.0 * (k > 3)) for k in range(9)], (), 250, "untold-step"),
        (TREATED, EVENTS, 140, "begun-on-a-high-day"),
        ([(0, 150.0), (30, 150.0)], ((30, "stopped"),), 31, "not-measured-since-treatment"),
        ([(0, 150.0)], (), 1, "one-session"),
        ([(0, 150.0), (30, 150.0)], (), 40, "few-sessions"),
        ([(0, 150.0)], (), 184, "long-ago"),
        ([(0, 150.0), session(9, 110.0, sedation="sedated")], (), 10, "sedated-left-out"),
    ],
)
def test_each_caution_comes_where_it_applies(sessions: list[Any], events: Any, on_day: int, code: str) -> None:
    """And not with five plain sessions.

    Oracle: by construction.
    """
    assert code in follow(history(sessions, *events), on_day=on_day).cautions
    plain = follow(history([(30 * k, 150.0 + k) for k in range(5)]), on_day=130).cautions
    assert plain == CAUTION_CODES[-3:]


def test_a_history_of_sedated_sessions_says_so_and_nothing_else() -> None:
    """No level, no change, no recheck.

    Oracle: by construction.
    """
    found = follow(history([session(0, 110.0, sedation="anaesthetised")]), on_day=10)
    assert (found.level, found.latest, found.recheck, found.least) == (None, None, None, None)
    assert found.cautions[0] == "sedated-left-out"


def test_a_day_before_the_first_session_is_refused() -> None:
    """There is nothing to follow.

    Oracle: by construction.
    """
    with pytest.raises(ParameterError, match="no session up to that day"):
        follow(history(TREATED), on_day=-1)


def test_treatment_stopped_is_not_treated() -> None:
    """The last event decides.

    Oracle: by construction.
    """
    stopped = follow(history(TREATED, (28, "begun"), (64, "stopped")), on_day=140)
    assert not stopped.treated
    assert {each.code for each in stopped.targets} == {"boundary", "low"}
    assert "not-measured-since-treatment" not in stopped.cautions
    still = follow(history(TREATED, (28, "begun")), on_day=140)
    assert "least-goal" in {each.code for each in still.targets}


def test_the_present_is_judged_by_the_latest_way_of_measuring() -> None:
    """After a change of instrument the level rests on the sessions with the new one; the others stand beside it.

    Oracle: by construction, the same sessions alone; equality.
    """
    other = [session(200, 130.0, instrument="display 2"), session(230, 132.0, instrument="display 2")]
    found = follow(history([*TREATED, *other]), on_day=240)
    assert found.level == course(other).level(240).estimate()
    assert [len(each.sessions) for each in found.earlier] == [6]


def test_a_rule_set_may_be_named_by_its_key() -> None:
    """The key gives what the rule set gives, as elsewhere; an unknown one is refused. Oracle: by construction."""
    by_key = follow(history(TREATED, *EVENTS), on_day=140, rules="iris-2019")
    by_rules = follow(history(TREATED, *EVENTS), on_day=140, rules=IRIS_2019)
    assert (by_key.rule_set, by_key.targets, by_key.recheck) == (
        by_rules.rule_set,
        by_rules.targets,
        by_rules.recheck,
    )
    with pytest.raises(ParameterError):
        follow(history(TREATED), on_day=140, rules="none")


def test_the_change_between_two_days_can_be_asked() -> None:
    """From one day to another, or to the latest session; later sessions bear on it all the same.

    Oracle: by construction, the change of the fitted course; equality.
    """
    told, fitted = history(TREATED, *EVENTS), course(TREATED, *EVENTS)
    assert follow(told, on_day=140).between_days is None
    assert follow(told, on_day=140, since_day=5).between_days == change_between(fitted, 5, 130)
    found = follow(told, on_day=140, since_day=5, until_day=60)
    assert found.between_days == change_between(fitted, 5, 60)
    assert found.parameters["until_day"] == "60"


def test_a_day_before_the_first_session_is_told_and_does_not_lose_the_rest() -> None:
    """From the first session on, with a caution; where the time asked about ends before it there is no change.

    Oracle: by construction, the change of the fitted course; equality.
    """
    told, fitted = history(TREATED, *EVENTS), course(TREATED, *EVENTS)
    first = TREATED[0][0]
    found = follow(told, on_day=140, since_day=first - 30)
    assert found.between_days == change_between(fitted, first, 130)
    assert "asked-before-first-session" in found.cautions
    before = follow(told, on_day=140, since_day=first - 30, until_day=first)
    assert before.between_days is None
    assert "nothing-in-the-time-asked" in before.cautions
    within = follow(told, on_day=140, since_day=first)
    assert {"asked-before-first-session", "nothing-in-the-time-asked"}.isdisjoint(within.cautions)


@pytest.mark.parametrize(
    ("systolic", "step", "rules", "asked"),
    [
        (119.9, "begun", "acvim-2018", True),
        (120.0, "begun", "acvim-2018", False),
        (119.9, "stopped", "acvim-2018", False),
        (109.9, "changed", "isfm-2017", True),
        (110.0, "changed", "isfm-2017", False),
    ],
)
def test_a_low_value_on_the_day_of_treatment_is_asked_about(systolic: float, step, rules: str, asked: bool) -> None:
    """Under the guard of the rule set on the very day on which treatment was begun or changed.

    Oracle: from memory, the guards of ACVIM 2018 (120 mmHg) and ISFM 2017 (110 mmHg).
    """
    found = follow(history([(0, 170.0), (30, systolic)], (30, step)), on_day=31, rules=rules)
    assert ("low-on-the-day-of-treatment" in found.cautions) is asked


@pytest.mark.parametrize(
    ("systolic", "step", "rules", "expected"),
    [
        (109.9, "begun", "isfm-2017", {"latest-too-low"}),
        (110.0, "begun", "isfm-2017", set()),
        (119.9, "changed", "acvim-2018", {"low-if-weak"}),
        (120.0, "changed", "acvim-2018", set()),
        (119.9, "stopped", "acvim-2018", set()),
        (89.9, "begun", "acvim-2018", {"latest-too-low"}),
    ],
)
def test_a_latest_session_under_a_guard_of_treatment_comes_first(
    systolic: float, step, rules: str, expected: set[str]
) -> None:
    """By the guard that holds whatever the signs, and by the one for weak animals, which a history cannot tell.

    Oracle: from memory, the guards of ISFM 2017 (110 mmHg) and ACVIM 2018 (120 mmHg); common practice for 90 mmHg.
    """
    found = follow(history([(0, 170.0), (30, 150.0), (60, systolic)], (30, step)), on_day=61, rules=rules)
    assert set(found.cautions) & {"latest-too-low", "low-if-weak"} == expected
    assert expected <= URGENT_CODES


@pytest.mark.parametrize(
    ("asked", "code"),
    [
        ({"until_day": 60}, "until-without-since"),
        ({"since_day": 5, "until_day": 141}, "until-after-today"),
        ({"since_day": 60, "until_day": 60}, "no-time-between"),
    ],
)
def test_days_that_bound_no_change_are_refused(asked: dict[str, int], code: str) -> None:
    """An end without a beginning, an end that has not come, no time between.

    Oracle: by construction.
    """
    with pytest.raises(ParameterError) as caught:
        follow(history(TREATED, *EVENTS), on_day=140, **asked)
    assert caught.value.code == code


@pytest.mark.parametrize("order", [1, -1])
def test_what_is_severe_is_told_by_whichever_method_and_order(order: int) -> None:
    """Of two sessions of one day, by two methods, the severe one is told, judged by and acted on; in either order, and
    with a long course by the other method beside it.

    Oracle: by construction.
    """
    of_the_day = [session(100, 160.0), session(100, 188.0, method="doppler")][::order]
    found = follow(history(of_the_day), on_day=100)
    assert found.fingerprint == follow(history(of_the_day[::-1]), on_day=100).fingerprint
    assert "latest-severe" in found.cautions
    assert found.latest is not None
    assert found.latest.stretch.sessions[0].systolic_mmhg == 188.0
    assert found.recheck is not None
    assert (found.recheck.rule, found.recheck.latest_day) == ("severe", 114)
    course = [(0, 160.0), (30, 162.0), (60, 158.0)]
    found = follow(history([*course, *of_the_day]), on_day=100)
    assert found.latest is not None
    assert len(found.latest.sessions) == 4
    assert "latest-severe" in found.cautions
    assert found.recheck is not None
    assert found.recheck.rule == "severe"


@pytest.mark.parametrize("order", [1, -1])
def test_the_guard_looks_at_the_lowest_of_the_day_by_whichever_method(order: int) -> None:
    """Of two sessions of one day, by two methods, the one under the guard is told, with the guard as its limit.

    Oracle: from memory, 110 mmHg of ISFM 2017.
    """
    of_the_day = [session(60, 120.0), session(60, 105.0, method="doppler")][::order]
    found = follow(
        history([(0, 170.0), (50, 125.0), *of_the_day], (30, "begun")),
        on_day=61,
        rules="isfm-2017",
    )
    assert "latest-too-low" in found.cautions
    assert found.limits["latest-too-low"].value == 110.0
