"""Static accuracy: what an instrument shows at rest, beside a reference manometer.

It proves the sensor or the dial, not the way in which a pressure is read from pulses.

The error of a point is instrument minus reference, the reference corrected by its certificate. Its uncertainty is of
type B: the certificate's, shared by all points and taken as normal, and the rounding of both readings, drawn anew at
each and taken as even over one step (GUM 4.3.7). [GUM2008]
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq
from scipy.special import ndtri, stdtrit

from quietlimb.engine.values import Cited
from quietlimb.instruments.checks import (
    CheckFinding,
    CheckResult,
    DisplayPoints,
    Figure,
    Reference,
    StaticPoints,
    either_side,
    no_pass,
    worst_verdict,
)
from quietlimb.instruments.limits import DISPLAY_LIMITS, HYSTERESIS, STATIC_LIMITS, PressureLimit, chosen

Values = NDArray[np.float64]

ENOUGH_POINTS = 5
INCOMPLETE = frozenset({"few-points", "narrow-range", "one-direction-only"})
LEAST_HIGH_MMHG, MOST_LOW_MMHG = 200.0, 60.0
# A reference of more than a third of the limit decides too much by itself: the test uncertainty ratio of the trade.
REFERENCE_SHARE = Cited(
    1.0 / 3.0, "share", "practice", "uncertainty of a reference against the limit", "common practice"
)
ZERO_MMHG = 5.0  # points up to here are taken open to air


def static_accuracy(points: StaticPoints, limit: PressureLimit | str = "non-automated") -> CheckResult:
    """Worst error, mean error and hysteresis of an instrument, judged by a limit.

    Returns
    -------
    CheckResult : figures
        worst_error : the error nearest to its limit, or furthest beyond it; the interval holds all points at once, so
                      that the worst of many is not taken for surer than it is. [mmHg]
        largest_error : the largest to either side, where that is at another point: the limit grows with the pressure,
                      and what errs most is not what errs most against its limit. [mmHg]
        mean_error  : over all points; its interval by Student's t with the certificate's part added in quadrature. It
                      is no verdict. [mmHg]
        hysteresis  : falling minus rising course, the largest; where both were taken. The certificate's part cancels.
                      Judged by the limit of a dial. [mmHg]
        Points that are too few, cover too little of the range or were taken in one direction only can fail, but not
        pass: the verdict is `not-judged`, with the finding that says what is missing.

    Raises
    ------
    ParameterError : an unknown limit.
    """
    limit = chosen(STATIC_LIMITS, limit) if isinstance(limit, str) else limit
    reference = np.array(points.reference_mmhg) + points.reference.correction_mmhg
    error = np.array(points.instrument_mmhg) - reference
    steps = (points.resolution_mmhg, points.reference.resolution_mmhg)
    figures = _extremes(reference, error, points.reference, steps, limit)
    if error.size > 1:
        figures["mean_error"] = _mean(error, points.reference)
    findings = _of_points(reference, error, points.reference, limit)
    down = np.array([direction == "down" for direction in points.direction])
    hysteresis = _hysteresis(reference, error, down, steps)
    if hysteresis is None:
        findings.append(CheckFinding(code="one-direction-only"))
    else:
        figures["hysteresis"] = hysteresis
        if hysteresis.verdict in ("fails", "fails-crossing"):
            numbers = {"hysteresis_mmhg": hysteresis.value, "limit_mmhg": HYSTERESIS.value}
            findings.append(CheckFinding(code="hysteresis-large", numbers=numbers))
    verdict = worst_verdict(figure.verdict for figure in figures.values())
    if any(each.code in INCOMPLETE for each in findings):
        verdict = no_pass(verdict)
    return CheckResult(kind="static", verdict=verdict, figures=figures, limit=limit.code, findings=tuple(findings))


def display(points: DisplayPoints, limit: PressureLimit | str = "house-rule") -> CheckResult:
    """A display beside a hand-held manometer: usable between formal tests, or not.

    Figures `worst_error` and, of two points or more, `mean_error`, as of `static_accuracy`.
    """
    limit = chosen(DISPLAY_LIMITS, limit) if isinstance(limit, str) else limit
    manometer = np.array(points.manometer_mmhg) + points.reference.correction_mmhg
    error = np.array(points.display_mmhg) - manometer
    steps = (points.resolution_mmhg, points.reference.resolution_mmhg)
    figures = _extremes(manometer, error, points.reference, steps, limit)
    if error.size > 1:
        figures["mean_error"] = _mean(error, points.reference)
    return CheckResult(kind="display", verdict=figures["worst_error"].verdict, figures=figures, limit=limit.code)


def half_width_of_all(count: int, shared_sd: float, steps: tuple[float, ...]) -> float:
    """Half-width within which `count` errors lie all at once with 95 % probability. [mmHg]

    count     : of points, each with roundings of its own
    shared_sd : of the normal error common to all [mmHg]
    steps     : of each rounding, whose error is even over +/- half a step [mmHg]

    P(all |s + r| <= h) is the integral over s of phi(s) P(|s + r| <= h) ** count. Of the sum r of at most two evenly
    spread errors the law is exact: a trapezoid.
    """
    wide, narrow = sorted((0.5 * step for step in steps), reverse=True)
    most = wide + narrow
    if shared_sd <= 1e-9:
        nodes, weights = np.zeros(1), np.ones(1)
    else:
        at = np.linspace(-6.0, 6.0, 2401)
        weights = np.exp(-0.5 * at**2)
        nodes, weights = shared_sd * at, weights / weights.sum()

    def missing(half_width: float) -> float:
        inside = _below(half_width - nodes, wide, narrow) - _below(-half_width - nodes, wide, narrow)
        return float(np.sum(weights * np.clip(inside, 0.0, 1.0) ** count)) - 0.95

    top = most + 6.0 * shared_sd
    return float(brentq(missing, 0.0, top, xtol=1e-4)) if top > 0.0 else 0.0


def _below(value: Values, wide: float, narrow: float) -> Values:
    """Distribution function of the sum of two evenly spread errors, of half-widths `wide` >= `narrow` >= 0."""
    if wide <= 0.0:
        return (value >= 0.0).astype(np.float64)
    if narrow <= 1e-9 * wide:
        return np.clip((value + wide) / (2.0 * wide), 0.0, 1.0)

    def ramp(x: Values) -> Values:
        return 0.5 * np.maximum(x, 0.0) ** 2

    area = ramp(value + wide + narrow) - ramp(value + wide - narrow) - ramp(value - wide + narrow)
    whole: Values = (area + ramp(value - wide - narrow)) / (4.0 * wide * narrow)
    return whole


def _extremes(
    reference: Values, error: Values, manometer: Reference, steps: tuple[float, float], limit: PressureLimit
) -> dict[str, Figure]:
    """The error worst against its limit, and the largest where it is another."""
    allowed = [limit.at(float(pressure)) for pressure in reference]
    half = half_width_of_all(error.size, manometer.standard_mmhg, steps)

    def figure(k: int) -> Figure:
        least, most = either_side(allowed[k])
        value = float(error[k])
        at = float(reference[k])
        return Figure(value=value, low=value - half, high=value + half, unit="mmHg", least=least, most=most, at_mmhg=at)

    worst = int(np.argmax(np.abs(error) - np.array([each.value for each in allowed])))
    largest = int(np.argmax(np.abs(error)))
    found = {"worst_error": figure(worst)}
    if abs(error[largest]) > abs(error[worst]):
        found["largest_error"] = figure(largest)
    return found


def _mean(error: Values, manometer: Reference) -> Figure:
    mean, sd = float(error.mean()), float(error.std(ddof=1))
    by_t = float(stdtrit(error.size - 1, 0.975)) * sd / math.sqrt(error.size)
    half = math.hypot(by_t, float(ndtri(0.975)) * manometer.standard_mmhg)
    return Figure(value=mean, low=mean - half, high=mean + half, unit="mmHg")


def _hysteresis(reference: Values, error: Values, down: NDArray[np.bool_], steps: tuple[float, float]) -> Figure | None:
    """The largest difference of the falling course from the rising one, read straight between the rising points."""
    if down.all() or not down.any():
        return None
    risen, place = np.unique(reference[~down], return_inverse=True)
    rising = np.bincount(place, error[~down]) / np.bincount(place)
    between = down & (reference >= risen[0] - ZERO_MMHG) & (reference <= risen[-1] + ZERO_MMHG)
    if not between.any():
        return None
    difference = error[between] - np.interp(reference[between], risen, rising)
    k = int(np.argmax(np.abs(difference)))
    # Four roundings: lighter in the tails than the normal law that stands for them here.
    sd = math.sqrt(2.0 * sum(step**2 for step in steps) / 12.0)
    half = float(ndtri(0.5 + 0.5 * 0.95 ** (1.0 / difference.size))) * sd
    least, most = either_side(HYSTERESIS)
    return Figure(
        value=float(difference[k]),
        low=float(difference[k]) - half,
        high=float(difference[k]) + half,
        unit="mmHg",
        least=least,
        most=most,
        at_mmhg=float(reference[between][k]),
    )


def _of_points(reference: Values, error: Values, manometer: Reference, limit: PressureLimit) -> list[CheckFinding]:
    findings = []
    pressures = np.unique(10.0 * np.round(reference / 10.0)).size
    if pressures < ENOUGH_POINTS:
        findings.append(CheckFinding(code="few-points", numbers={"points": pressures, "wanted": ENOUGH_POINTS}))
    lowest, highest = float(reference.min()), float(reference.max())
    if lowest > MOST_LOW_MMHG or highest < LEAST_HIGH_MMHG:
        numbers = {"lowest_mmhg": lowest, "highest_mmhg": highest}
        findings.append(CheckFinding(code="narrow-range", numbers=numbers))
    if manometer.expanded_mmhg > REFERENCE_SHARE.value * limit.most.value + 1e-9:
        numbers = {"expanded_mmhg": manometer.expanded_mmhg, "limit_mmhg": limit.most.value}
        findings.append(CheckFinding(code="reference-uncertain", numbers=numbers))
    at_zero = np.abs(reference) <= ZERO_MMHG
    if at_zero.any():
        off = float(error[at_zero][np.argmax(np.abs(error[at_zero]))])
        if abs(off) > 0.5 * limit.most.value:
            findings.append(CheckFinding(code="zero-off", numbers={"error_mmhg": off}))
    findings += _shape(reference, error, limit)
    return findings


def _shape(reference: Values, error: Values, limit: PressureLimit) -> list[CheckFinding]:
    """Of an instrument that is off: whether by the same everywhere, or more with rising pressure."""
    if error.size < 3 or np.abs(error).max() <= limit.most.value or np.ptp(reference) < 50.0:
        return []
    slope, level = np.polyfit(reference, error, 1)
    grown = float(slope) * float(np.ptp(reference))
    left = float(np.abs(error - level - slope * reference).max())
    if abs(grown) > 0.5 * limit.most.value and left <= 0.5 * limit.most.value:
        return [CheckFinding(code="error-grows-with-pressure", numbers={"mmhg_per_100_mmhg": 100.0 * float(slope)})]
    if float(np.ptp(error)) <= limit.most.value:
        return [CheckFinding(code="error-alike", numbers={"mean_mmhg": float(error.mean())})]
    return []
