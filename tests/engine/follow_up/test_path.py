"""The course day by day, for a picture."""

from __future__ import annotations

import numpy as np
import pytest

from engine.follow_up.examples import course
from quietlimb.engine.follow_up.path import level_path

FOUND = course([(0, 180.0), (20, 185.0), (35, 160.0), (90, 155.0)], (20, "begun"))


def test_the_path_is_the_level_of_each_day() -> None:
    """Median and both ends are those of the level asked for day by day.

    Oracle: slower twin, `level` itself. Tolerance: what thirty halvings of some 600 mmHg leave.
    """
    path = level_path(FOUND, 120)
    for k in (0, path.day.size // 3, path.day.size - 1):
        level = FOUND.level(float(path.day[k])).estimate()
        assert (path.low[k], path.value[k], path.high[k]) == pytest.approx(
            (level.low, level.value, level.high), abs=1e-4
        )


def test_the_path_shows_both_sides_of_a_step_and_every_session() -> None:
    """Its days rise, hold all sessions and the day after the event, and end where asked.

    Oracle: by construction.
    """
    path = level_path(FOUND, 120)
    assert (np.diff(path.day) > 0).all()
    assert {0.0, 20.0, 21.0, 35.0, 90.0, 120.0} <= set(path.day.tolist())
    assert path.value[path.day == 21.0] < path.value[path.day == 20.0] - 10.0


def test_a_single_day_has_a_path_of_one_point() -> None:
    """One session, seen on its own day.

    Oracle: by construction.
    """
    assert level_path(course([(5, 150.0)]), 5).day.tolist() == [5.0]
