"""Rhythm and rate."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from engine.judgement.examples import CUFF, train_of
from quietlimb.engine.findings import Severity
from quietlimb.engine.judgement import rhythm


@pytest.mark.parametrize(("cv", "severity"), [(0.05, None), (0.25, "note"), (0.36, "doubt")])
def test_irregular_rhythm(cv: float, severity: Severity | None):
    """Intervals that vary by more than 8 % are noted, by more than 32 % make doubtful, with the figure.

    Oracle: by construction: two lengths that alternate have just this coefficient of variation. The limits are
    invented, frozen. Tolerance: n against n - 1 in 60 intervals.
    """
    intervals = 0.4 * (1.0 + cv * np.where(np.arange(61) % 2, 1.0, -1.0))
    train = train_of(intervals=intervals)
    found = rhythm.rhythm_findings(train)
    assert [(f.code, f.severity) for f in found] == ([("irregular-rhythm", severity)] if severity else [])
    for finding in found:
        assert finding.numbers["interval_cv"] == pytest.approx(cv, rel=0.02)


def test_a_hidden_pulse_is_no_pause():
    """Intervals of two and three periods, where pulses were not seen, do not make a rhythm irregular.

    Oracle: by construction.
    """
    intervals = np.full(61, 0.4)
    intervals[::7], intervals[3::11] = 0.8, 1.2
    train = train_of(intervals=intervals)
    assert rhythm.rhythm_findings(train) == ()


@pytest.mark.parametrize(
    ("per_min", "pulse"), [(37.0, False), (40.0, True), (150.0, True), (300.0, True), (315.0, False)]
)
def test_a_rhythm_that_no_animal_has(per_min: float, pulse: bool):
    """From 40 to 300 a minute there is a pulse; slower or faster is none, and spoils.

    Oracle: common practice: the range that the product serves, with a little room.
    """
    train = train_of(period_s=60.0 / per_min)
    found = rhythm.rate_findings(train)
    assert [(f.code, f.severity) for f in found] == ([] if pulse else [("no-pulse", "spoils")])


@pytest.mark.parametrize(("by", "severity"), [(0.1, None), (0.2, "note"), (0.3, "note"), (0.4, "doubt")])
def test_every_second_pulse_smaller(by: float, severity: Severity | None):
    """Every second pulse smaller by more than 0.15 is noted, by more than 0.35 makes doubtful, with half the rate.

    Oracle: by construction for the share; 0.35 at half the interval is the reference's own figure, assumed there; 0.15
    is invented. Tolerance: 0.02, for the bell between neighbours.
    """
    train = train_of()
    second = np.where(np.arange(CUFF.size) % 2, 1.0, 1.0 - by)
    taking_turns = replace(train, pulses=replace(train.pulses, height_mmhg=second * train.pulses.height_mmhg))
    found = rhythm.counting_findings(taking_turns)
    assert [(f.code, f.severity, f.touches) for f in found] == (
        [("rate-doubled", severity, ("pulse_rate",))] if severity else []
    )
    for finding in found:
        assert finding.numbers["share"] == pytest.approx(by, abs=0.02)
        assert finding.numbers["other_per_min"] == pytest.approx(75.0)


def test_every_second_pulse_missing():
    """Pulses two periods apart throughout make the rate doubtful, unless the valve may have hidden those between.

    Oracle: by construction.
    """
    train = train_of(intervals=np.full(CUFF.size, 0.8), period_s=0.4)
    (finding,) = rhythm.counting_findings(train)
    assert (finding.code, finding.severity) == ("rate-doubled", "doubt")
    assert dict(finding.numbers) == {"share": 1.0, "other_per_min": pytest.approx(75.0)}
    behind_valve = rhythm.counting_findings(replace(train, over_valve=np.ones(CUFF.size, dtype=np.bool_)))
    assert [f.code for f in behind_valve] == ["one-pulse-a-step"]


@pytest.mark.parametrize(("every", "doubted"), [(2, False), (5, False), (10, True)])
def test_one_pulse_a_step(every: int, doubted: bool):
    """Where the valve opened in more than 85 intervals of a hundred, the rate is doubtful, with that share.

    Oracle: by construction; the limit is invented, frozen. All intervals but every so many hold an opening.
    """
    over_valve = np.arange(CUFF.size) % every != 0
    found = rhythm.counting_findings(replace(train_of(), over_valve=over_valve))
    assert [(f.code, f.severity, f.touches) for f in found] == (
        [("one-pulse-a-step", "doubt", ("pulse_rate",))] if doubted else []
    )
    for finding in found:
        assert finding.numbers["share"] == pytest.approx(over_valve[:-1].mean())


@pytest.mark.parametrize(("share", "doubted"), [(0.0, False), (0.3, False), (0.4, True), (1.0, True)])
def test_a_wave_between_pulses(share: float, doubted: bool):
    """A wave between two pulses that rises by more than 0.35 of their height makes doubtful, with twice the rate.

    Oracle: by construction: each pulse is a bell of height 1 at 0.15 of the period with another of the share given at
    0.65; the limit is invented, frozen. Tolerance: 0.02, for the steps of the shape.
    """
    train = train_of(period_s=1.0)
    phase = np.arange(46) * 0.02
    form = np.exp(-(((phase - 0.15) / 0.08) ** 2)) + share * np.exp(-(((phase - 0.65) / 0.08) ** 2))
    found = rhythm.counting_findings(replace(train, shape=train.pulses.height_mmhg[:, None] * form))
    assert [(f.code, f.severity) for f in found] == ([("rate-halved", "doubt")] if doubted else [])
    for finding in found:
        assert finding.numbers["share"] == pytest.approx(share, abs=0.02)
        assert finding.numbers["other_per_min"] == pytest.approx(120.0)
