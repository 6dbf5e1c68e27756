"""Mean and diastolic pressure beside the systolic."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from engine.follow_up.examples import course, history, session, stretch
from quietlimb.engine.follow_up import priors
from quietlimb.engine.follow_up.change import change_between
from quietlimb.engine.follow_up.follow import follow
from quietlimb.engine.follow_up.history import PastSession, Shift, TreatmentEvent
from quietlimb.engine.follow_up.other_pressures import PRESSURES, course_of, level_of, other_pressures

TREATED = [(0, 176.0), (28, 189.0), (39, 158.0), (53, 163.0), (95, 149.0), (130, 155.0)]
BEGUN = TreatmentEvent(day=28, step="begun")
ASKED: dict[str, Any] = {"on_day": 140, "by_mmhg": 10.0, "certainty": 0.9}


def told(values: list[tuple[int, float]], **changes: Any) -> list[PastSession]:
    """Sessions at 160 mmHg that tell these mean pressures, and diastolic ones 20 mmHg below."""
    sessions = [session(day, 160.0, **changes) for day, _ in values]
    return [
        replace(each, mean_mmhg=value, diastolic_mmhg=value - 20.0)
        for each, (_, value) in zip(sessions, values, strict=True)
    ]


@pytest.mark.parametrize("pressure", PRESSURES)
def test_it_is_the_systolic_model_moved_and_scaled(pressure: Any) -> None:
    """Sessions that stand where systolic ones would after moving and scaling give the systolic answers carried over.

    Oracle: by construction, the systolic course of the same animal. Tolerance: rounding.
    """
    middle, factor = (each.value for each in priors.OTHER_PRESSURES[pressure])
    name = f"{pressure}_mmhg"
    sessions = [
        replace(session(day, 150.0, own_sd=4.0 * factor), **{name: middle + factor * (value - priors.LEVEL_MEAN.value)})
        for day, value in TREATED
    ]
    (found,) = other_pressures(stretch(sessions), (BEGUN,), **{**ASKED, "by_mmhg": 10.0 * factor})
    systolic = course(TREATED, (28, "begun"))
    level = systolic.level(140).estimate()
    assert found.pressure == pressure
    assert found.sessions == len(TREATED)
    assert found.level.value == pytest.approx(middle + factor * (level.value - priors.LEVEL_MEAN.value))
    assert found.level.high - found.level.low == pytest.approx(factor * (level.high - level.low))
    ((event, since),) = found.since_events
    expected = change_between(systolic, 28, 130)
    assert event == BEGUN
    assert since.fell == pytest.approx(expected.fell)
    assert since.by_mmhg == pytest.approx(10.0 * factor)
    assert since.change.value == pytest.approx(factor * expected.change.value)
    assert found.since_last is not None
    assert found.since_last.change.value == pytest.approx(factor * change_between(systolic, 95, 130).change.value)


def test_only_sessions_that_tell_it_count() -> None:
    """Two of three tell a mean pressure, none a diastolic one; a systolic history has neither.

    Oracle: by construction.
    """
    some = [*told([(0, 110.0), (30, 112.0)]), session(60, 160.0)]
    some = [replace(each, diastolic_mmhg=None) for each in some]
    (found,) = other_pressures(stretch(some), (), **ASKED)
    assert (found.pressure, found.sessions, found.last_day) == ("mean", 2, 30)
    assert other_pressures(stretch(TREATED), (), **ASKED) == ()


def test_a_conversion_of_the_systolic_pressure_does_not_carry_the_others() -> None:
    """A converted session stays out of mean and diastolic.

    Oracle: by construction.
    """
    carried = replace(told([(0, 90.0)], site="tail")[0], conversion=Shift(add_mmhg=-6.0, sd_mmhg=5.0))
    both = history([carried, *told([(30, 110.0), (60, 112.0)])])
    found = follow(both, on_day=70)
    assert found.latest is not None
    assert len(found.latest.sessions) == 3
    assert [other.sessions for other in found.others] == [2, 2]


def test_a_lasting_fall_shows_in_both() -> None:
    """Four sessions at 130 mmHg and four at 100 after treatment: the level follows, and the fall is called.

    Oracle: by construction.
    """
    sessions = told([(30 * k, 130.0 - 30.0 * (k > 3)) for k in range(8)])
    mean, diastolic = other_pressures(stretch(sessions), (TreatmentEvent(day=95, step="begun"),), **ASKED)
    assert mean.level.low < 100.0 < mean.level.high
    assert diastolic.level.value == pytest.approx(mean.level.value - 20.0, abs=2.0)
    assert mean.since_events[0][1].verdict == "fell"
    # as of the systolic: no way of measuring here tells its error against the artery
    assert mean.level.shared_sd is None
    assert mean.since_events[0][1].change.shared_sd is None


def test_one_session_has_a_level_and_no_change() -> None:
    """Its level lies between the session and the middle of the prior.

    Oracle: by construction.
    """
    part = stretch(told([(0, 140.0)]))
    fitted = course_of(part, (), "mean")
    assert fitted is not None
    (mean, _) = other_pressures(part, (), **ASKED)
    assert mean.since_last is None
    assert mean.since_events == ()
    assert priors.OTHER_PRESSURES["mean"][0].value < level_of(fitted, "mean", 0).estimate().value < 140.0
    assert np.all(level_of(fitted, "mean", 0).sd > 0.0)
