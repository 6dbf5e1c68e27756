"""Drift over many checks."""

from __future__ import annotations

import math
from datetime import date, timedelta

import numpy as np
import pytest
from scipy.stats import linregress, t

from quietlimb.engine.errors import ParameterError
from quietlimb.instruments import drift as subject
from quietlimb.instruments.drift import D2, D4, EWMA_WEIGHT, EWMA_WIDTH, SHEWHART, DriftPoint, control_chart, drift
from quietlimb.instruments.limits import STATIC_LIMITS

LIMIT = STATIC_LIMITS["non-automated"].most
START = date(2028, 1, 10)


def checks(*errors: float, every_days: int = 182, **known: float) -> list[DriftPoint]:
    """One each half year."""
    return [DriftPoint(on=START + timedelta(days=every_days * k), error_mmhg=e, **known) for k, e in enumerate(errors)]


def test_the_constants_are_those_of_normal_ranges():
    """d2 is 2/sqrt(pi); D4 is 1 + 3 d3/d2 with d3 = sqrt(2 - 4/pi).

    Oracle: by construction, moments of the range of two normal values; tolerance: half of the printed digit.
    """
    d2, d3 = 2.0 / math.sqrt(math.pi), math.sqrt(2.0 - 4.0 / math.pi)
    assert D2.value == pytest.approx(d2, abs=0.0005)
    assert D4.value == pytest.approx(1.0 + 3.0 * d3 / d2, abs=0.0005)


