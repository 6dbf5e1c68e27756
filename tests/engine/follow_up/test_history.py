"""Histories and what a session tells of its own certainty."""

from __future__ import annotations

import hashlib
import math
from dataclasses import replace
from typing import Any

import pytest

from engine.follow_up.examples import AROUND, history, session
from quietlimb.engine.circumstances import Circumstances
from quietlimb.engine.errors import ParameterError
from quietlimb.engine.follow_up.history import History, PastSession, Shift, TreatmentEvent, usual_own_sd
from quietlimb.engine.standards.day_to_day import WITHIN_SESSION_SD


@pytest.mark.parametrize(("readings", "counted"), [(None, 1), (1, 1), (4, 4)])
def test_the_sd_of_a_session_falls_with_the_root_of_its_readings(readings: int | None, counted: int) -> None:
    """That of one reading over the root of their number; a number that is not told counts as one.

    Oracle: by construction, the standard error of a mean. Tolerance: rounding.
    """
    one = WITHIN_SESSION_SD["cat", "oscillometric"].value
    assert usual_own_sd(AROUND, readings) == pytest.approx(one / math.sqrt(counted), rel=1e-12)


def test_doppler_has_a_figure_of_its_own() -> None:
    """A cat's Doppler reading scatters by 5.09 mmHg.

    Oracle: published, ACVIM Forum 2023, larger of two standard deviations. Tolerance: none.
    """
    assert usual_own_sd(Circumstances(species="cat", method="doppler"), 1) == 5.09


def test_days_have_to_rise() -> None:
    """Entries out of order are refused.

    Oracle: by construction.
    """
    with pytest.raises(ParameterError, match="do not rise"):
        history([(5, 150.0), (4, 150.0)])


def test_an_event_is_told_once() -> None:
    """The same step twice on one day is refused; another step, or another day, is another event.

    Oracle: by construction.
    """
    with pytest.raises(ParameterError, match="given twice"):
        history([(0, 150.0)], (5, "begun"), (5, "begun"))
    assert len(history([(0, 150.0)], (5, "begun"), (5, "changed"), (6, "begun")).events) == 3


def test_a_session_is_told_once() -> None:
    """The same session twice is refused, as it would count twice; two of one day that differ in anything are two.

    Oracle: by construction.
    """
    with pytest.raises(ParameterError, match="the same session is given twice") as caught:
        history([(0, 150.0), (5, 151.0), (5, 151.0)])
    assert caught.value.code == "session-twice"
    assert len(history([(5, 151.0), session(5, 151.0, started_at="2031-01-05T16:00")]).sessions) == 2


def test_the_past_is_seen_as_it_was() -> None:
    """Up to day 5: the sessions and events of later days are not there yet, those of day 5 are.

    Oracle: by construction.
    """
    seen = history([(0, 150.0), (5, 160.0), (6, 170.0)], (5, "begun"), (9, "changed")).before(5)
    assert [each.day for each in seen.sessions] == [0, 5]
    assert [each.day for each in seen.events] == [5]


CAT = Circumstances(species="cat", animal="Löwe", site="tail", cuff_width_cm=3)
TOLD = History(
    species="cat",
    animal="Löwe",
    sessions=(
        PastSession(
            day=741000,
            systolic_mmhg=170,
            own_sd_mmhg=4.5,
            readings=6,
            circumstances=CAT,
            conversion=Shift(add_mmhg=-6, sd_mmhg=5.0),
        ),
    ),
    events=(TreatmentEvent(day=741000, step="begun"),),
    at_risk=True,
)
WRITTEN = (
    '{"history": {"animal": "L\\u00f6we", "at_risk": true, "born_day": null, '
    '"events": [{"day": 741000, "step": "begun"}], '
    '"organ_damage": "not examined", "sessions": [{"circumstances": {"acclimatisation_min": null, '
    '"animal": "L\\u00f6we", "breed": null, "cuff": null, "cuff_below_heart_cm": null, "cuff_width_cm": 3.0, '
    '"held_by": null, "instrument": null, "limb_circumference_cm": null, "method": "oscillometric", "place": null, '
    '"position": null, "read_by": null, "remarks": null, "sedation": null, "side": null, "site": "tail", '
    '"species": "cat", "started_at": null}, "conversion": {"add_mmhg": -6.0, "sd_mmhg": 5.0}, "day": 741000, '
    '"diastolic_mmhg": null, "mean_mmhg": null, "own_sd_mmhg": 4.5, "readings": 6, "systolic_mmhg": 170.0}], '
    '"species": "cat"}, "parameters": {"by": "10.0", "rules": "acvim-2018"}}'
)


def test_the_fingerprint_is_what_the_description_says() -> None:
    """One JSON object in ASCII, keys sorted, what is not told as null, pressures with a decimal point.

    Oracle: by construction: the text is written by hand here.
    """
    expected = hashlib.sha256(WRITTEN.encode("ascii")).hexdigest()
    assert TOLD.fingerprint_with({"rules": "acvim-2018", "by": "10.0"}) == expected


@pytest.mark.parametrize(
    "other",
    [
        {"animal": None},
        {"at_risk": False},
        {"born_day": 738000},
        {"organ_damage": "absent"},
        {"events": ()},
        {"events": (TreatmentEvent(day=741000, step="changed"),)},
        {"sessions": (replace(TOLD.sessions[0], systolic_mmhg=170.5),)},
        {"sessions": (replace(TOLD.sessions[0], own_sd_mmhg=4.6),)},
        {"sessions": (replace(TOLD.sessions[0], conversion=None),)},
        {"sessions": (replace(TOLD.sessions[0], circumstances=replace(CAT, place="home")),)},
        {"sessions": (*TOLD.sessions, replace(TOLD.sessions[0], day=741001))},
    ],
)
def test_whatever_differs_changes_the_fingerprint(other: dict[str, Any]) -> None:
    """Every part of a history counts.

    Oracle: by construction.
    """
    assert replace(TOLD, **other).fingerprint_with({}) != TOLD.fingerprint_with({})
