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
UNEVEN: Final = 1.5  # the fastest part of a bleed over the slowest, above which it is told [invented]
# A fall over one second below this is no exhaust: a bleed valve lets at most 3 mmHg/s through, a closed cuff far less.
EXHAUST_MMHG_PER_S: Final = Cited(5.0, "mmHg/s", "Quietlimb", "slowest fall taken for an exhaust", "invented")
_TWO_SIDED = float(ndtri(0.975))
# A part slower than this was closed, one faster was let out: neither is the work of a bleed valve.
SLOWEST_BLEED: Final = Cited(0.5, "mmHg/s", "Quietlimb", "slowest fall taken for a bleed", "invented")
FASTEST_BLEED: Final = Cited(20.0, "mmHg/s", "Quietlimb", "fastest fall taken for a bleed", "invented")

# A closed cuff that settles and leaks loses some 15 mmHg; what fell by this much of the limit's range was open.
BLOCKED_SHARE: Final = Cited(0.25, "share", "Quietlimb", "least fall taken for a blocked valve's", "invented")
FALL_OVER_S: Final = 5.0  # so that noise, and the moment after pumping, are no fall [invented]


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
                  otherwise not judged. What went before the opening, as a cuff that was held closed, does not count.
                  Where the pressure never fell faster than a bleed valve lets it, a valve that was open is blocked, and
                  fails: a fall that runs on for longer than the limit and far beyond any settling, and that slows as
                  the pressure does. An even fall is a bleed, one that hardly falls a closed cuff: these are not judged
                  and have no figure.
    """
    limit = chosen(EXHAUST_LIMITS, limit) if isinstance(limit, str) else limit
    _refuse_standard(standard_mmhg)
    time, pressure = recording.time_s, recording.cuff_pressure_mmhg
    top, lowest = float(pressure.max()), float(pressure[int(pressure.argmax()) :].min())
    start, end = limit.start.value, limit.end.value
    opened, fastest = _opening(recording)
    if opened is None:
        return _blocked(recording, limit, fastest) or _no_exhaust(recording, limit, fastest)
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
    if slowest.high < fastest.low and fastest.value > UNEVEN * slowest.value:
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


def _blocked(recording: Recording, limit: ExhaustLimit, fastest: float) -> CheckResult | None:
    """The failure of an opened valve that lets out next to nothing; None where the recording may be something else."""
    time, pressure = recording.time_s, recording.cuff_pressure_mmhg
    run = _slow_fall(recording)
    if run is None:
        return None
    began, ended = run
    top, bottom = float(pressure[began]), float(pressure[ended])
    span = limit.start.value - limit.end.value
    if top - bottom < BLOCKED_SHARE.value * span or _is_even(recording, began, ended):
        return None
    left = max(float(time[began]), _last_above(recording, _left_at(limit.start.value, float(pressure.max()))))
    emptied = float(pressure[began:].min()) <= limit.end.value
    seconds = (_first_below(recording, limit.end.value) if emptied else float(time[-1])) - left
    if seconds <= limit.most.value:
        return None
    numbers = {"fallen_mmhg": top - bottom, "seconds": float(time[ended] - time[began]), "fastest_mmhg_per_s": fastest}
    # a sample early or late, as of any exhaust; the error of the sensor is small beside so many seconds
    step = 1.0 / recording.sampling_rate_hz
    high = seconds + step if emptied else math.inf
    figure = Figure(value=seconds, low=seconds - step, high=high, unit="s", most=limit.most)
    return _exhausted(figure, "fails", limit, [CheckFinding(code="blocked", numbers=numbers)])


def _no_exhaust(recording: Recording, limit: ExhaustLimit, fastest: float) -> CheckResult:
    numbers = {"fastest_mmhg_per_s": fastest, "wanted_mmhg_per_s": EXHAUST_MMHG_PER_S.value}
    finding = CheckFinding(code="no-exhaust", numbers=numbers)
    time, pressure = recording.time_s, recording.cuff_pressure_mmhg
    top = int(pressure.argmax())
    if pressure[top] - pressure[-1] < SLOWEST_BLEED.value * (time[-1] - time[top]):
        finding = CheckFinding(code="stayed-closed", numbers={"slowest_mmhg_per_s": SLOWEST_BLEED.value})
    return CheckResult(kind="exhaust", verdict="not-judged", figures={}, limit=limit.code, findings=(finding,))


def _slow_fall(recording: Recording) -> tuple[int, int] | None:
    """First and last sample of the longest fall, after the highest pressure, that is none of a closed cuff.

    None where the pressure nowhere fell on, over `FALL_OVER_S`, faster than that.
    """
    pressure = recording.cuff_pressure_mmhg
    reach = max(round(FALL_OVER_S * recording.sampling_rate_hz), 1)
    begin = int(pressure.argmax())
    falls = (pressure[begin:-reach] - pressure[begin + reach :]) >= SLOWEST_BLEED.value * FALL_OVER_S
    edges = np.flatnonzero(np.diff(np.concatenate(([False], falls, [False])).astype(np.int8)))
    if edges.size == 0:
        return None
    longest = int((edges[1::2] - edges[::2]).argmax())
    return begin + int(edges[2 * longest]), begin + int(edges[2 * longest + 1]) - 1 + reach


def _is_even(recording: Recording, began: int, ended: int) -> bool:
    """Whether a fall keeps its rate, as a bleed valve does; through an opening that only stands open it slows.

    Of a fall that was recorded in part, what an opening does to it may not be seen yet; then it is called even.
    """
    time, pressure = recording.time_s, recording.cuff_pressure_mmhg
    edges = np.linspace(float(pressure[began]), float(pressure[ended]), BANDS + 1)
    within = pressure[began : ended + 1]
    crossed = [float(time[began + int(np.flatnonzero(within <= edge)[0])]) for edge in edges[1:-1]]
    seconds = np.diff([float(time[began]), *crossed, float(time[ended])])
    return bool(seconds[-1] <= UNEVEN * seconds[0])


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
