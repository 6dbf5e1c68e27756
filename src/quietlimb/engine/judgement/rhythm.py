"""A pulse without order, at a rate that no animal has, or counted doubly or by halves."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from quietlimb.engine.findings import Finding, Severity
from quietlimb.engine.pulses import PulseTrain
from quietlimb.engine.quantiles import median, quantile

Mask = NDArray[np.bool_]

SLOWEST_PER_MIN, FASTEST_PER_MIN = 38.0, 310.0  # the range served is 40 to 300
IRREGULAR_CV, VERY_IRREGULAR_CV = 0.08, 0.32
# of the neighbours' height, by which every second pulse is smaller; simulated: undisturbed 0.09 at most
ALTERNATING, DOUBLY_COUNTED = 0.15, 0.35
BETWEEN_SHARE = 0.35  # of the height: a wave between two pulses this high is a pulse; simulated: undisturbed 0.05
BETWEEN_FROM = 0.42  # of the period from the foot: later than the top of any pulse
LARGE_SHARE = 0.4  # of the largest pulses: smaller ones say little about their form
FEWEST_COMPARED = 8
ONE_A_STEP = 0.85  # of the intervals; simulated: in 30 of 33 recordings with more the rate was half the true one


def rhythm_findings(train: PulseTrain) -> tuple[Finding, ...]:
    """Findings on regularity."""
    pulses = train.pulses
    quiet = np.array([reason not in ("limb-moved", "samples-missing") for reason in pulses.set_aside])
    interval = pulses.period_s[:-1][quiet[:-1] & quiet[1:]]
    if interval.size < 5:
        return ()
    interval = interval / np.maximum(np.round(interval / train.period_s), 1.0)  # a hidden pulse is no pause
    cv = float(np.std(interval, ddof=1) / np.mean(interval))
    if cv <= IRREGULAR_CV:
        return ()
    severity: Severity = "doubt" if cv > VERY_IRREGULAR_CV else "note"
    return (Finding(code="irregular-rhythm", severity=severity, numbers={"interval_cv": cv}),)


def rate_findings(train: PulseTrain) -> tuple[Finding, ...]:
    """A rhythm that no cat or dog has is not a pulse."""
    if SLOWEST_PER_MIN <= 60.0 / train.period_s <= FASTEST_PER_MIN:
        return ()
    return (Finding(code="no-pulse", severity="spoils", numbers={"pulses": int(train.pulses.kept.sum())}),)


def counting_findings(train: PulseTrain) -> tuple[Finding, ...]:
    """Findings on a rate that may be double or half of the true one.

    Every second pulse much smaller than its neighbours, or missing throughout: waves between the pulses may have been
    counted, though strong and weak pulses may also take turns. A wave between two pulses that rises like one: every
    second pulse may have been passed over. The valve opened between nearly all neighbours: it may have hidden some.
    """
    per_min = 60.0 / train.period_s
    smaller = _every_second_smaller(train)
    if smaller >= ALTERNATING:
        severity: Severity = "doubt" if smaller > DOUBLY_COUNTED else "note"
        numbers = {"share": smaller, "other_per_min": per_min / 2.0}
        return (Finding(code="rate-doubled", severity=severity, touches=("pulse_rate",), numbers=numbers),)
    between = _wave_between(train)
    if between >= BETWEEN_SHARE:
        numbers = {"share": between, "other_per_min": 2.0 * per_min}
        return (Finding(code="rate-halved", severity="doubt", touches=("pulse_rate",), numbers=numbers),)
    hidden = float(train.over_valve[:-1].mean()) if len(train.pulses) > 1 else 0.0
    if hidden <= ONE_A_STEP:
        return ()
    numbers = {"share": hidden}
    return (Finding(code="one-pulse-a-step", severity="doubt", touches=("pulse_rate",), numbers=numbers),)


def _large(train: PulseTrain) -> Mask:
    kept, height = train.pulses.kept, train.pulses.height_mmhg
    return kept & (height > LARGE_SHARE * quantile(height[kept], 0.95)) if kept.any() else kept


def _every_second_smaller(train: PulseTrain) -> float:
    """Share of the neighbours' height by which every second pulse is smaller; 1 where it is not there at all."""
    pulses = train.pulses
    apart = np.maximum(np.round(pulses.period_s[:-1] / train.period_s), 1.0)
    in_sight = apart[~train.over_valve[:-1]]
    if in_sight.size >= FEWEST_COMPARED and median(in_sight) == 2.0:
        return 1.0
    order = np.concatenate(([0.0], np.cumsum(apart)))
    kept, height, large = pulses.kept, pulses.height_mmhg, _large(train)
    inner = np.flatnonzero(large[1:-1] & kept[:-2] & kept[2:] & (apart[:-1] == 1.0) & (apart[1:] == 1.0)) + 1
    if inner.size < FEWEST_COMPARED:
        return 0.0
    off = np.log(height[inner] / np.maximum((height[inner - 1] + height[inner + 1]) / 2.0, 1e-9))
    return float(1.0 - np.exp(-abs(median(np.where(order[inner] % 2.0 == 0.0, off, -off)))))


def _wave_between(train: PulseTrain) -> float:
    """Rise of the mean large pulse after its top, as share of its height."""
    large = _large(train)
    if large.sum() < FEWEST_COMPARED:
        return 0.0
    mean = train.shape[large].mean(axis=0)
    late = mean[round(BETWEEN_FROM * train.period_s / train.shape_step_s) :]
    if late.size == 0 or np.ptp(mean) <= 0.0:
        return 0.0
    return float((late - np.minimum.accumulate(late)).max() / np.ptp(mean))
