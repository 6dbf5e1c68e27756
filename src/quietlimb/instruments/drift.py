"""Drift: the errors of many checks on a control chart, and when the error will pass its limit.

No library among the dependencies draws control charts, so the two that are used stand here: that of individual values
with its moving range, which sees a jump, and the exponentially weighted moving average (EWMA), which sees a slow
drift. Formulas and constants as in textbooks of quality control [Montgomery2009]; where the spread was learned from
few checks the limits are wider, which the textbook leaves out.

No clock runs here: dates come in.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import pairwise
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, stdtrit

from quietlimb.engine.errors import ParameterError
from quietlimb.engine.values import Cited

Values = NDArray[np.float64]
Rule = Literal["jump", "slow-drift", "restless"]
Reach = Literal["too-few", "passed", "within-reach", "not-in-reach"]

# Mean of the range of two normal values over their SD, 2 / sqrt(pi); and the upper limit of such a range over its mean.
D2: Final = Cited(1.128, "SD", "Montgomery2009", "factors for control charts, n = 2", "from memory")
D4: Final = Cited(3.267, "mean range", "Montgomery2009", "factors for control charts, n = 2", "from memory")
SHEWHART: Final = Cited(3.0, "SD", "Montgomery2009", "individuals chart", "from memory")
# In control they sound once in 500 checks; a shift by one SD is heard after 10.5.
EWMA_WEIGHT: Final = Cited(0.2, "share", "Montgomery2009", "average run lengths of EWMA", "from memory")
EWMA_WIDTH: Final = Cited(2.962, "SD", "Montgomery2009", "average run lengths of EWMA", "from memory")
# Degrees of freedom of an SD by moving ranges, of each range: half of 1 / 0.826, its variance over the squared SD.
_FREEDOM_OF_RANGE = 0.605
BASELINE: Final = 5  # checks from which centre and spread are learned [invented]
LEAST_FOR_FORECAST: Final = 4
# Of a check that tells no uncertainty: one rounding to 1 mmHg, 1 / sqrt(12).
USUAL_SD: Final = Cited(0.29, "mmHg", "GUM2008", "rounding to 1 mmHg, F.2.2.1", "derived")
KNOWN_FREEDOM: Final = Cited(10.0, "-", "Quietlimb", "worth of the known uncertainty of a check", "invented")
_DAYS_OF_YEAR = 365.25
_LEAST_SD_MMHG = 0.05  # no check is surer than that


@dataclass(frozen=True, slots=True, kw_only=True)
class DriftPoint:
    """The error that one check found.

    on            : day of the check
    error_mmhg    : with its sign [mmHg]
    standard_mmhg : its standard uncertainty from check to check, where it is known: of the readings, not of a
                    manometer that is the same each time [mmHg]
    """

    on: date
    error_mmhg: float
    standard_mmhg: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Signal:
    """A check at which a rule of the chart sounded: 0-based place among the checks."""

    at: int
    rule: Rule


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ControlChart:
    """Individual values and their EWMA, with limits.

    centre_mmhg, sd_mmhg : learned from the first `baseline` checks
    half_mmhg            : of the limits of individual values, to either side of the centre
    range_limit_mmhg     : upper limit of the difference from check to check
    ewma_mmhg            : (n,)
    ewma_half_mmhg       : (n,) of its limits
    """

    centre_mmhg: float
    sd_mmhg: float
    half_mmhg: float
    range_limit_mmhg: float
    ewma_mmhg: Values
    ewma_half_mmhg: Values
    baseline: int
    signals: tuple[Signal, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Forecast:
    """When the error will pass its limit, by a straight line through the checks.

    reach           : `passed`, it lies beyond the limit already; `within-reach`, it may pass before `reach_ends`;
                      `not-in-reach`, not even the early end of the interval lies before that
    slope, slope_low, slope_high : 95 % interval [mmHg/year]; None of too few checks
    on              : when the line passes it
    earliest, latest: 95 % interval of that; None where it lies beyond `reach_ends`, or never comes
    service_by      : the early end: have it serviced before; None where there is none within reach
    reach_ends      : as far ahead of the last check as the first lies behind it; nothing is said of later
    """

    reach: Reach
    slope: float | None = None
    slope_low: float | None = None
    slope_high: float | None = None
    on: date | None = None
    earliest: date | None = None
    latest: date | None = None
    reach_ends: date | None = None

    @property
    def service_by(self) -> date | None:
        """Have it serviced before this day."""
        return self.earliest


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Drift:
    """Checks in the order of their days, the chart (None of fewer than three) and the forecast."""

    points: tuple[DriftPoint, ...]
    limit: Cited
    chart: ControlChart | None
    forecast: Forecast


def drift(points: Sequence[DriftPoint], limit: Cited, *, since: date | None = None, baseline: int = BASELINE) -> Drift:
    """How the error of an instrument went from check to check, and when it will pass the limit.

    Parameters
    ----------
    points   : one a check: its worst error, with sign [mmHg]
    limit    : largest error, to either side [mmHg]
    since    : the day of the last adjustment or repair; checks before it say nothing of the instrument as it is now
    baseline : how many checks, from the first, the chart learns from

    Raises
    ------
    ParameterError : `no-checks`, `two-checks-a-day`, `impossible-limit`, `impossible-baseline`, `not-finite`.
    """
    kept = sorted((point for point in points if since is None or point.on >= since), key=lambda point: point.on)
    if not kept:
        raise ParameterError("no-checks", "there is no check to look at", "give one check at least, after the service")
    for before, after in pairwise(kept):
        if before.on == after.on:
            raise ParameterError(
                "two-checks-a-day",
                f"two checks of {after.on}",
                "keep the last of a day, or the one after an adjustment",
            )
    for point in kept:
        if not math.isfinite(point.error_mmhg) or not 0.0 <= (point.standard_mmhg or 0.0) < math.inf:
            raise ParameterError("not-finite", f"the check of {point.on} has no number", "leave it out, or correct it")
    if not limit.value > 0.0:
        raise ParameterError("impossible-limit", f"a limit of {limit.value:g} mmHg", "give a limit above 0")
    if baseline < 3:
        raise ParameterError("impossible-baseline", f"a baseline of {baseline} checks", "give three checks or more")
    error = np.array([point.error_mmhg for point in kept])
    known = [point.standard_mmhg for point in kept if point.standard_mmhg is not None]
    least = math.sqrt(sum(sd**2 for sd in known) / len(known)) if known else USUAL_SD.value
    least = max(least, _LEAST_SD_MMHG)
    chart = control_chart(error, baseline=baseline, known_sd_mmhg=least) if error.size >= 3 else None
    forecast = _forecast([point.on for point in kept], error, limit.value, least)
    return Drift(points=tuple(kept), limit=limit, chart=chart, forecast=forecast)


def standard_of_readings(*steps_mmhg: float) -> float:
    """Standard uncertainty of an error from check to check, by the steps that both pressures are read to. [mmHg]

    Each rounding is even over its step; never less than `USUAL_SD`, for a finer reading does not make a check repeat
    itself better than that. The manometer's certificate has no part in it: its error is the same each time.
    """
    return max(USUAL_SD.value, math.sqrt(sum(step**2 for step in steps_mmhg) / 12.0))


def control_chart(
    error_mmhg: Values, *, baseline: int = BASELINE, known_sd_mmhg: float = USUAL_SD.value
) -> ControlChart:
    """Individual values, moving range and EWMA of errors in the order of their checks.

    error_mmhg    : (n,), n >= 3
    known_sd_mmhg : what the checks themselves are uncertain by, from one to the next [mmHg]

    Notes
    -----
    sd = mean moving range / d2. Individual values: centre +/- 3 sd. EWMA: z_i = w x_i + (1 - w) z_(i-1) from the
    centre; limits L sd sqrt(w / (2 - w) (1 - (1 - w)^(2 i))). Of a baseline of m checks the centre's own error is
    added, sd^2 / m, and the multiples 3 and L become those of Student's t that are passed as seldom, with
    0.605 (m - 1) degrees of freedom for the moving range. The spread pools the moving range with what the checks are
    known to be uncertain by, which counts as ten degrees of freedom: a handful of checks alone teaches no spread. With
    many checks nothing of all this remains.
    """
    count = min(baseline, error_mmhg.size)
    learned = error_mmhg[:count]
    centre = float(learned.mean())
    mean_range = float(np.abs(np.diff(learned)).mean())
    by_range = mean_range / D2.value
    by_ranges = _FREEDOM_OF_RANGE * (count - 1)
    freedom = by_ranges + KNOWN_FREEDOM.value
    sd = math.sqrt((by_ranges * by_range**2 + KNOWN_FREEDOM.value * known_sd_mmhg**2) / freedom)
    half = _as_seldom(SHEWHART.value, freedom) * sd * math.sqrt(1.0 + 1.0 / count)
    weight = EWMA_WEIGHT.value
    ewma, z = np.empty(error_mmhg.size), centre
    for k, error in enumerate(error_mmhg):
        z = weight * float(error) + (1.0 - weight) * z
        ewma[k] = z
    stayed = (1.0 - weight) ** np.arange(1, error_mmhg.size + 1)
    variance = weight / (2.0 - weight) * (1.0 - stayed**2) + (1.0 - stayed) ** 2 / count
    ewma_half = _as_seldom(EWMA_WIDTH.value, freedom) * sd * np.sqrt(variance)
    range_limit = D4.value * D2.value * sd * _as_seldom(SHEWHART.value, freedom) / SHEWHART.value
    signals = [Signal(at=int(k), rule="jump") for k in np.flatnonzero(np.abs(error_mmhg - centre) > half)]
    signals += [Signal(at=int(k), rule="slow-drift") for k in np.flatnonzero(np.abs(ewma - centre) > ewma_half)]
    restless = np.flatnonzero(np.abs(np.diff(error_mmhg)) > range_limit)
    signals += [Signal(at=int(k) + 1, rule="restless") for k in restless]
    return ControlChart(
        centre_mmhg=centre,
        sd_mmhg=sd,
        half_mmhg=half,
        range_limit_mmhg=range_limit,
        ewma_mmhg=ewma,
        ewma_half_mmhg=ewma_half,
        baseline=count,
        signals=tuple(sorted(signals, key=lambda signal: (signal.at, signal.rule))),
    )


def _as_seldom(multiple: float, freedom: float) -> float:
    """The multiple that Student's t passes as seldom as a normal value passes `multiple`."""
    return float(stdtrit(freedom, ndtr(multiple)))


