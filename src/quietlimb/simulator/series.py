"""A simulated series of typed readings: numbers only, for testing how readings are charted."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from quietlimb.engine.circumstances import Circumstances, Species
from quietlimb.engine.errors import ParameterError
from quietlimb.simulator.animals import draw_animal
from quietlimb.simulator.draws import Seed, streams
from quietlimb.simulator.level_course import (
    DIASTOLIC_SHARE,
    LONGEST_SPACING_MIN,
    RATE_PER_MMHG,
    SHORTEST_SPACING_MIN,
    Course,
    LevelCourse,
    draw_level_course,
)
from quietlimb.simulator.sessions import LevelTruth

Samples = NDArray[np.float64]
Kind = Literal["level", "fast-fall", "slow-fall", "rising", "noisy"]

_COURSE: Mapping[Kind, Course] = {
    "level": "level",
    "fast-fall": "falling",
    "slow-fall": "slowly falling",
    "rising": "rising",
    "noisy": "level",
}
KINDS = tuple(_COURSE)
_NOISE_DF = 5.0
_LOWEST_READABLE_MMHG = 20.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SimulatedSeries:
    """n typed readings in the order taken, whole mmHg and beats as a display shows them; arrays are (n,).

    minute  : from the first reading [min]
    spoiled : True where the reading was thrown off
    truth   : the level when the last reading was taken
    """

    circumstances: Circumstances
    kind: Kind
    minute: Samples
    systolic: Samples
    mean: Samples
    diastolic: Samples
    pulse_rate: Samples
    spoiled: NDArray[np.bool_]
    truth: LevelTruth
    course: LevelCourse


def simulate_series(
    seed: Seed,
    *,
    species: Species | None = None,
    kind: Kind = "level",
    readings: int = 6,
    spoiled_share: float = 0.0,
    noise_sd_mmhg: float | None = None,
    autocorrelation: float | None = None,
) -> SimulatedSeries:
    """A series whose level at its end is known.

    The systolic varies about the level by `noise_sd_mmhg` (drawn from 4 to 9, of a noisy series from 10 to 18): Student
    t with 5 degrees of freedom scaled to that SD, each reading correlated with the last (drawn from 0 to 0.4). Each
    reading is spoiled with probability `spoiled_share`, by 20 to 70 mmHg up or down.

    Raises
    ------
    ParameterError : unknown kind, fewer than one reading, a share outside 0..1, a correlation outside 0..0.99.
    """
    if kind not in _COURSE:
        raise ParameterError("unknown-kind", f"there is no kind of series {kind!r}", f"use one of: {', '.join(KINDS)}")
    if readings < 1 or not 0.0 <= spoiled_share <= 1.0:
        raise ParameterError(
            "impossible-series",
            f"{readings} readings with a share of {spoiled_share:g} spoiled",
            "ask for one reading or more and a share of 0 to 1",
        )
    for_animal, for_level, for_noise, for_spoiling = streams(seed, 4)
    drawn_species: Species = "cat" if for_animal.uniform() < 0.5 else "dog"
    animal = draw_animal(for_animal, species or drawn_species)
    course = draw_level_course(for_level, _COURSE[kind])
    gaps = for_level.uniform(SHORTEST_SPACING_MIN, LONGEST_SPACING_MIN, readings)
    minute = np.round(np.cumsum(gaps) - gaps[0], 1)
    drawn_sd = float(for_noise.uniform(10.0, 18.0) if kind == "noisy" else for_noise.uniform(4.0, 9.0))
    drawn_correlation = float(for_noise.uniform(0.0, 0.4))
    sd = drawn_sd if noise_sd_mmhg is None else noise_sd_mmhg
    correlation = drawn_correlation if autocorrelation is None else autocorrelation
    if not 0.0 <= correlation <= 0.99:
        raise ParameterError("impossible-series", f"an autocorrelation of {correlation:g}", "give 0 to 0.99")

    noise = sd * _correlated_t(for_noise, readings, correlation)
    own_diastolic, own_rate = 0.3 * sd * for_noise.normal(size=readings), 4.0 * for_noise.normal(size=readings)
    spoiled = for_spoiling.uniform(size=readings) < spoiled_share
    off = for_spoiling.uniform(20.0, 70.0, readings) * for_spoiling.choice((-1.0, 1.0), readings) * spoiled

    excess = course.excess(minute)
    systolic = np.maximum(animal.systolic + excess + noise + off, 2.0 * _LOWEST_READABLE_MMHG)
    diastolic = animal.diastolic + DIASTOLIC_SHARE * (systolic - animal.systolic) + own_diastolic
    diastolic = np.clip(diastolic, _LOWEST_READABLE_MMHG, systolic - 8.0)
    mean = diastolic + animal.shape.form_factor * (systolic - diastolic)
    rate = np.clip(animal.pulse_rate + RATE_PER_MMHG * excess + own_rate, 40.0, 300.0)
    end = float(excess[-1])
    end_diastolic = animal.diastolic + DIASTOLIC_SHARE * end
    end_pulse = animal.systolic + end - end_diastolic
    return SimulatedSeries(
        circumstances=animal.circumstances,
        kind=kind,
        minute=minute,
        systolic=np.round(systolic),
        mean=np.round(mean),
        diastolic=np.round(diastolic),
        pulse_rate=np.round(rate),
        spoiled=spoiled,
        truth=LevelTruth(
            systolic=animal.systolic + end,
            mean=end_diastolic + animal.shape.form_factor * end_pulse,
            diastolic=end_diastolic,
            pulse_rate=animal.pulse_rate + RATE_PER_MMHG * end,
            fall_mmhg=float(excess[0]) - end,
            between_sd_mmhg=sd,
        ),
        course=course,
    )


def _correlated_t(rng: np.random.Generator, size: int, correlation: float) -> Samples:
    """(size,) Student t numbers of SD 1, first-order autocorrelated. Readings are few, so a loop is clear enough."""
    fresh = rng.standard_t(_NOISE_DF, size) / math.sqrt(_NOISE_DF / (_NOISE_DF - 2.0))
    noise: Samples = fresh.copy()
    for k in range(1, size):
        noise[k] = correlation * noise[k - 1] + math.sqrt(1.0 - correlation**2) * fresh[k]
    return noise
