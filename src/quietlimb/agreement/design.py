"""How many animals, and how many readings of each, for a comparison that can tell what it is made for.

Differences are taken as bias + animal + reading, normal, with a standard deviation between animals and one within, and
m readings of an animal while its truth changes. Then, with n animals:

    total sd          s  = sqrt(sb^2 + sw^2)
    of the bias       SE = sqrt((sb^2 + sw^2 / m) / n)
    of a limit        SE = sqrt(SE_bias^2 + 1.96^2 var(s)),
                      var(s) = ((sb^2 + sw^2/m)^2 / (n - 1) + (1 - 1/m)^2 sw^4 / (n (m - 1))) / (2 s^2)

which for m = 1 are the usual s / sqrt(n) and s sqrt(1/n + 1.96^2 / (2 (n - 1))) ([BlandAltman1999], section 4).
A comparison succeeds where the intervals of both limits lie within the largest difference that is tolerable ([Lu2016]).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from quietlimb.agreement.limits import MULTIPLIER
from quietlimb.engine.errors import ParameterError

Array = NDArray[np.float64]

MOST_ANIMALS: Final = 2000
MOST_READINGS: Final = 50
RUNS: Final = 4000  # of a simulation: a power of 0.8 is then known to 0.013 either way


@dataclass(frozen=True, slots=True, kw_only=True)
class Expected:
    """What is expected of the differences, tested minus reference. [mmHg]

    bias       : mean
    between_sd : of the animals' own mean differences
    within_sd  : of single differences of an animal
    """

    bias: float = 0.0
    between_sd: float
    within_sd: float

    def __post_init__(self) -> None:
        values = (self.bias, self.between_sd, self.within_sd)
        if not all(math.isfinite(value) for value in values) or min(self.between_sd, self.within_sd) < 0.0:
            raise ParameterError("impossible-design", "a standard deviation is below 0 or no number", "give 0 or more")
        if self.sd == 0.0:
            raise ParameterError("impossible-design", "both standard deviations are 0", "give one above 0")

    @property
    def sd(self) -> float:
        """Of a single difference."""
        return math.hypot(self.between_sd, self.within_sd)

    def mean_sd(self, readings: int) -> float:
        """Of the mean difference of an animal with so many readings."""
        return math.hypot(self.between_sd, self.within_sd / math.sqrt(readings))


def bias_half_width(expected: Expected, animals: int, readings: int = 1, *, confidence: float = 0.95) -> float:
    """Half the interval of the bias to expect [mmHg], by the t law on one less than animals."""
    _check(animals, readings)
    factor = float(stats.t.ppf(0.5 + 0.5 * confidence, animals - 1))
    return factor * expected.mean_sd(readings) / math.sqrt(animals)


def limit_se(expected: Expected, animals: int, readings: int = 1) -> float:
    """Standard error of a limit of agreement [mmHg]."""
    _check(animals, readings)
    mean = expected.mean_sd(readings) ** 2
    of_variance = 2.0 * mean**2 / (animals - 1)
    if readings > 1:
        of_variance += 2.0 * (1.0 - 1.0 / readings) ** 2 * expected.within_sd**4 / (animals * (readings - 1))
    of_sd = of_variance / (4.0 * expected.sd**2)
    return math.sqrt(mean / animals + MULTIPLIER**2 * of_sd)


def limit_half_width(expected: Expected, animals: int, readings: int = 1, *, confidence: float = 0.95) -> float:
    """Half the interval of either limit to expect [mmHg]."""
    factor = float(stats.t.ppf(0.5 + 0.5 * confidence, animals - 1))
    return factor * limit_se(expected, animals, readings)


def power(expected: Expected, tolerable: float, animals: int, readings: int = 1, *, confidence: float = 0.95) -> float:
    """Probability that the intervals of both limits lie within -/+ `tolerable` mmHg, by formula.

    Each limit by a noncentral t law, the two failures added ([Lu2016]); 0 where they add to more than 1.
    """
    se = limit_se(expected, animals, readings)
    df = animals - 1
    critical = float(stats.t.ppf(0.5 + 0.5 * confidence, df))
    half = MULTIPLIER * expected.sd
    missed = sum(
        float(stats.nct.cdf(critical, df, (tolerable - side * expected.bias - half) / se)) for side in (1.0, -1.0)
    )
    return max(0.0, 1.0 - missed)


def simulated_power(
    expected: Expected,
    tolerable: float,
    animals: int,
    readings: int = 1,
    *,
    seed: int,
    runs: int = RUNS,
    confidence: float = 0.95,
) -> float:
    """The same by drawing comparisons, analysing each, and counting those that succeed; same seed, same answer."""
    _check(animals, readings)
    mean, sd, se = _drawn(expected, animals, readings, seed=seed, runs=runs)
    reach = float(stats.t.ppf(0.5 + 0.5 * confidence, animals - 1)) * se
    within = (mean + MULTIPLIER * sd + reach < tolerable) & (mean - MULTIPLIER * sd - reach > -tolerable)
    return float(within.mean())


def simulated_half_width(
    expected: Expected, animals: int, readings: int = 1, *, seed: int, runs: int = RUNS, confidence: float = 0.95
) -> float:
    """Half the interval of either limit [mmHg], the mean of drawn comparisons."""
    _check(animals, readings)
    _, _, se = _drawn(expected, animals, readings, seed=seed, runs=runs)
    return float(stats.t.ppf(0.5 + 0.5 * confidence, animals - 1)) * float(se.mean())


def _drawn(expected: Expected, animals: int, readings: int, *, seed: int, runs: int) -> tuple[Array, Array, Array]:
    """Bias, standard deviation of a difference and standard error of a limit, of each of (runs,) drawn comparisons."""
    rng = np.random.default_rng(seed)
    means, within = np.empty((runs, animals)), np.zeros(runs)
    for k in range(runs):  # one at a time, so that memory does not grow with animals times readings
        own = expected.bias + expected.between_sd * rng.normal(size=(animals, 1))
        each = own + expected.within_sd * rng.normal(size=(animals, readings))
        means[k] = each.mean(axis=1)
        if readings > 1:
            within[k] = each.var(axis=1, ddof=1).mean()
    of_means = means.var(axis=1, ddof=1)
    variance = np.maximum(of_means + (1.0 - 1.0 / readings) * within, within)
    of_variance = 2.0 * of_means**2 / (animals - 1)
    if readings > 1:
        of_variance = of_variance + 2.0 * (1.0 - 1.0 / readings) ** 2 * within**2 / (animals * (readings - 1))
    se = np.sqrt(of_means / animals + MULTIPLIER**2 * of_variance / (4.0 * variance))
    return means.mean(axis=1), np.sqrt(variance), se


def animals_for_width(expected: Expected, wanted: float, readings: int = 1, *, confidence: float = 0.95) -> int | None:
    """Fewest animals with which either limit is known to -/+ `wanted` mmHg; None where 2000 are too few."""
    return _fewest(lambda n: limit_half_width(expected, n, readings, confidence=confidence) <= wanted)


def animals_for_bias(expected: Expected, wanted: float, readings: int = 1, *, confidence: float = 0.95) -> int | None:
    """Fewest animals with which the bias is known to -/+ `wanted` mmHg; None where 2000 are too few."""
    return _fewest(lambda n: bias_half_width(expected, n, readings, confidence=confidence) <= wanted)


def animals_for_power(
    expected: Expected, tolerable: float, wanted: float, readings: int = 1, *, confidence: float = 0.95
) -> int | None:
    """Fewest animals with which the comparison succeeds with that probability; None where 2000 are too few.

    No number is enough where the true limits reach beyond what is tolerable.
    """
    if not 0.0 < wanted < 1.0:
        raise ParameterError("impossible-power", f"power is {wanted:g}", "give a share between 0 and 1, as 0.8")
    if abs(expected.bias) + MULTIPLIER * expected.sd >= tolerable:
        return None
    return _fewest(lambda n: power(expected, tolerable, n, readings, confidence=confidence) >= wanted)


@dataclass(frozen=True, slots=True, kw_only=True)
class SizeRow:
    """One wish, with so many readings of each animal.

    wish     : `limit`: either limit known to -/+ `wanted`; `bias`: the bias known to -/+ `wanted`; `tolerable`: limits
               shown to lie within -/+ `wanted`, with the power asked for
    wanted   : mmHg
    animals  : fewest that fulfil it; None where 2000 do not
    formula  : what so many give, half a width [mmHg] or a power; None without a number
    simulated: the same by simulation; None without a number, and for the bias, where the formula is exact
    """

    wish: Literal["limit", "bias", "tolerable"]
    wanted: float
    readings: int
    animals: int | None
    formula: float | None
    simulated: float | None


def size_rows(
    expected: Expected,
    *,
    readings: tuple[int, ...],
    limit_within: float | None,
    bias_within: float | None,
    tolerable: float | None,
    power_wanted: float,
    seed: int,
) -> tuple[SizeRow, ...]:
    """Each wish that is not None with each number of readings, by formula and by simulation from a seed."""
    found = []
    for m in readings:
        if limit_within is not None:
            n = animals_for_width(expected, limit_within, m)
            by = None if n is None else limit_half_width(expected, n, m)
            drawn = None if n is None else simulated_half_width(expected, n, m, seed=seed)
            found.append(SizeRow(wish="limit", wanted=limit_within, readings=m, animals=n, formula=by, simulated=drawn))
        if bias_within is not None:
            n = animals_for_bias(expected, bias_within, m)
            by = None if n is None else bias_half_width(expected, n, m)
            found.append(SizeRow(wish="bias", wanted=bias_within, readings=m, animals=n, formula=by, simulated=None))
        if tolerable is not None:
            n = animals_for_power(expected, tolerable, power_wanted, m)
            by = None if n is None else power(expected, tolerable, n, m)
            drawn = None if n is None else simulated_power(expected, tolerable, n, m, seed=seed)
            found.append(
                SizeRow(wish="tolerable", wanted=tolerable, readings=m, animals=n, formula=by, simulated=drawn)
            )
    return tuple(found)


def _fewest(enough: Callable[[int], bool]) -> int | None:
    """By halving: what is enough stays enough with more."""
    if not enough(MOST_ANIMALS):
        return None
    low, high = 2, MOST_ANIMALS
    while low < high:
        middle = (low + high) // 2
        low, high = (low, middle) if enough(middle) else (middle + 1, high)
    return low


def _check(animals: int, readings: int) -> None:
    if not (2 <= animals <= MOST_ANIMALS and 1 <= readings <= MOST_READINGS):
        raise ParameterError(
            "impossible-design",
            f"{animals} animals with {readings} readings of each",
            f"give 2 to {MOST_ANIMALS} animals and 1 to {MOST_READINGS} readings",
        )
