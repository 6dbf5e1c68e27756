"""The valve: whether it lets a cuff out fast enough, and evenly enough when it bleeds; from a recording.

The recorded pressure may be off by an error with a standard uncertainty that the caller states; what it does to the
times at which a pressure is crossed makes the interval.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from scipy.special import ndtri

from quietlimb.engine.errors import ParameterError
from quietlimb.engine.recording import Recording
from quietlimb.engine.values import Cited
from quietlimb.instruments.checks import CheckFinding, CheckResult, CheckVerdict, Figure, no_pass, worst_verdict
from quietlimb.instruments.limits import BLEED_LIMITS, EXHAUST_LIMITS, BleedLimit, ExhaustLimit, chosen

BANDS: Final = 4  # into which the range of a bleed valve is cut
USUAL_STANDARD_MMHG: Final = 0.5
# A fall over one second below this is no exhaust: a bleed valve lets at most 3 mmHg/s through, a closed cuff far less.
EXHAUST_MMHG_PER_S: Final = Cited(5.0, "mmHg/s", "Quietlimb", "slowest fall taken for an exhaust", "invented")
_TWO_SIDED = float(ndtri(0.975))
# A part slower than this was closed, one faster was let out: neither is the work of a bleed valve.
SLOWEST_BLEED: Final = Cited(0.5, "mmHg/s", "Quietlimb", "slowest fall taken for a bleed", "invented")
FASTEST_BLEED: Final = Cited(20.0, "mmHg/s", "Quietlimb", "fastest fall taken for a bleed", "invented")


def exhaust(
    recording: Recording, limit: ExhaustLimit | str = "adult", *, standard_mmhg: float = USUAL_STANDARD_MMHG
) -> CheckResult:
    """How long the opened valve takes to let the cuff out.

    standard_mmhg : standard uncertainty of the recorded pressure [mmHg]

    Returns
    -------
    CheckResult : figure `time`, from the last moment at the higher pressure to the first at the lower one. [s]
                  A recording that starts too low can fail (from higher it takes longer still) but not pass; one that
                  ends too high can fail, by the time that it lasted, with no upper end to the interval. Both are
                  otherwise not judged. No figure and no verdict where the pressure never fell faster than a bleed
                  valve lets it: a closed cuff that leaks, or a bleed, is no exhaust. What went before the opening,
                  as a cuff that was held closed, does not count.
    """
    limit = chosen(EXHAUST_LIMITS, limit) if isinstance(limit, str) else limit
    _refuse_standard(standard_mmhg)
    time, pressure = recording.time_s, recording.cuff_pressure_mmhg
    top, lowest = float(pressure.max()), float(pressure[int(pressure.argmax()) :].min())
    start, end = limit.start.value, limit.end.value
    opened, fastest = _opening(recording)
    if opened is None:
        numbers = {"fastest_mmhg_per_s": fastest, "wanted_mmhg_per_s": EXHAUST_MMHG_PER_S.value}
        finding = CheckFinding(code="no-exhaust", numbers=numbers)
        return CheckResult(kind="exhaust", verdict="not-judged", figures={}, limit=limit.code, findings=(finding,))
    highest, top = top, float(pressure[opened:].max())
    findings: list[CheckFinding] = []
    if top < start <= highest:
        numbers = {"opened_mmhg": top, "needed_mmhg": start}
        findings.append(CheckFinding(code="opened-too-low", numbers=numbers))
    elif top < start:
        findings.append(CheckFinding(code="starts-too-low", numbers={"highest_mmhg": top, "needed_mmhg": start}))
    if lowest > end:
        findings.append(CheckFinding(code="ends-too-high", numbers={"lowest_mmhg": lowest, "needed_mmhg": end}))
    begun = _last_above(recording, _left_at(start, top))
    step = 1.0 / recording.sampling_rate_hz
    if lowest > end:
        lasted = float(time[-1]) - begun
        figure = Figure(value=lasted, low=lasted, high=math.inf, unit="s", most=limit.most)
        verdict: CheckVerdict = "fails" if lasted > limit.most.value else "not-judged"
        return _exhausted(figure, verdict, limit, findings)
    value = _first_below(recording, end) - begun
    error = _TWO_SIDED * standard_mmhg
    times = [value - step, value + step]
    for shift in (-error, error):
        if lowest <= end + shift:
            left = _last_above(recording, _left_at(start + shift, top))
            times.append(_first_below(recording, end + shift) - left)
    high = math.inf if lowest > end - error else max(times)
    figure = Figure(value=value, low=max(min(times), 0.0), high=high, unit="s", most=limit.most)
    verdict = figure.verdict
    if top < start:
        verdict = no_pass(verdict)
    return _exhausted(figure, verdict, limit, findings)


def bleed_rate(
    recording: Recording, limit: BleedLimit | str = "non-automated", *, standard_mmhg: float = USUAL_STANDARD_MMHG
) -> CheckResult:
    """How fast the pressure falls with the bleed valve set once, in four equal parts of its range.

    standard_mmhg : standard uncertainty of the recorded pressure, taken as independent from pressure to pressure [mmHg]

    Returns
    -------
    CheckResult : figures `rate`, over the parts that were recorded, then `slowest` and `fastest` part. [mmHg/s]
                  Where the range was not recorded to its ends it can fail, but not pass; where a part of it is so
                  slow or so fast that the cuff was closed or let out, nothing is judged.
    """
    limit = chosen(BLEED_LIMITS, limit) if isinstance(limit, str) else limit
    _refuse_standard(standard_mmhg)
    pressure = recording.cuff_pressure_mmhg
    top, lowest = float(pressure.max()), float(pressure[int(pressure.argmax()) :].min())
    start, end = limit.start.value, limit.end.value
    findings: list[CheckFinding] = []
    if top < start:
        findings.append(CheckFinding(code="starts-too-low", numbers={"highest_mmhg": top, "needed_mmhg": start}))
    if lowest > end:
        findings.append(CheckFinding(code="ends-too-high", numbers={"lowest_mmhg": lowest, "needed_mmhg": end}))
    edges = [float(edge) for edge in np.linspace(start, end, BANDS + 1) if lowest <= edge <= top]
    if len(edges) < 2:
        findings.append(CheckFinding(code="no-fall"))
        return CheckResult(kind="bleed", verdict="not-judged", figures={}, limit=limit.code, findings=tuple(findings))
    # The first edge is left for the last time; each of the others is counted where it is first reached after that.
    begun = _last_above(recording, edges[0])
    crossed = [begun, *(_first_below(recording, edge, after_s=begun) for edge in edges[1:])]

    def figure(first: int, last: int) -> Figure:
        fall, seconds = edges[first] - edges[last], max(crossed[last] - crossed[first], 1e-3)
        rate = fall / seconds
        by_pressure = math.sqrt(2.0) * standard_mmhg / fall
        by_time = math.sqrt(2.0 / 12.0) / recording.sampling_rate_hz / seconds
        half = _TWO_SIDED * rate * math.hypot(by_pressure, by_time)
        return Figure(
            value=rate,
            low=rate - half,
            high=rate + half,
            unit="mmHg/s",
            least=limit.least,
            most=limit.most,
            at_mmhg=0.5 * (edges[first] + edges[last]),
        )

    parts = [figure(k, k + 1) for k in range(len(edges) - 1)]
    slowest, fastest = min(parts, key=lambda each: each.value), max(parts, key=lambda each: each.value)
    figures = {"rate": figure(0, len(edges) - 1), "slowest": slowest, "fastest": fastest}
    if slowest.high < fastest.low and fastest.value > 1.5 * slowest.value:
        numbers = {"slowest_mmhg_per_s": slowest.value, "fastest_mmhg_per_s": fastest.value}
        findings.append(CheckFinding(code="uneven-bleed", numbers=numbers))
    verdict = worst_verdict(each.verdict for each in figures.values())
    if len(edges) <= BANDS:
        verdict = no_pass(verdict)
    if slowest.value < SLOWEST_BLEED.value or fastest.value > FASTEST_BLEED.value:
        numbers = {"slowest_mmhg_per_s": slowest.value, "fastest_mmhg_per_s": fastest.value}
        findings = [each for each in findings if each.code != "uneven-bleed"]
        findings.append(CheckFinding(code="no-bleed", numbers=numbers))
        verdict = "not-judged"
    return CheckResult(kind="bleed", verdict=verdict, figures=figures, limit=limit.code, findings=tuple(findings))


def _exhausted(figure: Figure, verdict: CheckVerdict, limit: ExhaustLimit, findings: list[CheckFinding]) -> CheckResult:
    return CheckResult(
        kind="exhaust", verdict=verdict, figures={"time": figure}, limit=limit.code, findings=tuple(findings)
    )


def _opening(recording: Recording) -> tuple[int | None, float]:
    """A sample of the second in which the fastest fall began, and how fast that was. [-], [mmHg/s]

    None where no second of the recording, after its highest pressure, fell as fast as an exhaust.
    """
    pressure = recording.cuff_pressure_mmhg
    reach = max(round(recording.sampling_rate_hz), 1)
    begin = int(pressure.argmax())
    fallen = (pressure[begin:-reach] - pressure[begin + reach :]) * recording.sampling_rate_hz / reach
    if fallen.size == 0:
        return None, 0.0
    steepest = int(fallen.argmax())
    if fallen[steepest] < EXHAUST_MMHG_PER_S.value:
        return None, max(float(fallen[steepest]), 0.0)
    slow = np.flatnonzero(fallen[:steepest] < EXHAUST_MMHG_PER_S.value)
    first = int(slow[-1]) + 1 if slow.size else 0
    return begin + first, float(fallen[steepest])


def _left_at(start_mmhg: float, top_mmhg: float) -> float:
    """The pressure whose last moment is the beginning: the limit's, or a little under the highest of a lower one."""
    return start_mmhg if top_mmhg >= start_mmhg else top_mmhg - 1.0