def _forecast(days: Sequence[date], error: Values, limit: float, least_sd: float) -> Forecast:
    """The line's crossing of the limit with its interval: all times at which the 95 % band of the line holds it."""
    ordinal = np.array([day.toordinal() for day in days], dtype=np.float64)
    last = float(ordinal[-1])
    reach_ends = last + (last - float(ordinal[0]))
    passed = abs(float(error[-1])) > limit
    if error.size < LEAST_FOR_FORECAST:
        return Forecast(reach="passed" if passed else "too-few", reach_ends=_day(reach_ends))
    middle = float(ordinal.mean())
    at = ordinal - middle
    squares = float(np.sum(at**2))
    slope, level = float(np.sum(at * error)) / squares, float(error.mean())
    left = float(np.sum((error - level - slope * at) ** 2))
    sd = max(math.sqrt(left / (error.size - 2)), least_sd)
    quantile = float(stdtrit(error.size - 2, 0.975))
    reach = quantile * sd / math.sqrt(squares)
    sloping = Forecast(
        reach="passed",
        slope=slope * _DAYS_OF_YEAR,
        slope_low=(slope - reach) * _DAYS_OF_YEAR,
        slope_high=(slope + reach) * _DAYS_OF_YEAR,
        reach_ends=_day(reach_ends),
    )
    if passed:
        return sloping
    ahead = np.arange(math.floor(last), math.floor(reach_ends) + 1.0)
    line = level + slope * (ahead - middle)
    band = quantile * sd * np.sqrt(1.0 / error.size + (ahead - middle) ** 2 / squares)
    may = np.flatnonzero(np.abs(line) + band >= limit)
    does, must = np.flatnonzero(np.abs(line) >= limit), np.flatnonzero(np.abs(line) - band >= limit)
    first = [_day(float(ahead[found[0]])) if found.size else None for found in (may, does, must)]
    return replace(
        sloping,
        reach="within-reach" if may.size else "not-in-reach",
        on=first[1],
        earliest=first[0],
        latest=first[2],
    )


def _day(ordinal: float) -> date:
    return date.fromordinal(int(min(ordinal, date.max.toordinal())))
