"""The level's posterior against closed forms where they exist and against slow twins where they do not."""

from __future__ import annotations

import itertools
import math

import emcee
import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import stats

from quietlimb.engine.session.course import CoursePrior, courses_over
from quietlimb.engine.session.noise import Noise
from quietlimb.engine.session.posterior import LevelPosterior, level_posterior
from quietlimb.engine.session.spoiling import NOTHING_SPOILED, Spoiling

Values = NDArray[np.float64]
LEVEL_ONLY = CoursePrior(level=1.0, falling=0.0)
PURE = Noise(sd_median=5.0, sd_spread=1.5, sd_nodes=120, tail=math.inf, spoiling=NOTHING_SPOILED, serial=0.0)
OSCILLOMETRIC = Noise(sd_median=8.0)
READINGS = np.array([150.0, 152.0, 149.0, 157.0, 148.0, 160.0, 151.0, 144.0])


def solve(
    value: Values,
    *,
    noise: Noise = OSCILLOMETRIC,
    prior: CoursePrior | None = None,
    minute: Values | None = None,
    own_sd: float = 0.0,
) -> LevelPosterior:
    minute = 1.2 * np.arange(value.size) if minute is None else minute
    courses = courses_over(minute, float(minute[-1]), prior or CoursePrior())
    return level_posterior(
        value,
        shift=courses.shift,
        course_probability=courses.probability,
        noise=noise,
        own_sd=np.full(value.size, own_sd),
        suspicion=np.ones(value.size),
        widening=np.ones(value.size),
    )


def test_level_series_without_outliers_gives_the_t_interval() -> None:
    """With normal errors, no course and a nearly flat prior on the logarithm of the scatter: Student's interval.

    Oracle: reference library, scipy.stats.t (1.14 and later). Tolerance: 2 % of the half-width, which is what the prior
    that is not quite flat moves it by.
    """
    n, mean, sd = READINGS.size, READINGS.mean(), READINGS.std(ddof=1)
    low, middle, high = solve(READINGS, noise=PURE, prior=LEVEL_ONLY).quantiles((0.025, 0.5, 0.975))
    expected = stats.t.interval(0.95, n - 1, mean, sd / math.sqrt(n))
    half = (expected[1] - expected[0]) / 2.0
    assert middle == pytest.approx(mean, abs=0.01)
    assert (low, high) == pytest.approx(expected, abs=0.02 * half)


@pytest.mark.parametrize("own_sd", [0.5, 6.0])
def test_known_scatter_gives_the_normal_interval(own_sd: float) -> None:
    """With a known standard deviation and nothing beside it: mean -/+ 1.96 sd / sqrt n, also where it is very small.

    Oracle: reference library, scipy.stats.norm. Tolerance: 1 % of the half-width (scatter of 0.01 mmHg is not nothing,
    and the grid).
    """
    noise = Noise(sd_median=0.01, sd_spread=0.0, tail=math.inf, spoiling=NOTHING_SPOILED, serial=0.0)
    value = READINGS.mean() + (READINGS - READINGS.mean()) * own_sd / 6.0
    found = solve(value, noise=noise, prior=LEVEL_ONLY, own_sd=own_sd)
    half = float(stats.norm.ppf(0.975)) * own_sd / math.sqrt(READINGS.size)
    low, middle, high = found.quantiles((0.025, 0.5, 0.975))
    assert (low, middle, high) == pytest.approx(
        (READINGS.mean() - half, READINGS.mean(), READINGS.mean() + half), abs=0.01 * half
    )
    assert found.sd == pytest.approx(own_sd / math.sqrt(READINGS.size), rel=0.01)


def test_student_location_with_known_scale() -> None:
    """With one scatter only, the mode is the Student location estimate of the readings.

    Oracle: reference library, scipy.optimize through scipy.stats.t.fit with degrees of freedom and scale held.
    Tolerance: half the step of the grid that the mode is read from.
    """
    noise = Noise(sd_median=6.0, sd_spread=0.0, spoiling=NOTHING_SPOILED, serial=0.0)
    found = solve(READINGS, noise=noise, prior=LEVEL_ONLY)
    _, expected, _ = stats.t.fit(READINGS, fdf=5.0, fscale=6.0 * math.sqrt(3.0 / 5.0), loc=150.0)
    assert found.level[np.argmax(found.density)] == pytest.approx(expected, abs=found.level[1] - found.level[0])


