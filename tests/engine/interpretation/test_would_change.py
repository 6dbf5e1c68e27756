"""What would change the advice."""

from __future__ import annotations

from engine.interpretation.examples import ALL_ABSENT
from quietlimb.engine.interpretation.background import Background, EarlierSession
from quietlimb.engine.interpretation.interpret import interpret_systolic
from quietlimb.engine.interpretation.would_change import CHANGE_CODES

EYES = {**ALL_ABSENT, "eyes": "present"}


def _changes(systolic, organs=ALL_ABSENT, **more):
    found = interpret_systolic(systolic, species="dog", organs=organs, **more)
    for change in found.would_change:
        assert set(change.numbers) == set(CHANGE_CODES[change.code])
        assert change.then
        assert not {advice.code for advice in change.then} & {advice.code for advice in found.next}
    return {change.code: (dict(change.numbers), [a.code for a in change.then]) for change in found.would_change}


def test_the_nearest_boundaries_are_named_when_they_matter():
    """At 150: 160 above and 140 below; at 120 the 140 above alone; at 200 none within reach.

    Oracle: by construction, boundaries within 25 mmHg, each tried through the flow.
    """
    found = _changes(150.0)
    assert found["pressure-from"] == ({"mmhg": 160.0}, ["repeat-session", "treatment-if-persistent"])
    assert found["pressure-under"] == ({"mmhg": 140.0}, ["measure-by-risk"])
    assert set(_changes(120.0)) == {"pressure-from"}
    assert not {"pressure-from", "pressure-under"} & set(_changes(206.0))


def test_organs_and_sessions_that_would_change_the_advice():
    """At 165 without damage: eyes, kidneys, one further session, a normal pressure at home.

    Oracle: the decision table (from memory, ACVIM 2018), followed by hand.
    """
    found = _changes(165.0)
    assert found["eyes-found-damaged"][1] == ["established-by-one-session", "treatment-now", "recheck-eyes-or-brain"]
    assert found["kidneys-found-damaged"][1] == [
        "established-by-one-session",
        "treatment-now",
        "recheck-after-decision",
    ]
    assert found["sessions-agree"] == ({"sessions": 1.0}, ["persistent-over-sessions", "repeat-until-treated"])
    assert found["normal-at-home"] == ({"mmhg": 140.0}, ["repeat-session-at-home", "situational-at-home-normal"])
    assert "normal-at-home" not in _changes(165.0, organs={})


def test_further_sessions_count_those_that_were():
    """After one high session ten days ago one more is needed, far enough on; a confirmed animal needs none.

    Oracle: by construction, the persistence rules followed by hand.
    """
    close = Background(history=(EarlierSession(days_ago=10, systolic_mmhg=165.0),))
    assert _changes(165.0, background=close)["sessions-agree"][0] == {"sessions": 1.0}
    confirmed = Background(history=(EarlierSession(days_ago=28, systolic_mmhg=165.0),))
    assert "sessions-agree" not in _changes(165.0, background=confirmed)


def test_with_damage_there_is_less_to_change():
    """At 190 with eyes damaged only a lower pressure would.

    Oracle: by construction.
    """
    assert set(_changes(190.0, organs=EYES)) == {"pressure-under"}


def test_under_treatment_the_goals_are_the_boundaries():
    """At 150: 160 above, 140 below.

    Oracle: from memory, ACVIM 2018 goals.
    """
    found = _changes(150.0, background=Background(treated=True))
    assert found["pressure-from"] == ({"mmhg": 160.0}, ["above-goal"])
    assert found["pressure-under"] == ({"mmhg": 140.0}, ["at-ideal-goal"])


def test_nothing_would_change_what_is_not_in_the_flow():
    """No pressure, sedated.

    Oracle: by construction.
    """
    assert _changes(None) == {}
    assert _changes(165.0, sedation="anaesthetised") == {}
