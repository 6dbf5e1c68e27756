"""From a history to the earlier sessions of an interpretation."""

from __future__ import annotations

from datetime import date

import pytest

from engine.follow_up.examples import history, session
from quietlimb.engine.circumstances import Circumstances
from quietlimb.engine.follow_up.earlier_sessions import day_to_day_sd, earlier_sessions, is_moved, sessions_up_to
from quietlimb.engine.follow_up.follow import follow
from quietlimb.engine.follow_up.history import History, PastSession, Shift, TreatmentEvent
from quietlimb.engine.interpretation.status import animal_status
from quietlimb.engine.standards.acvim_2018 import ACVIM_2018

FIRST = date(2031, 3, 3).toordinal()


def _session(day: int, systolic: float, **more: object) -> PastSession:
    around = Circumstances(species="dog", **more)
    return PastSession(day=FIRST + day, systolic_mmhg=systolic, own_sd_mmhg=5.0, circumstances=around)


@pytest.mark.parametrize(
    ("day", "treated", "moved_since_10"),
    [(0, False, False), (10, False, False), (11, True, True), (30, True, True), (31, False, True)],
)
def test_an_event_counts_from_the_session_after_it(day: int, treated: bool, moved_since_10: bool) -> None:
    """Begun on day 10 after the session of that day, stopped on day 30 after the session of that day.

    Oracle: by construction, as the history's own events are meant.
    """
    events = (TreatmentEvent(day=FIRST + 10, step="begun"), TreatmentEvent(day=FIRST + 30, step="stopped"))
    history = History(species="dog", sessions=(), events=events)
    assert history.before(FIRST + day - 1).treated is treated
    assert is_moved(events, FIRST + 10, FIRST + day) is moved_since_10


def test_sessions_keep_what_an_interpretation_looks_at() -> None:
    """Days ago, place, site, method, sedation, and the pressure as charted then, before any conversion.

    Oracle: by construction.
    """
    converted = PastSession(
        day=FIRST,
        systolic_mmhg=170.0,
        own_sd_mmhg=5.0,
        circumstances=Circumstances(species="dog", method="doppler", site="tail", place="home", sedation="awake"),
        conversion=Shift(add_mmhg=-20.0, sd_mmhg=8.0),
    )
    events = (TreatmentEvent(day=FIRST, step="begun"),)
    history = History(species="dog", sessions=(converted, _session(7, 150.0), _session(9, 140.0)), events=events)
    first, second = earlier_sessions(history, FIRST + 9)
    assert (first.days_ago, first.systolic_mmhg, first.place, first.site, first.method, first.sedation) == (
        9.0,
        170.0,
        "home",
        "tail",
        "doppler",
        "awake",
    )
    assert (first.treated, first.treatment_moved) == (False, False)
    assert (second.days_ago, second.treated, second.treatment_moved) == (2.0, True, True)


def test_the_change_from_day_to_day_is_of_the_latest_comparable_sessions() -> None:
    """As `follow` tells it; nothing without sessions, or where the latest were taken by another method.

    Oracle: by construction, the same number by another way through the engine.
    """
    told = {"method": "doppler", "site": "tail", "instrument": "grey box"}
    history = History(species="dog", sessions=tuple(_session(30 * k, 150.0 + k % 2, **told) for k in range(5)))
    least = follow(history, on_day=FIRST + 120).least
    assert least is not None
    assert day_to_day_sd(history, "doppler") == pytest.approx(least.between_sd.value)
    assert day_to_day_sd(history, "oscillometric") is None
    assert day_to_day_sd(History(species="dog", sessions=()), "doppler") is None


def test_sessions_up_to_a_day_have_those_of_the_day() -> None:
    """0 days ago, and treatment that moved before them counts for each of them.

    Oracle: by construction.
    """
    told = history([(0, 160.0), (10, 188.0), (10, 150.0)], (5, "begun"))
    assert [each.days_ago for each in earlier_sessions(told, 10)] == [10.0]
    found = sessions_up_to(told, 10)
    assert [(each.days_ago, each.systolic_mmhg, each.treatment_moved) for each in found] == [
        (10.0, 160.0, False),
        (0.0, 150.0, True),
        (0.0, 188.0, True),
    ]


@pytest.mark.parametrize("systolic", [(188.0, 150.0), (150.0, 188.0)])
def test_of_the_first_day_after_a_change_no_session_is_hidden(systolic: tuple[float, float]) -> None:
    """Two sessions of the day of the first look, at 8 and 18 o'clock: the one over the goal decides, whichever it is.

    Oracle: by construction; from memory, the goal of 160 mmHg of ACVIM 2018.
    """
    clock = ("2031-03-03T08:00", "2031-03-03T18:00")
    of_the_day = [session(10, each, started_at=at) for each, at in zip(systolic, clock, strict=True)]
    told = sessions_up_to(history([(0, 170.0), *of_the_day], (5, "begun")), 10)
    status = animal_status(told, rules=ACVIM_2018)
    assert status is not None
    assert (status.name, status.reason) == ("treated, off target", "above-target")