def allowed_sets(n: int, spoiling: Spoiling) -> list[tuple[float, tuple[int, ...]]]:
    """Probability of every way in which readings may be good (0) or spoiled up (1) or down (-1), by enumeration."""
    a, b = spoiling.share * spoiling.concentration, (1.0 - spoiling.share) * spoiling.concentration
    by_count: dict[int, list[tuple[float, tuple[int, ...]]]] = {}
    for sides in itertools.product((0, 1, -1), repeat=n):
        count = n - sides.count(0)
        if count <= max(1, (n - 1) // 2):
            factor = 1.0
            for left, right in itertools.pairwise(sides):
                if left * right:
                    factor *= spoiling.same_side if left == right else spoiling.other_side
            by_count.setdefault(count, []).append((factor, sides))
    of_count = {k: float(stats.betabinom.pmf(k, n, a, b)) for k in by_count}
    return [
        (of_count[k] / sum(of_count.values()) * factor / sum(f for f, _ in sets), sides)
        for k, sets in by_count.items()
        for factor, sides in sets
    ]


def slow_twin(value: Values, minute: Values) -> tuple[float, float, float]:
    """2.5, 50 and 97.5 % of the level under the shipped beliefs: set by set, course by course, on even grids."""
    noise, prior = OSCILLOMETRIC, CoursePrior()
    level = np.arange(value.min() - 60.0, value.max() + 60.0, 0.5)
    log_sd = np.linspace(math.log(8.0) - 2.0, math.log(8.0) + 2.0, 25)
    log_belief_sd = stats.norm.logpdf(log_sd, math.log(8.0), 0.55)
    scale = np.exp(log_sd) * math.sqrt(3.0 / 5.0)
    b = noise.spoiled_reach_mmhg
    n = value.size
    effective = sum(0.1 ** abs(i - j) for i in range(n) for j in range(n)) / n
    sets = allowed_sets(n, noise.spoiling)

    def likelihood(course: Values) -> Values:
        error = (value - course)[:, None] - level
        moved = 8.0 * error**2 / (math.pi * b**3 * (1.0 + (error / b) ** 2) ** 3)
        student = math.gamma(3.0) / math.gamma(2.5) / math.sqrt(5.0 * math.pi) / scale[:, None, None]
        student = student / (1.0 + (error / scale[:, None, None]) ** 2 / 5.0) ** 3
        total = np.zeros((scale.size, level.size))
        for probability, sides in sets:
            term = np.full((scale.size, level.size), probability)
            for i, side in enumerate(sides):
                term *= 2.0 * moved[i] * (side * error[i] > 0.0) if side else student[:, i]
            total += term
        return total ** (1.0 / effective)

    total = np.zeros(level.size)

    def add(course: Values, belief: float) -> None:
        total[:] += belief * (likelihood(course) * np.exp(log_belief_sd + 20.0)[:, None]).sum(axis=0)

    add(np.zeros(n), prior.level)
    for tau in prior.time_constants_min:
        shape = np.exp(-(minute - minute[0]) / tau)
        shape = shape - shape[-1]
        for sign, belief, (alpha, theta), top in (
            (1, prior.falling, prior.fall, 80.0),
            (-1, prior.rising, prior.rise, 66.0),
        ):
            size = np.arange(1.0, top, 2.0)
            weight = stats.gamma.pdf(size, alpha, scale=theta)
            for d, w in zip(size, weight / weight.sum(), strict=True):
                add(sign * d * shape, belief * w / len(prior.time_constants_min))
    below = np.cumsum(total) - total / 2.0
    low, middle, high = np.interp([0.025, 0.5, 0.975], below / total.sum(), level)
    return float(low), float(middle), float(high)


@pytest.mark.parametrize(
    "value",
    [
        [178.0, 166.0, 158.0, 160.0, 149.0, 152.0],
        [150.0, 152.0, 149.0, 151.0, 148.0, 190.0],
        [131.0, 140.0, 139.0, 147.0],
        [160.0, 121.0, 163.0],
    ],
    ids=["falling", "spoiled at the end", "rising", "three with one far"],
)
def test_agrees_with_a_slow_twin(value: list[float]) -> None:
    """Value and interval are those of a brute-force posterior that shares no code and uses finer grids.

    Oracle: by construction, `slow_twin`, which lists every set of spoiled readings. Tolerance: 0.2 mmHg, which is what
    seven values of the scatter and falls in steps of 5 mmHg leave.
    """
    minute = 1.2 * np.arange(len(value))
    low, middle, high = solve(np.array(value), minute=minute).quantiles((0.025, 0.5, 0.975))
    expected = slow_twin(np.array(value), minute)
    assert middle == pytest.approx(expected[1], abs=0.2)
    assert (low, high) == pytest.approx((expected[0], expected[2]), abs=0.2)


def test_agrees_with_sampling() -> None:
    """Level, size of a fall and scatter drawn by an ensemble sampler have the same median and spread of the level.

    Oracle: reference library, emcee 3.1.6, fixed seed, one time constant. Tolerance: 4 Monte Carlo errors, taken from
    the sampler's own autocorrelation time.
    """
    value, tau = np.array([172.0, 160.0, 157.0, 150.0, 153.0, 149.0]), 3.0
    minute = 1.2 * np.arange(value.size)
    noise = Noise(sd_median=8.0, sd_nodes=9, spoiling=NOTHING_SPOILED, serial=0.0)
    prior = CoursePrior(level=0.0, falling=1.0, time_constants_min=(tau,), step_mmhg=2.0)
    shape = np.exp(-minute / tau) - math.exp(-minute[-1] / tau)

    def log_posterior(at: Values) -> float:
        level, size, log_sd = at
        if size <= 0.0:
            return -math.inf
        scale = math.exp(log_sd) * math.sqrt(0.6)
        log_prior = 2.0 * math.log(size) - size / 7.0 - 0.5 * ((log_sd - math.log(8.0)) / 0.55) ** 2
        error = (value - level - size * shape) / scale
        return log_prior - value.size * math.log(scale) - 3.0 * float(np.log1p(error**2 / 5.0).sum())

    rng = np.random.default_rng(20)
    start = np.column_stack([rng.normal(150, 4, 16), rng.gamma(3, 7, 16), rng.normal(2.0, 0.3, 16)])
    sampler = emcee.EnsembleSampler(16, 3, log_posterior)
    sampler.random_state = np.random.RandomState(21).get_state()
    sampler.run_mcmc(start, 2500)
    draws = sampler.get_chain(discard=500)[:, :, 0]
    effective = draws.size / float(sampler.get_autocorr_time(discard=500, quiet=True)[0])
    error = 1.2533 * float(draws.std()) / math.sqrt(effective)
    found = solve(value, noise=noise, prior=prior, minute=minute)
    (middle,) = found.quantiles((0.5,))
    assert middle == pytest.approx(float(np.median(draws)), abs=4.0 * error)
    assert found.sd == pytest.approx(float(draws.std()), rel=4.0 / math.sqrt(2.0 * effective) + 0.02)


def test_density_and_probabilities_add_up() -> None:
    """The level's density integrates to one, the courses' probabilities add up to one. Oracle: by construction."""
    found = solve(READINGS)
    assert found.density.sum() * (found.level[1] - found.level[0]) == pytest.approx(1.0, abs=1e-9)
    assert found.course.sum() == pytest.approx(1.0, abs=1e-9)


def test_many_readings_neither_underflow_nor_jump() -> None:
    """Four hundred readings about 150 are solved like ten: no nan, and a narrow interval that holds the mean.

    Oracle: by construction; standard error 6 / sqrt 400 = 0.3 mmHg, so 2 mmHg is far outside it.
    """
    value = np.round(np.random.default_rng(4).normal(150.0, 6.0, 400))
    low, middle, high = solve(value).quantiles((0.025, 0.5, 0.975))
    assert low < middle < high
    assert middle == pytest.approx(float(value.mean()), abs=2.0)
    assert high - low < 5.0