def steady_ewma_run_length(shift: float, weight: float, width: float, states: int = 201) -> float:
    """Mean number of values until an EWMA with steady limits sounds: a Markov chain over its states."""
    half = width * math.sqrt(weight / (2.0 - weight))
    step = 2.0 * half / states
    middle = -half + step * (np.arange(states) + 0.5)
    edge = (middle[np.newaxis, :] - (1.0 - weight) * middle[:, np.newaxis]) / weight - shift
    reach = 0.5 * step / weight
    phi = np.vectorize(lambda x: 0.5 * math.erfc(-x / math.sqrt(2.0)))
    stays = phi(edge + reach) - phi(edge - reach)
    return float(np.linalg.solve(np.eye(states) - stays, np.ones(states))[states // 2])


@pytest.mark.parametrize(("shift", "length"), [(0.0, 500.0), (0.5, 41.8), (1.0, 10.5), (2.0, 3.7)])
def test_the_ewma_has_the_run_lengths_of_the_textbook(shift: float, length: float):
    """Weight 0.2 and width 2.962: once in 500 for nothing, a shift of one SD after 10.5.

    Oracle: from memory, the textbook's table of average run lengths; here by a Markov chain. Tolerance: half of
    its last digit, and the chain's mesh in 500.
    """
    assert steady_ewma_run_length(shift, EWMA_WEIGHT.value, EWMA_WIDTH.value) == pytest.approx(
        length, abs=0.05, rel=0.001
    )


def test_a_long_known_chart_has_the_textbooks_limits_and_values():
    """With a baseline of 40,000 checks the limits are 3 SD and L SD sqrt(w/(2-w)); the EWMA is its recursion.

    Oracle: by construction, a plain loop and the textbook's formulas. Tolerance: three standard errors of 40,000
    moving ranges.
    """
    rng = np.random.default_rng(8)
    error = rng.normal(0.4, 0.6, 40_000)
    chart = control_chart(error, baseline=40_000, known_sd_mmhg=0.6)
    assert chart.centre_mmhg == pytest.approx(0.4, abs=0.01)
    assert chart.half_mmhg == pytest.approx(SHEWHART.value * 0.6, rel=0.015)
    steady = EWMA_WIDTH.value * 0.6 * math.sqrt(0.2 / 1.8)
    assert chart.ewma_half_mmhg[-1] == pytest.approx(steady, rel=0.015)
    assert chart.range_limit_mmhg == pytest.approx(D4.value * D2.value * 0.6, rel=0.015)
    z, slow = chart.centre_mmhg, []
    for value in error:
        z = 0.2 * value + 0.8 * z
        slow.append(z)
    assert chart.ewma_mmhg == pytest.approx(slow)


def test_the_spread_is_learned_from_moving_ranges():
    """|differences| 1, 1, 1, 1: mean 1 over 1.128, pooled with the known spread at ten degrees of freedom.

    Oracle: by construction, worked by hand.
    """
    chart = control_chart(np.array([0.0, 1.0, 0.0, 1.0, 0.0]), known_sd_mmhg=0.3)
    by_ranges = 0.605 * 4
    expected = math.sqrt((by_ranges / 1.128**2 + 10.0 * 0.09) / (by_ranges + 10.0))
    assert chart.sd_mmhg == pytest.approx(expected)
    multiple = t.ppf(0.5 * math.erfc(-3.0 / math.sqrt(2.0)), by_ranges + 10.0)
    assert chart.half_mmhg == pytest.approx(multiple * expected * math.sqrt(1.2))


def test_the_moving_ranges_are_worth_the_freedom_they_are_given():
    """The SD by m - 1 moving ranges scatters as one of 0.605 (m - 1) degrees of freedom.

    Oracle: by simulation. Tolerance: the rule is that of many ranges; at 10 it is 15 % off at most.
    """
    rng = np.random.default_rng(9)
    ranges = np.abs(np.diff(rng.normal(size=(100_000, 30)), axis=1)).mean(axis=1) / D2.value
    freedom = 0.5 / ranges.var()
    assert freedom == pytest.approx(subject._FREEDOM_OF_RANGE * 29, rel=0.15)


def test_the_standard_of_a_check_is_that_of_its_roundings():
    """Steps of 2 and 0.1 mmHg; finer ones never make a check surer than it repeats itself.

    Oracle: by construction, GUM 4.3.7 and F.2.2.1: half a step over the root of 3, in quadrature.
    """
    assert subject.standard_of_readings(2.0, 0.1) == pytest.approx(math.hypot(1.0, 0.05) / math.sqrt(3.0))
    assert subject.standard_of_readings(0.1, 0.1) == subject.USUAL_SD.value


def test_a_jump_a_slow_drift_and_a_restless_instrument_sound():
    """Each by its rule, at its check; a steady one is quiet.

    Oracle: by construction.
    """
    steady = (0.1, -0.1, 0.2, 0.0, -0.2)

    def sounds(*errors: float) -> set[tuple[int, str]]:
        chart = drift(checks(*steady, *errors), LIMIT).chart
        assert chart is not None
        return {(signal.at, signal.rule) for signal in chart.signals}

    assert sounds(0.1, -0.1, 0.1) == set()
    assert (5, "jump") in sounds(2.5)
    slow = sounds(0.6, 0.7, 0.7, 0.8, 0.8, 0.8)
    assert {rule for _at, rule in slow} == {"slow-drift"}
    assert (6, "restless") in sounds(-0.9, 0.9)


def test_the_forecast_is_the_regression_line():
    """Slope with its interval, and the day on which the line meets 3 mmHg.

    Oracle: reference library, scipy.stats.linregress 1.17.
    """
    errors = (0.1, 0.7, 1.3, 0.9, 2.0, 1.6, 2.6, 2.3)
    found = drift(checks(*errors, standard_mmhg=0.1), LIMIT).forecast
    days = np.array([point.on.toordinal() for point in checks(*errors)])
    line = linregress(days, errors)
    assert found.slope == pytest.approx(365.25 * line.slope)
    reach = t.ppf(0.975, 6) * line.stderr * 365.25
    assert found.slope_low == pytest.approx(found.slope - reach)
    crossing = (3.0 - line.intercept) / line.slope
    assert found.on is not None
    assert found.on.toordinal() == pytest.approx(crossing, abs=1.0)


def test_the_interval_of_the_day_is_where_the_band_of_the_line_holds_the_limit():
    """Early and late end are the roots of the quadratic of Fieller.

    Oracle: published method (Fieller 1954, from memory), solved here in closed form. Tolerance: a day.
    """
    errors = tuple(0.25 * k + e for k, e in enumerate((0.1, -0.1, 0.15, -0.05, 0.1, -0.15, 0.05, 0.0, 0.1, -0.1)))
    found = drift(checks(*errors, standard_mmhg=0.05), LIMIT).forecast
    days = np.array([point.on.toordinal() for point in checks(*errors)], dtype=float)
    line = linregress(days, errors)
    n, middle, squares = days.size, days.mean(), np.sum((days - days.mean()) ** 2)
    left = np.asarray(errors) - line.intercept - line.slope * days
    q2s2 = t.ppf(0.975, n - 2) ** 2 * np.sum(left**2) / (n - 2)
    d = np.mean(errors) - 3.0
    roots = np.sort(np.roots([line.slope**2 - q2s2 / squares, 2.0 * line.slope * d, d**2 - q2s2 / n])) + middle
    assert found.earliest is not None
    assert found.latest is not None
    assert found.earliest.toordinal() == pytest.approx(roots[0], abs=1.0)
    assert found.latest.toordinal() == pytest.approx(roots[1], abs=1.0)
    assert found.service_by == found.earliest


def test_a_fall_is_forecast_as_a_rise_is():
    """The same errors with their signs changed give the same days.

    Oracle: by construction.
    """
    errors = (0.1, 0.5, 0.9, 1.2, 1.7)
    up, down = (drift(checks(*(sign * e for e in errors)), LIMIT).forecast for sign in (1.0, -1.0))
    assert (up.on, up.earliest, up.latest) == (down.on, down.earliest, down.latest)
    assert up.slope == pytest.approx(-(down.slope or 0.0))


def test_nothing_is_said_beyond_the_reach_of_the_checks():
    """A steady instrument passes nothing within as long again as it was watched.

    Oracle: by construction.
    """
    found = drift(checks(0.1, -0.1, 0.2, 0.0, -0.2, 0.1, 0.0, 0.1), LIMIT).forecast
    assert (found.reach, found.on, found.earliest, found.service_by) == ("not-in-reach", None, None, None)
    assert found.reach_ends == START + timedelta(days=2 * 7 * 182)


def test_few_checks_and_a_limit_that_is_passed_are_told():
    """Three checks forecast nothing; an error beyond the limit needs no forecast.

    Oracle: by construction.
    """
    assert drift(checks(0.0, 0.1, 0.2), LIMIT).forecast.reach == "too-few"
    assert drift(checks(0.0, 0.1), LIMIT).chart is None
    assert drift(checks(0.0, 3.1), LIMIT).forecast.reach == "passed"
    assert drift(checks(0.0, 1.0, 2.0, -3.1), LIMIT).forecast.reach == "passed"


def test_an_adjustment_begins_anew_and_order_does_not_matter():
    """Checks before it are left out; those after are put in the order of their days.

    Oracle: by construction.
    """
    points = checks(2.0, 2.4, 2.9, 0.1, 0.0, 0.2, 0.1)
    since = points[3].on
    found = drift(points[::-1], LIMIT, since=since)
    assert found.points == tuple(points[3:])
    assert found.forecast.reach == "not-in-reach"


def test_what_cannot_be_charted_is_refused():
    """No checks, two of a day, no number, an impossible baseline.

    Oracle: by construction.
    """
    twice = [*checks(0.0, 0.1), DriftPoint(on=START, error_mmhg=0.3)]
    for points, code in (([], "no-checks"), (twice, "two-checks-a-day"), (checks(0.0, math.nan), "not-finite")):
        with pytest.raises(ParameterError) as refused:
            drift(points, LIMIT)
        assert refused.value.code == code
    with pytest.raises(ParameterError, match="baseline"):
        drift(checks(0.0), LIMIT, baseline=2)
