"""Histories and what a session tells of its own certainty."""

from __future__ import annotations

import math

import pytest

from engine.follow_up.examples import AROUND, history
from quietlimb.engine.circumstances import Circumstances
from quietlimb.engine.errors import ParameterError
from quietlimb.engine.follow_up.history import usual_own_sd
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


def test_the_past_is_seen_as_it_was() -> None:
    """Up to day 5: the sessions and events of later days are not there yet, those of day 5 are.

    Oracle: by construction.
    """
    seen = history([(0, 150.0), (5, 160.0), (6, 170.0)], (5, "begun"), (9, "changed")).before(5)
    assert [each.day for each in seen.sessions] == [0, 5]
    assert [each.day for each in seen.events] == [5]
