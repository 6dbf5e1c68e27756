"""Leak: how fast the pressure falls in a closed cuff, from two values of each hold or from a recording."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from scipy.special import ndtri

from quietlimb.engine.recording import Recording
from quietlimb.engine.values import Cited
from quietlimb.instruments.checks import CheckFinding, CheckResult, Figure, LeakPoints, no_pass, worst_verdict
from quietlimb.instruments.limits import LEAK_LIMITS, LeakLimit, chosen
from quietlimb.instruments.settling import SHORTEST_HOLD_S, HoldFit, find_holds, fit_hold

WANTED_HOLD_S = 60.0
HIGH_ENOUGH_MMHG = 200.0
# Below it a hold can fail, not pass: a seam or a valve may leak at the pressure of a measurement only.
LEAST_HELD_MMHG = Cited(150.0, "mmHg", "Quietlimb", "pressure of a hold that may pass", "invented")
# What rises by so much of the limit may hide a leak of as much.
MOST_RISE = Cited(0.25, "share", "Quietlimb", "rise in a closed cuff against the limit of a leak", "invented")
_TWO_SIDED = float(ndtri(0.975))


def leak(points: LeakPoints, limit: LeakLimit | str = "non-automated") -> CheckResult:
    """Fall per minute of each hold from its first and last value, the worst first.

    Returns
    -------
    CheckResult : figures `leak`, the fastest, and of several holds `hold_1`, `hold_2`, ... in their order. [mmHg/min]
                  Where none was held for 50 s, or at 150 mmHg or more, it can fail but not pass: then it is not
                  judged. Where the pressure surely rose, and by more than a quarter of the limit, nothing passes: what
                  warms the cuff, or a pump, may hide a leak.

    Notes
    -----
    rate = 60 (P0 - P1) / t. Its interval is of the rounding of both values, each even over one step, and of the time,
    even over +/- timing. Settling cannot be told apart from leak by two values: let the cuff settle for 60 s first.
    """
    limit = chosen(LEAK_LIMITS, limit) if isinstance(limit, str) else limit
    figures = []
    for start, end, seconds in zip(points.start_mmhg, points.end_mmhg, points.held_s, strict=True):
        rate = 60.0 * (start - end) / seconds
        by_rounding = 60.0 / seconds * points.resolution_mmhg / math.sqrt(6.0)
        by_timing = rate / seconds * points.timing_s / math.sqrt(3.0)
        half = _TWO_SIDED * math.hypot(by_rounding, by_timing)
        figures.append(_figure(rate, rate - half, rate + half, start, limit))
    findings = _of_holds(figures)
    shortest = min(points.held_s)
    if shortest < WANTED_HOLD_S:
        findings.append(CheckFinding(code="short-hold", numbers={"seconds": shortest, "wanted": WANTED_HOLD_S}))
    result = _result(figures, limit, findings)
    enough = zip(points.start_mmhg, points.held_s, strict=True)
    if any(start >= LEAST_HELD_MMHG.value and seconds >= SHORTEST_HOLD_S for start, seconds in enough):
        return result
    return replace(result, verdict=no_pass(result.verdict))


def leak_of_recording(recording: Recording, limit: LeakLimit | str = "non-automated") -> CheckResult:
    """Leak from a recording of a closed cuff, the settling of warm air left out. As `judged_holds` of `fitted_holds`.

    The recording should begin before the inflation and last for 60 s, better 300 s, of each pressure held.
    """
    return judged_holds(fitted_holds(recording), limit)


def fitted_holds(recording: Recording) -> tuple[HoldFit, ...]:
    """Each hold of 5 s or more in a recording, with its fit."""
    return tuple(fit_hold(recording, start, end) for start, end in find_holds(recording))


def judged_holds(holds: Sequence[HoldFit], limit: LeakLimit | str = "non-automated") -> CheckResult:
    """The verdict on holds of a recording.

    Returns
    -------
    CheckResult : figures `leak`, the fastest of the holds that are long enough, and of several `hold_1`, ...; or none,
                  with verdict `not-judged`, where no hold is. A leak that meets the limit only because the fall is
                  taken for settling is not judged either, nor one whose interval holds the limit while the cuff still
                  settles: a longer hold will tell; nor where the pressure rose, or
                  no hold reached 150 mmHg, as in `leak`. [mmHg/min]
    """
    limit = chosen(LEAK_LIMITS, limit) if isinstance(limit, str) else limit
    long_enough = [hold for hold in holds if hold.seconds >= SHORTEST_HOLD_S]
    if not long_enough:
        longest = max((hold.seconds for hold in holds), default=0.0)
        code = "short-hold" if holds else "no-hold"
        numbers = {"seconds": longest, "wanted": WANTED_HOLD_S} if holds else {"wanted": WANTED_HOLD_S}
        finding = CheckFinding(code=code, numbers=numbers)
        return CheckResult(kind="leak", verdict="not-judged", figures={}, limit=limit.code, findings=(finding,))
    figures = [_figure(hold.rate, hold.low, hold.high, hold.start_mmhg, limit) for hold in long_enough]
    findings = _of_holds(figures)
    hidden = [_hides(hold, figure, limit.most.value) for hold, figure in zip(long_enough, figures, strict=True)]
    if any(hidden):
        worst = max(
            (hold for hold, hides in zip(long_enough, hidden, strict=True) if hides), key=lambda hold: hold.plain_rate
        )
        numbers = {"mmhg_per_min": worst.plain_rate, "settling_s": worst.settling_s, "hold_s": worst.seconds}
        findings.append(CheckFinding(code="still-settling", numbers=numbers))
    result = _result(figures, limit, findings)
    if not any(hidden):
        return result
    sure = worst_verdict(figure.verdict for figure, hides in zip(figures, hidden, strict=True) if not hides)
    return replace(result, verdict=no_pass(sure))


def _hides(hold: HoldFit, figure: Figure, most: float) -> bool:
    """Whether settling and leak cannot be told apart so far that the limit is kept, or missed."""
    if figure.value <= most < hold.plain_rate:
        return True
    return not hold.settled and figure.low <= most < figure.high


def _figure(rate: float, low: float, high: float, at_mmhg: float, limit: LeakLimit) -> Figure:
    return Figure(value=rate, low=low, high=high, unit="mmHg/min", most=limit.most, at_mmhg=at_mmhg)


def _of_holds(figures: Sequence[Figure]) -> list[CheckFinding]:
    findings = []
    highest = max(figure.at_mmhg or 0.0 for figure in figures)
    if highest < LEAST_HELD_MMHG.value:
        numbers = {"highest_mmhg": highest, "wanted_mmhg": LEAST_HELD_MMHG.value}
        findings.append(CheckFinding(code="held-too-low", numbers=numbers))
    elif highest < HIGH_ENOUGH_MMHG:
        findings.append(CheckFinding(code="low-only", numbers={"highest_mmhg": highest}))
    slowest = min(figures, key=lambda figure: figure.high)
    if slowest.high < 0.0:
        findings.append(CheckFinding(code="pressure-rises", numbers={"mmhg_per_min": -slowest.value}))
    return findings


def _result(figures: Sequence[Figure], limit: LeakLimit, findings: Sequence[CheckFinding]) -> CheckResult:
    named = {"leak": figures[int(np.argmax([figure.value for figure in figures]))]}
    if len(figures) > 1:
        named |= {f"hold_{k}": figure for k, figure in enumerate(figures, start=1)}
    verdict = worst_verdict(figure.verdict for figure in figures)
    if any(figure.high < 0.0 and -figure.value > MOST_RISE.value * limit.most.value for figure in figures):
        verdict = no_pass(verdict)
    if any(each.code == "held-too-low" for each in findings):
        verdict = no_pass(verdict)
    return CheckResult(kind="leak", verdict=verdict, figures=named, limit=limit.code, findings=tuple(findings))
