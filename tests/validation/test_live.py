"""The table of what is told while the pressure falls counts what was told."""

from __future__ import annotations

import pytest
from live import CALM, Outcome, calm_lines, enough_lines, motion_lines, row_of, value_lines

from quietlimb.engine.live import watch as watch_module
from quietlimb.simulator.recordings import Truth

TRUTH = Truth(
    inflation="pump",
    deflation="linear",
    deflation_s=(5.0, 25.0),
    moved_s=(),
    systolic=140.0,
    mean=110.0,
    diastolic=95.0,
    pulse_rate=150.0,
)
HELD = {"systolic": (142.0, 134.0, 150.0), "mean": (111.0, 104.0, 118.0), "diastolic": (94.0, 86.0, 102.0)}
MISSED = {**HELD, "systolic": (152.0, 144.0, 160.0)}


def an_outcome(**changes: object) -> Outcome:
    told: dict[str, object] = {
        "truth": TRUTH,
        "per_pulse_mmhg": 2.0,
        "movements": (),
        "alarms": 0,
        "deflating_s": 30.0,
        "said": frozenset(),
        "said_after": frozenset(),
        "first": HELD,
        "at_enough": None,
        "end": HELD,
        "verdict": "keep",
        "found": frozenset(),
        "result_cpu_s": 0.03,
    }
    return Outcome(**{**told, **changes})


def test_movements_and_alarms_are_counted() -> None:
    """Of four movements three were told, two within a second; in two calm minutes one alarm.

    Oracle: by construction, the outcomes put in here.
    """
    found = [
        an_outcome(movements=((0.4, 9.0), (None, 1.0)), said=frozenset({"limb-moving", "limb-moved-too-long"})),
        an_outcome(movements=((0.6, 2.0), (1.4, 5.0))),
    ]
    told, soon, large, delay, too_long = motion_lines("short motion", found)
    assert "75.0 %" in told
    assert "3 of 4" in told
    assert "2 of 4" in soon
    assert "1 of 2" in large
    assert "median 0.60, 95th percentile 1.32" in delay
    assert "1 of 2" in too_long
    assert "0.50 a calm minute (2 min)" in calm_lines([an_outcome(alarms=1), *[an_outcome()] * 3])[0]


def test_intervals_and_what_changes_after_enough_are_counted() -> None:
    """Of two kept readings one systolic interval, as first shown, missed; the discarded one does not count. Enough was
    said 4 s before the end and 10 mmHg off.

    Oracle: by construction, the outcomes put in here.
    """
    found = [an_outcome(first=MISSED, at_enough=(MISSED, 4.0)), an_outcome(), an_outcome(verdict="discard", end={})]
    lines = value_lines(found)
    assert lines[0] == "  of 2 kept in the end"
    assert "1 of 2" in lines[1]
    assert "2 of 2" in lines[4]
    assert "95th percentile 9.50" in lines[7]
    said, kept, systolic, *_ = enough_lines(found)
    assert "1 of 3" in said
    assert "median 4.00" in said
    assert "1 of 1" in kept
    assert "median 10.00" in systolic
    assert "0 of 1" in systolic


def test_a_row_is_watched_from_simulation_to_its_end(monkeypatch: pytest.MonkeyPatch) -> None:
    """An undisturbed recording comes out read, with time under pressure and the processor time of its end.

    Oracle: by construction.
    """
    monkeypatch.setattr(watch_module, "LOOK_EVERY_S", 8.0)  # so that what the row sets is taken back
    (one,) = row_of(CALM[0], [22319003], 8.0)
    assert one.verdict == "keep"
    assert set(one.end) == {"systolic", "mean", "diastolic"}
    assert one.deflating_s > 5.0
    assert one.result_cpu_s > 0.0
    assert one.movements == ()
