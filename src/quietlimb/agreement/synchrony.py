"""Pairs from two channels: what a cuff reads, beside the beats in the artery that it is to be held against.

Which beats, is the rule.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from quietlimb.agreement.arterial_line import ArterialLine, FlushResponse, find_flushes, first_response, judge_line
from quietlimb.agreement.arterial_trace import ArterialBeats, ArterialTrace, find_beats
from quietlimb.agreement.pair_rows import QUANTITIES, Failed, Pressures
from quietlimb.agreement.window_rule import Rule
from quietlimb.engine.deflation import find_deflation
from quietlimb.engine.recording import Recording
from quietlimb.engine.values import Cited

PULSES_DIFFER_FROM: Final = Cited(0.10, "of the pulse rate", "practice", "errors worth a guard", "common practice")
FLUSH_SPOILS_S: Final = (0.3, 1.0)  # before its begin and after its end
NEAR_S: Final = 1.0  # of an inflation's begin and end, when the limb may be handled [invented]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TwoChannels:
    """A recording of a cuff and of an artery at the same time, on one clock.

    zero_mmhg      : what the arterial transducer said when open to the air; None where not told
    below_heart_cm : height of that transducer, positive below the heart; None where not told
    flush          : a trace of the same line with a fast flush, where the recording itself has none
    """

    recording: Recording
    artery: ArterialTrace
    zero_mmhg: float | None = None
    below_heart_cm: float | None = None
    flush: ArterialTrace | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Reason:
    """Why one side gave nothing: a code of `tested-failed`, `no-window`, `few-beats`, `pulses-differ`, and numbers."""

    code: str
    numbers: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Determination:
    """What a cuff read and what was in the artery meanwhile.

    tested, reference : all None where there is none
    reference_sd      : of the single beats [mmHg]
    beats             : in the window
    window_s          : begin and end of each part of the window [s], on the cuff's clock
    line              : None without a beat
    reasons           : why a side failed, or what is doubtful
    flush             : the samples from which the line's response was had; None where there is none
    """

    tested: Pressures
    reference: Pressures
    reference_sd: Pressures
    beats: int
    window_s: tuple[tuple[float, float], ...]
    line: ArterialLine | None
    reasons: tuple[Reason, ...]
    flush: ArterialTrace | None = None

    @property
    def failed(self) -> Failed | None:
        """Which side gave nothing; None where both told a pressure."""
        if self.tested.any:
            return None if self.reference.any else "reference"
        return "tested" if self.reference.any else "both"


Read = Callable[[Recording], tuple[Pressures, float | None]]


def determine(two: TwoChannels, read: Read, rule: Rule) -> Determination:
    """The pair that a two-channel recording gives by a rule.

    read : a method: recording -> its pressures, and its pulse rate where it tells one [/min]

    A reference needs enough beats, and a pulse that is the one the cuff saw. Zero and level are told, not corrected.
    """
    tested, pulse_rate = read(two.recording)
    reasons = [] if tested.any else [Reason(code="tested-failed")]
    beats = find_beats(_without_flushes(two.artery))
    spans = _spans(two, rule)
    parts = [beats.within(start + rule.later_s, end + rule.later_s) for start, end in spans]
    count = sum(len(part) for part in parts)
    reference, sd = Pressures(), Pressures()
    if not spans:
        reasons.append(Reason(code="no-window"))
    elif count < rule.fewest_beats:
        numbers = {"beats": float(count), "wanted": float(rule.fewest_beats)}
        reasons.append(Reason(code="few-beats", numbers=numbers))
    else:
        rate = 60.0 / float(np.median(np.concatenate([part.end_s - part.start_s for part in parts])))
        if pulse_rate is not None and abs(pulse_rate / rate - 1.0) > PULSES_DIFFER_FROM.value:
            numbers = {"cuff_per_min": pulse_rate, "artery_per_min": rate}
            reasons.append(Reason(code="pulses-differ", numbers=numbers))
        else:
            reference, sd = _mean_and_sd(parts)
    flushed = _response(two) if count else None
    line = _line(two, parts, None if flushed is None else flushed[0])
    return Determination(
        tested=tested,
        reference=reference,
        reference_sd=sd,
        beats=count,
        window_s=spans,
        line=line,
        reasons=tuple(reasons),
        flush=None if line is None or flushed is None else flushed[1],
    )


def _without_flushes(artery: ArterialTrace) -> ArterialTrace:
    """The trace with each flush, and what rings after it, as not measured."""
    pressure = artery.pressure_mmhg
    for start_s, ended_s in find_flushes(artery):
        spoiled = (artery.time_s >= start_s - FLUSH_SPOILS_S[0]) & (artery.time_s <= ended_s + FLUSH_SPOILS_S[1])
        pressure = np.where(spoiled, np.nan, pressure)
    return ArterialTrace(time_s=artery.time_s, pressure_mmhg=pressure)


def _spans(two: TwoChannels, rule: Rule) -> tuple[tuple[float, float], ...]:
    deflation = find_deflation(two.recording)
    if deflation is None:
        return ()
    start, end = float(deflation.time_s[0]), float(deflation.time_s[-1])
    if rule.window == "deflation":
        return ((start, end),)
    time, cuff = two.recording.time_s, two.recording.cuff_pressure_mmhg
    empty = np.flatnonzero((time < start) & (cuff < 0.1 * float(cuff.max())))
    inflated = float(time[empty[-1]]) if empty.size else float(time[0])
    before = (inflated - NEAR_S - rule.seconds, inflated - NEAR_S)
    after = (end + NEAR_S, end + NEAR_S + rule.seconds)
    return {"before": (before,), "after": (after,), "around": (before, after)}[rule.window]


def _mean_and_sd(parts: list[ArterialBeats]) -> tuple[Pressures, Pressures]:
    """Mean and standard deviation over the beats; of a window in two parts, the mean of both, whatever their beats."""
    with_beats = [part for part in parts if len(part)]
    mean = {name: float(np.mean([getattr(part, name).mean() for part in with_beats])) for name in QUANTITIES}
    sd = {}
    for name in QUANTITIES:
        values = np.concatenate([getattr(part, name) for part in with_beats])
        sd[name] = float(values.std(ddof=1)) if values.size > 1 else None
    return Pressures(**mean), Pressures(**sd)


def _line(two: TwoChannels, parts: list[ArterialBeats], response: FlushResponse | None) -> ArterialLine | None:
    with_beats = [part for part in parts if len(part)]
    if not with_beats:
        return None
    return judge_line(
        zero_mmhg=two.zero_mmhg,
        below_heart_cm=two.below_heart_cm,
        response=response,
        systolic=float(np.mean([part.systolic.mean() for part in with_beats])),
        diastolic=float(np.mean([part.diastolic.mean() for part in with_beats])),
        pulse_rate=float(np.mean([part.rate_per_min for part in with_beats])),
    )


def _response(two: TwoChannels) -> tuple[FlushResponse, ArterialTrace] | None:
    """Of the first flush that tells one, in the recording or else in the trace beside it, with its samples."""
    found = first_response(two.artery)
    return found if found is not None or two.flush is None else first_response(two.flush)
