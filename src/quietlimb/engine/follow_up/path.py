"""The underlying pressure day by day, for a picture."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from quietlimb.engine.follow_up.course import UnderlyingCourse

Array = NDArray[np.float64]
_EVEN_DAYS = 60  # beside the days on which something happened
_AT_ONCE = 20  # days; what is held grows as their number
_HALVINGS = 30  # from some hundred mmHg to less than a thousandth
_REACH = 6.0  # standard deviations


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LevelPath:
    """day, value, low, high : (n,) median and 95 % interval of the level; the days rise strictly [mmHg]"""

    day: Array
    value: Array
    low: Array
    high: Array


def level_path(course: UnderlyingCourse, to_day: int) -> LevelPath:
    """The level from the first session to a day, closely enough to draw; a step shows on the day after its event."""
    first = course.days[0]
    marked = [*course.days, *(event.day + late for event in course.events for late in (0, 1))]
    evenly = np.round(np.linspace(first, to_day, _EVEN_DAYS))
    days = np.unique([day for day in (*marked, *evenly) if first <= day <= to_day])
    parts = []
    for some in np.array_split(days, math.ceil(days.size / _AT_ONCE)):
        mean, covariance = course.levels(some)
        sd = np.sqrt(np.maximum(np.diagonal(covariance, axis1=1, axis2=2), 1e-12))
        parts.append([_quantile(course.weight, mean, sd, share) for share in (0.025, 0.5, 0.975)])
    low, value, high = (np.concatenate(part) for part in zip(*parts, strict=True))
    return LevelPath(day=days, value=value, low=low, high=high)


def _quantile(weight: Array, mean: Array, sd: Array, share: float) -> Array:
    """Quantiles of many mixtures at once. mean, sd : (w, n)"""
    low, high = (mean - _REACH * sd).min(axis=0), (mean + _REACH * sd).max(axis=0)
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        under = weight @ ndtr((middle - mean) / sd) < share
        low, high = np.where(under, middle, low), np.where(under, high, middle)
    return np.asarray(0.5 * (low + high))
