"""Change, high days, and the least change worth believing."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from engine.follow_up.examples import course
from quietlimb.engine.errors import ParameterError
from quietlimb.engine.follow_up import priors
from quietlimb.engine.follow_up.change import (
    change_between,
    high_day,
    last_two,
    least_change,
)
from quietlimb.engine.follow_up.history import TreatmentEvent

# (within, between) -> two-sided with 3, 5 and 7 readings, one-sided with 5
TREATED = [(0, 176.0), (28, 189.0), (39, 158.0), (53, 163.0), (95, 149.0), (130, 155.0)]
BEGUN = TreatmentEvent(day=28, step="begun")


def test_the_probabilities_are_those_of_draws_from_the_components() -> None:
    """Fall by more than 10, rise by more than 10, neither.

    Oracle: slower twin, a million draws of level pairs. Tolerance: four Monte Carlo errors of 0.0005.
    """
    found = course(TREATED, (28, "begun"))
    change = change_between(found, 28, 130)
    rng = np.random.default_rng(1)
    mean, covariance = found.levels([28, 130])
    picked = rng.choice(found.weight.size, size=1_000_000, p=found.weight)
    spread = np.sqrt(covariance[:, 0, 0] + covariance[:, 1, 1] - 2.0 * covariance[:, 0, 1])
    drawn = rng.normal((mean[:, 1] - mean[:, 0])[picked], spread[picked])
    assert change.fell == pytest.approx(float(np.mean(drawn < -10.0)), abs=0.002)
    assert change.rose == pytest.approx(float(np.mean(drawn > 10.0)), abs=0.002)
    assert change.fell + change.rose + change.same == pytest.approx(1.0, abs=1e-12)


def test_a_large_lasting_fall_is_called_and_a_small_one_is_not() -> None:
    """Four sessions at 190 and four at 150 fell; four at 160 and four at 155 cannot be told, or are about the same.

    Oracle: by construction.
    """
    days = (0, 30, 60, 90, 110, 140, 170, 200)
    large = course([(day, 190.0 if day <= 90 else 150.0) for day in days], (90, "begun"))
    small = course([(day, 160.0 if day <= 90 else 155.0) for day in days], (90, "begun"))
    assert change_between(large, 90, 200).verdict == "fell"
    assert change_between(small, 90, 200).verdict in ("about the same", "cannot tell")


def test_a_rise_is_a_fall_seen_from_below() -> None:
    """Mirrored about the mean of all animals, fell and rose change places.

    Oracle: by construction, the model is symmetric. Tolerance: rounding.
    """
    centre = 2.0 * priors.LEVEL_MEAN.value
    fell = change_between(course(TREATED, (28, "begun")), 28, 130)
    rose = change_between(course([(day, centre - value) for day, value in TREATED], (28, "begun")), 28, 130)
    assert rose.rose == pytest.approx(fell.fell, abs=1e-8)
    assert rose.change.value == pytest.approx(-fell.change.value, abs=1e-6)


@pytest.mark.parametrize(
    ("from_day", "to_day", "options", "code"),
    [
        (30, 30, {}, "no-time-between"),
        (0, 30, {"by_mmhg": 0.0}, "impossible-amount"),
        (0, 30, {"by_mmhg": math.nan}, "impossible-amount"),
        (0, 30, {"certainty": 1.0}, "impossible-certainty"),
        (-1, 30, {}, "before-first-session"),
    ],
)
def test_questions_without_meaning_are_refused(from_day: int, to_day: int, options: dict, code: str) -> None:
    """Each with its own code.

    Oracle: by construction.
    """
    with pytest.raises(ParameterError) as caught:
        change_between(course(TREATED), from_day, to_day, **options)
    assert caught.value.code == code


def test_a_session_before_treatment_is_judged_by_what_came_before_alone() -> None:
    """The level of a high day rests on the sessions up to it: later ones do not change it.

    Oracle: by construction; equality.
    """
    whole, begun = (high_day(course(TREATED[:n], (28, "begun")), BEGUN) for n in (6, 3))
    assert whole == begun
    assert whole is not None
    assert whole.charted_mmhg == 189.0
    assert whole.high
    assert whole.above_mmhg == pytest.approx(189.0 - whole.level.value)


def test_a_high_day_is_expected_to_be_followed_by_a_lower_session() -> None:
    """In draws of the model with normal sessions, sessions of 185 to 195 stand above their level by what is said.

    Oracle: by construction, levels drawn from the prior and sessions from the usual standard deviations.
    Tolerance: 1.5 mmHg: the draws have one spread and the model weighs several, and odd sessions.
    """
    rng = np.random.default_rng(2)
    level = rng.normal(priors.LEVEL_MEAN.value, priors.LEVEL_SD.value, 400_000)
    seen = level + rng.normal(0.0, math.hypot(10.0, 4.0), level.size)
    high = (seen > 185.0) & (seen < 195.0)
    found = high_day(course([(28, 190.0), (39, 170.0)], (28, "begun")), BEGUN)
    assert found is not None
    assert found.above_mmhg == pytest.approx(float(np.mean(seen[high] - level[high])), abs=1.5)


def test_a_low_day_calls_for_no_caution() -> None:
    """A session under the animal's level is not high.

    Oracle: by construction.
    """
    found = high_day(course([(0, 180.0), (14, 178.0), (28, 165.0), (39, 150.0)], (28, "begun")), BEGUN)
    assert found is not None
    assert found.above_mmhg < 0.0
    assert not found.high


def test_without_own_sessions_the_least_change_is_that_of_the_prior() -> None:
    """After one session, two sessions differ without change by what the prior of the between-session SD says.

    Oracle: reference library, SciPy: a hundred thousand quantiles of that prior, mixed. Tolerance: a fifth of the 5 %,
    because a session at the middle of all animals speaks a little for small scatter.
    """
    found = least_change(course([(0, 150.0)]), 0)
    spread = 10.0 * np.exp(priors.BETWEEN_SD_LOG_SPREAD.value * stats.norm.ppf((np.arange(100_000) + 0.5) / 100_000))
    pair = math.sqrt(2.0) * np.hypot(spread, 4.0)
    assert np.mean(2.0 * stats.norm.sf(found.two_sessions / pair)) == pytest.approx(0.05, abs=0.01)
    assert np.mean(stats.norm.sf(found.one_way / pair)) == pytest.approx(0.05, abs=0.01)
    assert found.one_way < found.two_sessions
    assert found.between_sd.value == pytest.approx(10.0, abs=0.5)


def test_a_steady_animal_earns_a_smaller_least_change() -> None:
    """Twelve sessions within 2 mmHg of each other bring it well under that of the prior; twelve within 40, over it.

    Oracle: by construction.
    """
    steady = least_change(course([(30 * k, 150.0 + 2.0 * (k % 2)) for k in range(12)]), 330)
    restless = least_change(course([(30 * k, 150.0 + 40.0 * (k % 2)) for k in range(12)]), 330)
    usual = least_change(course([(0, 150.0)]), 0)
    assert steady.two_sessions < 0.75 * usual.two_sessions < 0.75 * restless.two_sessions
    assert restless.between_sd.low < restless.between_sd.value < restless.between_sd.high
    assert steady.next_high - steady.next_low < restless.next_high - restless.next_low


def test_the_session_before_is_of_another_day() -> None:
    """Of two sessions on one day the latest is compared with the day before.

    Oracle: by construction.
    """
    sessions = course([(0, 150.0), (9, 160.0), (9, 155.0)]).stretch.sessions
    pair = last_two(sessions)
    assert pair is not None
    assert [each.day for each in pair] == [0, 9]
    assert last_two(sessions[1:]) is None


def test_treatment_without_effect_begun_on_a_high_day_is_rarely_called_a_fall() -> None:
    """Levels that never move, treatment begun after the first session of 180 and over: the difference of the two
    sessions around it says more than 10 mmHg lower in about half of the animals, the model calls a fall in few, and on
    average it takes back most of what the two sessions show.

    Oracle: by construction, constant levels with normal sessions; another law of levels and of scatter than the model's
    prior. Tolerance: shares of 120 animals have a standard error of 2 to 5 %: 35 % and more against 10 % and less.
    """
    rng = np.random.default_rng(20310207)
    falls, called, taken = [], [], []
    while len(falls) < 120:
        level = rng.uniform(145.0, 185.0)
        seen = level + rng.normal(0.0, 12.0, 4)
        if seen[1] < 180.0:
            continue
        days = ((0, seen[0]), (21, seen[1]), (35, seen[2]))
        found = change_between(course(list(days), (21, "begun")), 21, 35)
        falls.append(seen[2] - seen[1])
        called.append(found.verdict == "fell")
        taken.append(found.change.value)
    assert np.mean(np.array(falls) < -10.0) >= 0.35
    assert np.mean(called) <= 0.10
    assert 0.5 * np.mean(falls) < np.mean(taken) < 0.0