def _last_above(recording: Recording, level_mmhg: float) -> float:
    """When the pressure leaves a level for the last time, straight between samples. [s]"""
    time, pressure = recording.time_s, recording.cuff_pressure_mmhg
    k = int(np.flatnonzero(pressure >= level_mmhg)[-1])
    return float(time[k]) if k + 1 == time.size else _crossing(recording, k, level_mmhg)


def _first_below(recording: Recording, level_mmhg: float, after_s: float | None = None) -> float:
    """When the pressure first reaches a level after its highest, or after a moment. [s]"""
    time, pressure = recording.time_s, recording.cuff_pressure_mmhg
    begin = int(pressure.argmax()) if after_s is None else int(np.searchsorted(time, after_s))
    k = begin + int(np.flatnonzero(pressure[begin:] <= level_mmhg)[0])
    return float(time[k]) if k == 0 or pressure[k - 1] <= level_mmhg else _crossing(recording, k - 1, level_mmhg)


def _crossing(recording: Recording, before: int, level_mmhg: float) -> float:
    time, pressure = recording.time_s, recording.cuff_pressure_mmhg
    share = (pressure[before] - level_mmhg) / (pressure[before] - pressure[before + 1])
    return float(time[before] + share * (time[before + 1] - time[before]))


def _refuse_standard(standard_mmhg: float) -> None:
    if not 0.0 <= standard_mmhg <= 10.0:
        raise ParameterError(
            "impossible-uncertainty",
            f"a standard uncertainty of {standard_mmhg:g} mmHg",
            "give 0 to 10 mmHg: half of the expanded uncertainty of the sensor's last check",
        )
