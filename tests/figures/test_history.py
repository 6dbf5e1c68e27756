"""The picture of the months holds the numbers of the follow-up, and draws in every case."""

from __future__ import annotations

from datetime import date
from itertools import pairwise
from typing import Any

import pytest

from engine.follow_up.examples import history, session
from figures.specs import rows
from quietlimb.engine.errors import ParameterError
from quietlimb.engine.follow_up.follow import FollowUp, follow
from quietlimb.engine.follow_up.path import LevelPath, level_path
from quietlimb.figures.export import svg
from quietlimb.figures.history import history_figure
from quietlimb.figures.invented import INVENTED_WORDS

START = date(2031, 1, 10).toordinal()
VALUES = ((0, 176.0), (28, 189.0), (39, 158.0), (53, 163.0), (130, 149.0))


def followed(sessions: list[Any], *events: Any, **known: Any) -> tuple[FollowUp, LevelPath | None]:
    """The follow-up 140 days after the start, and the path to draw."""
    found = follow(history(sessions, *events, **known), on_day=START + 250)
    return found, None if found.latest is None else level_path(found.latest.course, found.on_day)


CASES = {
    "treated": ([(START + day, value) for day, value in VALUES], (START + 28, "begun")),
    "one": ([(START + 250, 150.0)],),
    "break": ([(START, 150.0), session(START + 30, 150.0, site="tail")],),
    "marked": ([session(START, 150.0, place="home"), session(START + 30, 150.0, place="carrier")],),
    "all forms": (
        [
            session(START, 150.0, site="tail"),
            *(session(START + 30 * k, 150.0 + 80.0 * (k == 3), place="home") for k in range(1, 8)),
            session(START + 240, 150.0, place="carrier"),
        ],
    ),
    "odd": ([(START + 30 * k, 150.0 + 80.0 * (k == 3)) for k in range(8)],),
    "only sedated": ([session(START, 110.0, sedation="sedated")],),
    "four events": (
        [(START + day, value) for day, value in VALUES],
        *((START + day, "changed") for day in (1, 5, 30, 60)),
    ),
}


@pytest.mark.parametrize("name", CASES)
@pytest.mark.parametrize("theme", ["light", "dark"])
def test_every_case_draws(name: str, theme: Any) -> None:
    """Each becomes SVG without a warning, in both themes.

    Oracle: reference library, vl-convert. Warnings are errors here.
    """
    assert svg(history_figure(*followed(*CASES[name]), title="h.csv", theme=theme)).startswith("<svg")


def test_dots_whiskers_and_band_are_the_values_given() -> None:
    """Sessions as charted with 1.96 own standard deviations; the path as given.

    Oracle: by construction. Tolerance: rounding.
    """
    found, path = followed(*CASES["treated"])
    spec = history_figure(found, path)
    dots = sorted(rows(spec, "date", "mmhg", "odd"), key=lambda row: row["date"])
    assert [row["mmhg"] for row in dots] == [value for _, value in VALUES]
    assert dots[0]["date"] == "2031-01-10"
    assert [row["high"] - row["mmhg"] for row in dots] == pytest.approx([1.96 * 4.0] * 5, rel=1e-4)
    assert path is not None
    band = sorted(rows(spec, "value", "low", "high"), key=lambda row: row["date"])
    assert [row["value"] for row in band] == path.value.tolist()
    assert [row["low"] for row in band] == path.low.tolist()


def test_events_and_goals_are_named() -> None:
    """The words of each event and both goals stand in the picture.

    Oracle: by construction.
    """
    drawn = svg(history_figure(*followed(*CASES["treated"])))
    for words in ("treatment begun", "least goal &lt; 160", "ideal goal &lt; 140", "underlying"):
        assert words in drawn


def test_odd_and_incomparable_sessions_are_told_by_form_and_words() -> None:
    """A hollow dot and a square, each explained below the axis.

    Oracle: by construction.
    """
    odd, apart = (history_figure(*followed(*CASES[name])) for name in ("odd", "break"))
    assert [row["odd"] for row in rows(odd, "odd")].count(True) == 1
    assert "hollow: an odd session" in svg(odd)
    assert "squares cannot be compared" in svg(apart)


def test_sessions_under_other_circumstances_are_told_by_form_and_words() -> None:
    """A diamond for the session at another place, explained below the axis; the usual ones have none.

    Oracle: by construction.
    """
    found, path = followed(*CASES["marked"])
    spec = history_figure(found, path)
    assert sorted(row["form"] for row in rows(spec, "form")) == ["circle", "diamond"]
    assert "diamonds: other circumstances" in svg(spec)
    every = history_figure(*followed(*CASES["all forms"]))
    assert {row["form"] for row in rows(every, "form")} == {"circle", "diamond", "square"}
    assert every["padding"]["bottom"] > spec["padding"]["bottom"]
    assert "diamond" not in svg(history_figure(*followed(*CASES["treated"])))


def test_invented_animals_are_told_first() -> None:
    """The words stand in title and description; a patient's picture has none.

    Oracle: by construction.
    """
    invented = history_figure(*followed(*CASES["one"], animal="Invented cat Brom"))
    assert invented["title"]["text"] == INVENTED_WORDS
    assert invented["description"].startswith(INVENTED_WORDS)
    assert INVENTED_WORDS not in svg(history_figure(*followed(*CASES["one"], animal="Brom")))


def test_too_narrow_is_refused_and_340_draws() -> None:
    """340 px is the least.

    Oracle: by construction.
    """
    found, path = followed(*CASES["treated"])
    assert svg(history_figure(found, path, width=340))
    with pytest.raises(ParameterError, match="340 or more"):
        history_figure(found, path, width=339)


def test_no_line_of_an_event_crosses_the_name_of_an_earlier_one() -> None:
    """Of events close together the earlier name stands higher than the line of the later one reaches.

    Oracle: by construction: a line begins at its own name's row, and names run to the right.
    """
    drawn = rows(history_figure(*followed(*CASES["four events"])), "day", "row")
    places = [row["row"] for row in sorted(drawn, key=lambda row: row["day"])]
    assert len(places) == 4
    assert all(earlier > later for earlier, later in pairwise(places))


def test_a_missed_tablet_is_drawn_beside_the_events() -> None:
    """It stands with its name, and changes nothing of the course.

    Oracle: by construction.
    """
    found, path = followed(*CASES["treated"])
    day = found.history.sessions[-1].day
    assert "tablet missed" not in svg(history_figure(found, path))
    assert "tablet missed" in svg(history_figure(found, path, missed=(day,)))
