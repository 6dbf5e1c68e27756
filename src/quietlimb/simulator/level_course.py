"""How an animal's pressure settles, or does not, while it is measured again and again. All magnitudes are invented."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Samples = NDArray[np.float64]
Course = Literal["level", "falling", "slowly falling", "rising"]

# Diastolic pressure follows the systolic by this share, and the pulse rate by so many beats a minute for each mmHg.
DIASTOLIC_SHARE = 0.6
RATE_PER_MMHG = 0.3
SHORTEST_SPACING_MIN, LONGEST_SPACING_MIN = 0.6, 1.8


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelCourse:
    """Excess over the resting level: `excess_mmhg * exp(-minute / time_constant_min)`; negative while rising."""

    course: Course
    excess_mmhg: float
    time_constant_min: float

    def excess(self, minute: Samples | float) -> Samples:
        """Systolic excess over the resting level [mmHg]."""
        return np.asarray(self.excess_mmhg * np.exp(-np.asarray(minute) / self.time_constant_min), dtype=np.float64)


def draw_level_course(rng: np.random.Generator, course: Course) -> LevelCourse:
    """Falling: gamma with shape 2 and scale 9 mmHg, 1.5..6 min. Slowly: 10..45 mmHg, 20..60 min. Rising: 5..20 mmHg,
    4..15 min."""
    match course:
        case "falling":
            return LevelCourse(
                course=course, excess_mmhg=float(rng.gamma(2.0, 9.0)), time_constant_min=float(rng.uniform(1.5, 6.0))
            )
        case "slowly falling":
            return LevelCourse(
                course=course,
                excess_mmhg=float(rng.uniform(10.0, 45.0)),
                time_constant_min=float(rng.uniform(20.0, 60.0)),
            )
        case "rising":
            return LevelCourse(
                course=course,
                excess_mmhg=-float(rng.uniform(5.0, 20.0)),
                time_constant_min=float(rng.uniform(4.0, 15.0)),
            )
    return LevelCourse(course=course, excess_mmhg=0.0, time_constant_min=1.0)
