"""The courses that a pressure may take through a series: level, or levelling off from above or from below.

    pressure(t) = level at the end + d * (f(t) - f(end)),    f(t) = exp(-(t - first) / tau)

The level at the end is what is charted, so no course extrapolates. d is positive for a fall. A share of the belief
rests on d = 0 exactly; the rest is spread over gamma-distributed falls and rises with time constants from 1.5 to 60
minutes. Cats stood 43 mmHg above home on arrival, 29 after 30 and 12 after 60 minutes (Sastravaha c. 2020); faster
falls are common practice. All figures below are invented: broad on purpose, chosen on simulated series.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.special import gammaincinv

Values = NDArray[np.float64]
Signs = NDArray[np.int_]


@dataclass(frozen=True, slots=True, kw_only=True)
class CoursePrior:
    """What is believed of the course before the series is seen.

    level, falling     : probabilities; rising has the rest
    fall, rise         : (shape, scale [mmHg]) of the gamma distribution of abs(d)
    time_constants_min : equally likely values of tau [min]
    step_mmhg          : how finely the change within the series is taken, at most
    """

    level: float = 0.38
    falling: float = 0.38
    fall: tuple[float, float] = (3.0, 7.0)
    rise: tuple[float, float] = (3.0, 6.0)
    time_constants_min: tuple[float, ...] = (1.5, 2.5, 4.5, 9.0, 20.0, 60.0)
    step_mmhg: float = 5.0

    @property
    def rising(self) -> float:
        """Probability of a rise."""
        return 1.0 - self.level - self.falling


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Courses:
    """k courses over the n minutes of a series.

    shift               : (k, n) pressure at each minute above that at the end [mmHg]
    probability         : (k,) before the series is seen; they add up to 1
    direction           : (k,) 0 level, 1 falling, -1 rising
    fall_mmhg           : (k,) pressure at the first minute minus that at the end
    falling_mmhg_per_min: (k,) how fast it still falls at the end
    ahead_mmhg          : (k,) how far it would still fall after the end, if it went on so
    """

    shift: Values
    probability: Values
    direction: Signs
    fall_mmhg: Values
    falling_mmhg_per_min: Values
    ahead_mmhg: Values


def courses_over(minute: Values, end_min: float, prior: CoursePrior) -> Courses:
    """The courses over these minutes, counted from the first, relative to the level at `end_min`."""
    since = minute - minute[0]
    length = end_min - float(minute[0])
    shift, probability, direction = [np.zeros((1, minute.size))], [np.array([prior.level])], [np.zeros(1, dtype=int)]
    speed, ahead = [np.zeros(1)], [np.zeros(1)]
    fall = [np.zeros(1)]
    for tau in prior.time_constants_min:
        left = np.exp(-length / tau)
        shape = np.exp(-since / tau) - left
        for sign, belief, gamma in ((1, prior.falling, prior.fall), (-1, prior.rising, prior.rise)):
            if belief <= 0.0:
                continue
            size, weight = _sizes(*gamma, prior.step_mmhg, 1.0 - left)
            shift.append(sign * size[:, None] * shape)
            probability.append(belief * weight / len(prior.time_constants_min))
            direction.append(np.full(size.size, sign))
            fall.append(sign * size * (1.0 - left))
            ahead.append(sign * size * left)
            speed.append(ahead[-1] / tau)
    return Courses(
        shift=np.concatenate(shift),
        probability=np.concatenate(probability),
        direction=np.concatenate(direction),
        fall_mmhg=np.concatenate(fall),
        falling_mmhg_per_min=np.concatenate(speed),
        ahead_mmhg=np.concatenate(ahead),
    )


FEWEST_SIZES = 3


def _sizes(shape: float, scale: float, step_mmhg: float, seen: float) -> tuple[Values, Values]:
    """Midpoints of abs(d) [mmHg] and their weights; `seen` is the share of d that passes within the series."""
    top = _largest(shape, scale)
    count = max(FEWEST_SIZES, int(np.ceil(top * seen / step_mmhg)))
    size = (np.arange(count, dtype=np.float64) + 0.5) * (top / count)
    weight: Values = size ** (shape - 1.0) * np.exp(-size / scale)
    weight /= weight.sum()
    return size, weight


@lru_cache(maxsize=32)
def _largest(shape: float, scale: float) -> float:
    return float(scale * gammaincinv(shape, 0.998))
