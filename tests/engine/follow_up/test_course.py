"""The underlying course against slower and independent ways to the same numbers."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import integrate, stats

from engine.follow_up.examples import course, stretch
from quietlimb.engine.errors import ParameterError
from quietlimb.engine.follow_up import priors
from quietlimb.engine.follow_up.course import MOST_SESSIONS, Surprise, fit_course
from quietlimb.engine.standards.day_to_day import BETWEEN_SESSION_SD

SESSIONS = [(0, 176.0), (21, 189.0), (35, 158.0), (60, 163.0), (100, 149.0), (200, 155.0)]
BEGUN = (21, "begun")


def kalman_smoother(days, values, noise, drift, event_day):
    """Mean and variance of a scalar random walk with a step, by the textbook recursions forward and back."""
    mean, variance = [priors.LEVEL_MEAN.value], [priors.LEVEL_SD.value**2]
    filtered, predicted = [], []
    for k, day in enumerate(days):
        if k:
            grown = drift * (day - days[k - 1])
            grown += priors.STEP_SD.value**2 if days[k - 1] <= event_day < day else 0.0
            mean.append(filtered[-1][0])
            variance.append(filtered[-1][1] + grown)
        predicted.append((mean[-1], variance[-1]))
        gain = variance[-1] / (variance[-1] + noise[k])
        filtered.append((mean[-1] + gain * (values[k] - mean[-1]), (1.0 - gain) * variance[-1]))
    smoothed = [filtered[-1]]
    for k in range(len(days) - 2, -1, -1):
        back = filtered[k][1] / predicted[k + 1][1]
        smoothed.insert(
            0,
            (
                filtered[k][0] + back * (smoothed[0][0] - predicted[k + 1][0]),
                filtered[k][1] + back**2 * (smoothed[0][1] - predicted[k + 1][1]),
            ),
        )
    return np.array(smoothed)


def test_each_component_is_what_a_kalman_smoother_gives() -> None:
    """Means and variances at all sessions, for every pair of variances and every odd session without untold step.

    Oracle: slower twin, the scalar recursions written out above. Tolerance: rounding of six-by-six inverses.
    """
    found = course(SESSIONS, BEGUN)
    days = [float(day) for day, _ in SESSIONS]
    mean, covariance = found.levels(days)
    checked = 0
    for k, surprise in enumerate(found.surprises):
        if math.isfinite(surprise.step_day):
            continue
        noise = np.full(6, 16.0 + found.between_sd[k] ** 2)
        noise[list(surprise.odd)] += priors.ODD_SD.value**2
        smoothed = kalman_smoother(days, [value for _, value in SESSIONS], noise, found.drift_per_day[k], 21)
        assert mean[k] == pytest.approx(smoothed[:, 0], abs=1e-6)
        assert np.diagonal(covariance[k]) == pytest.approx(smoothed[:, 1], abs=1e-6)
        checked += 1
    assert checked > 300


def test_an_untold_step_is_an_event_that_was_found() -> None:
    """Components with an untold step on a day have the levels that a told event of that day gives.

    Oracle: slower twin, the same recursions with an event there. Tolerance: rounding.
    """
    found = course(SESSIONS)
    days = [float(day) for day, _ in SESSIONS]
    mean, covariance = found.levels(days)
    checked = 0
    for k, surprise in enumerate(found.surprises):
        if surprise.odd or not math.isfinite(surprise.step_day):
            continue
        noise = np.full(6, 16.0 + found.between_sd[k] ** 2)
        values = [value for _, value in SESSIONS]
        smoothed = kalman_smoother(days, values, noise, found.drift_per_day[k], surprise.step_day)
        assert mean[k] == pytest.approx(smoothed[:, 0], abs=1e-6)
        assert np.diagonal(covariance[k]) == pytest.approx(smoothed[:, 1], abs=1e-6)
        checked += 1
    assert checked > 50


def test_the_weights_are_prior_times_evidence() -> None:
    """The ratio of any two weights is that of prior times the density of the sessions.

    Oracle: reference library, SciPy's multivariate normal law with the whole covariance written out.
    Tolerance: rounding of logarithms.
    """
    found = course(SESSIONS)
    days = np.array([day for day, _ in SESSIONS], dtype=float)
    values = np.array([value for _, value in SESSIONS])
    usual = BETWEEN_SESSION_SD["cat", "oscillometric"].value
    scores = []
    for k, surprise in enumerate(found.surprises):
        covariance = priors.LEVEL_SD.value**2 + found.drift_per_day[k] * np.minimum.outer(days, days)
        covariance += np.eye(6) * (16.0 + found.between_sd[k] ** 2)
        for odd in surprise.odd:
            covariance[odd, odd] += priors.ODD_SD.value**2
        after = (days > surprise.step_day).astype(float)
        covariance += priors.STEP_SD.value**2 * np.outer(after, after)
        per_month = math.sqrt(found.drift_per_day[k] * priors.DAYS_PER_MONTH)
        log_prior = -0.5 * (math.log(found.between_sd[k] / usual) / priors.BETWEEN_SD_LOG_SPREAD.value) ** 2
        log_prior -= 0.5 * (math.log(per_month / priors.DRIFT_SD_PER_MONTH.value) / priors.DRIFT_LOG_SPREAD.value) ** 2
        log_prior += len(surprise.odd) * math.log(priors.ODD_SHARE.value / (1.0 - priors.ODD_SHARE.value))
        if after.any():
            years = (days[days > surprise.step_day].min() - surprise.step_day) / 365.25
            log_prior += math.log(priors.UNTOLD_STEPS_PER_YEAR.value * years)
        law = stats.multivariate_normal(np.full(6, priors.LEVEL_MEAN.value), covariance)
        scores.append(law.logpdf(values) + log_prior)
    ratio = np.log(found.weight) - np.array(scores)
    assert ratio == pytest.approx(np.full(ratio.size, ratio[0]), abs=1e-7)


def test_one_session_is_the_integral_over_all_variances() -> None:
    """With one session the interval is that of the posterior with the between-session SD integrated out finely.

    Oracle: reference library, SciPy's quadrature over the logarithm of that SD. Tolerance: 0.3 mmHg for a grid of nine
    points against the integral, small beside an interval of 50.
    """
    own, charted, usual = 4.0, 185.0, BETWEEN_SESSION_SD["cat", "oscillometric"].value
    level_sd, level_mean = priors.LEVEL_SD.value, priors.LEVEL_MEAN.value

    def below(x: float, with_weight_only: bool) -> float:
        total = 0.0
        for share, odd in ((1.0 - priors.ODD_SHARE.value, 0.0), (priors.ODD_SHARE.value, priors.ODD_SD.value)):

            def part(u: float, share: float = share, odd: float = odd) -> float:
                noise = own**2 + (usual * math.exp(priors.BETWEEN_SD_LOG_SPREAD.value * u)) ** 2 + odd**2
                spread = math.sqrt(level_sd**2 + noise)
                gain = level_sd**2 / spread**2
                density = share * stats.norm.pdf(u) * stats.norm.pdf(charted, level_mean, spread)
                if with_weight_only:
                    return density
                centre = level_mean + gain * (charted - level_mean)
                return density * stats.norm.cdf(x, centre, math.sqrt((1.0 - gain) * level_sd**2))

            total += integrate.quad(part, -5.0, 5.0)[0]
        return total

    whole = below(0.0, True)
    found = course([(0, charted)]).level(0).estimate()
    for value, share in ((found.low, 0.025), (found.value, 0.5), (found.high, 0.975)):
        slope = (below(value + 0.5, False) - below(value - 0.5, False)) / whole
        assert abs(below(value, False) / whole - share) / slope < 0.3


def test_many_equal_sessions_settle_at_their_value() -> None:
    """Forty sessions of 150 over four months: the level is 150 within a narrow interval.

    Oracle: by construction, the mean of forty. Tolerance: 0.5 mmHg of pull by the prior, which centres there anyway.
    """
    found = course([(3 * k, 150.0) for k in range(40)]).level(117).estimate()
    assert found.value == pytest.approx(150.0, abs=0.5)
    assert found.high - found.low < 6.0


def test_a_high_first_session_is_drawn_towards_other_animals() -> None:
    """One session of 200 speaks for a level well under 200, and above 180.

    Oracle: by construction, the normal law's shrinkage with standard deviations of about 11 and 30.
    """
    assert 180.0 < course([(0, 200.0)]).level(0).estimate().value < 197.0


@pytest.mark.parametrize("off", [-60.0, 60.0])
def test_one_odd_session_hardly_moves_the_level(off: float) -> None:
    """A session 60 mmHg off among eight moves the level of the last day by at most 5 mmHg, and is called odd.

    Oracle: by construction, the same history without it; the 5 mmHg are invented, those promised for a series.
    """
    usual = [(30 * k, 150.0 + v) for k, v in enumerate((4, -6, 3, 0, -5, 6, 2, -3))]
    spoiled = [(day, value + off * (k == 3)) for k, (day, value) in enumerate(usual)]
    without = course(usual[:3] + usual[4:]).level(210).estimate().value
    found = course(spoiled)
    assert abs(found.level(210).estimate().value - without) < 5.0
    odd = found.odd_probability()
    assert odd[3] > 0.9
    assert odd[[0, 1, 2, 4, 5, 6, 7]].max() < 0.1


def test_two_odd_sessions_are_both_found() -> None:
    """Among ten, two that lie 70 mmHg off to either side.

    Oracle: by construction.
    """
    values = [150.0, 155.0, 220.0, 148.0, 152.0, 80.0, 150.0, 149.0, 153.0, 151.0]
    odd = course([(30 * k, value) for k, value in enumerate(values)]).odd_probability()
    assert set(np.flatnonzero(odd > 0.8)) == {2, 5}


def test_a_lasting_rise_is_a_step_and_no_odd_session() -> None:
    """Four sessions at 190 after five at 150: the level follows, and the step lies where it happened.

    Oracle: by construction. Tolerance: 8 mmHg, as much as the prior and the doubt about the step leave.
    """
    found = course([(30 * k, 150.0 if k < 5 else 190.0) for k in range(9)])
    steps = found.step_probability()
    assert max(steps, key=lambda day: steps[day]) == 120.0
    assert steps[120.0] > 0.8
    assert found.level(240).estimate().value == pytest.approx(190.0, abs=8.0)
    assert found.level(120).estimate().value == pytest.approx(150.0, abs=8.0)


def test_the_level_grows_less_certain_with_time() -> None:
    """A year after the last session the interval is wider, about the same middle.

    Oracle: by construction, a random walk. Tolerance: 1 mmHg for the middle.
    """
    found = course([(30 * k, 150.0) for k in range(6)])
    now, later = found.level(150).estimate(), found.level(515).estimate()
    assert later.high - later.low > 1.5 * (now.high - now.low)
    assert later.value == pytest.approx(now.value, abs=1.0)


def test_the_next_session_scatters_more_than_the_level() -> None:
    """Its law is that of the level with between-session and own part added.

    Oracle: by construction, variances add. Tolerance: rounding.
    """
    found = course(SESSIONS)
    level, following = found.level(200), found.next_session(200, 4.0)
    assert following.sd**2 - level.sd**2 == pytest.approx(found.between_sd**2 + 16.0)
    assert following.mean == pytest.approx(level.mean)


def test_the_same_history_gives_the_same_numbers() -> None:
    """Twice the same, to the last bit.

    Oracle: by construction, no draws.
    """
    one, two = (course(SESSIONS, BEGUN).level(230).estimate() for _ in range(2))
    assert one == two


def test_an_event_before_the_first_session_changes_nothing() -> None:
    """It is part of the level that the first session meets.

    Oracle: by construction; equality.
    """
    assert course(SESSIONS, (-5, "begun")).level(200).estimate() == course(SESSIONS).level(200).estimate()


def test_a_long_history_weighs_the_most_suspicious_only() -> None:
    """Sixty sessions with one odd one: it is found, and the surprises stay few.

    Oracle: by construction: 1 + 12 + 66 choices of odd sessions and 12 steps with 13 choices each.
    """
    values = [150.0 + 5.0 * math.sin(k) for k in range(60)]
    values[41] += 80.0
    found = course([(7 * k, value) for k, value in enumerate(values)])
    assert found.odd_probability()[41] > 0.99
    assert len(set(found.surprises)) <= 79 + 12 * 13


def test_more_sessions_than_can_be_handled_are_refused() -> None:
    """With the remedy.

    Oracle: by construction.
    """
    with pytest.raises(ParameterError, match="leave the oldest out"):
        fit_course(stretch([(k, 150.0) for k in range(MOST_SESSIONS + 1)]))


def test_a_day_before_the_first_session_is_refused() -> None:
    """Nothing is known of it.

    Oracle: by construction.
    """
    with pytest.raises(ParameterError, match="before the first comparable session"):
        course(SESSIONS).level(-1)


def test_a_surprise_knows_its_columns() -> None:
    """An odd session has a column of its own, a step one for all later sessions.

    Oracle: by construction.
    """
    columns = Surprise(odd=(1,), step_day=10.0).columns(np.array([0.0, 10.0, 20.0]))
    assert columns.tolist() == [[0.0, 0.0], [priors.ODD_SD.value, 0.0], [0.0, priors.STEP_SD.value]]
