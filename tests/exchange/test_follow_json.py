"""The JSON of a history against its schema, and its members against what they came from."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date
from typing import Any, get_args

import pytest
from jsonschema import Draft202012Validator

from engine.follow_up.examples import AROUND, history, session
from quietlimb.engine.follow_up.change import ChangeVerdict
from quietlimb.engine.follow_up.comparability import BREAKING, CONVERTED, MARKED
from quietlimb.engine.follow_up.follow import follow
from quietlimb.engine.follow_up.history import PastSession, Shift, TreatmentStep
from quietlimb.engine.follow_up.recheck import DueState, RuleCode
from quietlimb.engine.standards.rule_sets import RULE_SETS
from quietlimb.exchange.errors import FileError
from quietlimb.exchange.follow_json import FOLLOW, follow_error_object, follow_object
from quietlimb.exchange.json_values import dump_line
from quietlimb.exchange.schemas import schema

START = date(2031, 1, 10).toordinal()
VALUES = ((0, 176.0), (28, 189.0), (39, 158.0), (53, 163.0), (130, 149.0))
FOLLOWED = follow(history([(START + day, value) for day, value in VALUES], (START + 28, "begun")), on_day=START + 140)


def checked(found: Any) -> dict[str, Any]:
    """The object after a round through text, valid by its schema."""
    told: dict[str, Any] = json.loads(dump_line(found))
    Draft202012Validator(schema("follow")).validate(told)
    return told


def test_members_are_the_values_they_came_from() -> None:
    """Level, goals, sessions, events, changes, least change and recheck.

    Oracle: by construction. Tolerance: rounding to 3 decimals, 4 for probabilities.
    """
    told = checked(follow_object("brom.csv", FOLLOWED))
    assert FOLLOWED.level is not None
    assert FOLLOWED.least is not None
    assert FOLLOWED.recheck is not None
    assert told["level"]["value"] == pytest.approx(FOLLOWED.level.value, abs=5.1e-4)
    assert told["level"]["shared_sd"] is None
    assert [goal["below"] for goal in told["goals"]] == [160.0, 140.0, 120.0, 90.0]
    assert told["goals"][0]["probability"] == pytest.approx(FOLLOWED.targets[0].probability, abs=5.1e-5)
    (group,) = told["groups"]
    assert [each["systolic"] for each in group["sessions"]] == [value for _, value in VALUES]
    assert group["sessions"][0]["date"] == "2031-01-10"
    assert told["events"] == [{"date": "2031-02-07", "step": "begun"}]
    assert [change["since"] for change in told["changes"]] == ["session before", "first session", "event"]
    assert told["changes"][2]["high_day"]["charted"] == 189.0
    assert told["least_change"]["two_sessions"] == pytest.approx(FOLLOWED.least.two_sessions, abs=5.1e-4)
    assert (told["recheck"]["rule"], told["recheck"]["state"]) == (FOLLOWED.recheck.rule, FOLLOWED.recheck.state)
    assert [caution["code"] for caution in told["cautions"]] == list(FOLLOWED.cautions)


def test_a_caution_that_rests_on_a_figure_names_it_and_its_source() -> None:
    """Severely raised is told with its boundary, half a year as our own choice; others rest on none.

    Oracle: by construction, the figures that the engine compares with.
    """
    found = follow(history([(START, 185.0)]), on_day=START + 184)
    told = {each["code"]: each for each in checked(follow_object("brom.csv", found))["cautions"]}
    severe, long_ago = told["latest-severe"], told["long-ago"]
    assert (severe["numbers"], severe["sources"]) == (
        {"limit_mmhg": 180.0},
        [{"source": "ACVIM2018", "standing": "from memory"}],
    )
    assert severe["says"].endswith("(ACVIM 2018, from memory: not checked against the print)")
    assert (long_ago["numbers"], long_ago["sources"][0]["standing"]) == ({"limit_days": 183.0}, "invented")
    assert (told["one-session"]["numbers"], told["one-session"]["sources"]) == ({}, [])


def test_mean_and_diastolic_pressure_are_told_where_sessions_tell_them() -> None:
    """Two sessions with all three pressures, treatment between them.

    Oracle: reference library, jsonschema 4.26, with the committed schema; by construction, the values they came from.
    """
    whole = [
        replace(session(START + day, 170.0), mean_mmhg=mean, diastolic_mmhg=mean - 20.0)
        for day, mean in ((0, 130.0), (30, 118.0))
    ]
    found = follow(history(whole, (START + 5, "begun")), on_day=START + 40)
    told = checked(follow_object("h.csv", found))["other_pressures"]
    assert [(each["pressure"], each["sessions"], each["last"]) for each in told] == [
        ("mean", 2, "2031-02-09"),
        ("diastolic", 2, "2031-02-09"),
    ]
    assert told[0]["level"]["value"] == pytest.approx(found.others[0].level.value, abs=5.1e-4)
    assert [change["since"] for change in told[0]["changes"]] == ["session before", "event"]
    assert checked(follow_object("h.csv", FOLLOWED))["other_pressures"] == []


def converted() -> PastSession:
    """A session joined by a conversion."""
    return PastSession(
        day=START,
        systolic_mmhg=170.0,
        own_sd_mmhg=4.0,
        circumstances=AROUND,
        conversion=Shift(add_mmhg=-6.0, sd_mmhg=5.0),
    )


UNUSUAL = {
    "break": [session(START, 150.0), session(START + 30, 150.0, site="tail")],
    "sedated": [session(START, 150.0), session(START + 9, 110.0, sedation="sedated")],
    "only sedated": [session(START, 110.0, sedation="sedated")],
    "marked": [session(START, 150.0, place="home"), session(START + 30, 150.0, place="carrier")],
    "not told": [session(START, 150.0), session(START + 30, 150.0, instrument=None, site=None)],
    "converted": [converted(), session(START + 30, 150.0, site="tail")],
    "untold step": [session(START + 30 * k, 150.0 + 45.0 * (k > 3)) for k in range(9)],
    "one": [session(START, 130.0)],
}


@pytest.mark.parametrize("name", UNUSUAL)
def test_unusual_histories_follow_the_schema_too(name: str) -> None:
    """Breaks, sedation, conversions, differences, an untold step, one session.

    Oracle: reference library, jsonschema 4.26, with the committed schema.
    """
    told = checked(follow_object("h.csv", follow(history(UNUSUAL[name]), on_day=START + 260)))
    assert (told["breaks"] == ["site"]) == (name == "break")
    assert (told["untold_step"] is not None) == (name == "untold step")
    assert (told["level"] is None) == (name == "only sedated")
    converted_by = [each["converted_by"] for group in told["groups"] for each in group["sessions"]]
    assert (-6.0 in converted_by) == (name == "converted")


def test_what_sets_sessions_apart_is_told_with_what_is_allowed_for_it() -> None:
    """The usual place, who does not tell it, and each difference with its standard deviation, conversions as well.

    Oracle: by construction, the offsets of the engine.
    """
    places = ("home", "home", None, "carrier")
    sessions = [session(START + 30 * k, 150.0, place=place) for k, place in enumerate(places)]
    (group,) = checked(follow_object("h.csv", follow(history(sessions), on_day=START + 260)))["groups"]
    assert (group["usual"]["place"], group["usual"]["cuff"], group["untold"]) == ("home", None, ["place"])
    expected = [{"circumstance": "place", "value": "carrier", "sd": MARKED["place"].value}]
    assert [each["allowed_for"] for each in group["sessions"]] == [[], [], [], expected]
    (group,) = checked(follow_object("h.csv", follow(history(UNUSUAL["converted"]), on_day=START + 260)))["groups"]
    (allowed,) = group["sessions"][0]["allowed_for"]
    assert (allowed["circumstance"], allowed["sd"]) == ("converted", 5.0)


def test_the_fingerprint_is_of_the_history_up_to_the_day_and_of_what_was_asked() -> None:
    """Each thing asked changes it; an entry after the day does not.

    Oracle: by construction.
    """
    sessions = [(START + day, value) for day, value in VALUES]
    begun = (START + 28, "begun")

    def told(*later: tuple[int, float], on: int = START + 140, **asked: Any) -> dict[str, Any]:
        return checked(follow_object("brom.csv", follow(history([*sessions, *later], begun), on_day=on, **asked)))

    usual = told()
    expected = {"on_day": str(START + 140), "by": "10.0", "certainty": "0.9", "rules": "acvim-2018"}
    assert usual["parameters"] == expected
    assert usual["fingerprint"] == FOLLOWED.history.fingerprint_with(expected)
    assert told((START + 150, 160.0))["fingerprint"] == usual["fingerprint"]
    others = [
        told(on=START + 141),
        told(by_mmhg=5.0),
        told(certainty=0.95),
        told(rules=RULE_SETS["iris-2019"]),
        told(since_day=START + 28),
        told(since_day=START + 28, until_day=START + 60),
    ]
    assert len({each["fingerprint"] for each in [usual, *others]}) == 7
    assert others[-2]["parameters"]["since_day"] == str(START + 28)
    assert others[-1]["parameters"]["until_day"] == str(START + 60)


def test_an_error_follows_the_schema() -> None:
    """With code, sentence, remedy and line.

    Oracle: by construction.
    """
    told = checked(
        follow_error_object("h.csv", FileError("not-a-date", "date is 'x'", "write it so", path="h.csv", line=4))
    )
    assert told["error"] == {"code": "not-a-date", "says": "date is 'x'", "remedy": "write it so", "line": 4}


def test_the_lists_of_words_are_those_of_the_engine() -> None:
    """Verdicts, steps, rules, states and circumstances in the schema are the engine's own.

    Oracle: by construction.
    """
    whole = schema("follow")
    first, parts = whole["oneOf"][0]["properties"], whole["$defs"]
    assert first["schema"]["const"] == FOLLOW
    assert parts["change"]["properties"]["verdict"]["enum"] == list(get_args(ChangeVerdict))
    assert parts["change"]["properties"]["step"]["enum"] == [*get_args(TreatmentStep), None]
    recheck = first["recheck"]["oneOf"][0]["properties"]
    assert recheck["rule"]["enum"] == list(get_args(RuleCode))
    assert recheck["state"]["enum"] == list(get_args(DueState))
    assert first["breaks"]["items"]["enum"] == sorted(BREAKING, key=["method", "instrument", "site"].index)
    differs = parts["past_session"]["properties"]["differs_in"]["items"]["enum"]
    assert set(differs) == {*MARKED, "site", "instrument"}
    allowed = parts["past_session"]["properties"]["allowed_for"]["items"]["properties"]
    assert allowed["circumstance"]["enum"] == [*differs, CONVERTED]
    assert list(parts["session_group"]["properties"]["usual"]["properties"]) == list(MARKED)
    assert parts["session_group"]["properties"]["untold"]["items"]["enum"] == list(MARKED)
