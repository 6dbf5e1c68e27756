"""A simulated session: recordings of one animal, one artery, one cuff and one sensor, and the level at its end."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Unpack

import numpy as np
from numpy.typing import NDArray

from quietlimb.engine.circumstances import Circumstances, Species
from quietlimb.engine.errors import ParameterError
from quietlimb.simulator.animals import Animal
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
from quietlimb.simulator.recordings import SimulatedRecording, take_recording
from quietlimb.simulator.scenarios import species_of, subject_settings
from quietlimb.simulator.subjects import Settings, Subject, draw_subject

Samples = NDArray[np.float64]

_SPOILED_SCENARIO = "sustained-motion"
_REST_AFTER_DUMP_MIN = 0.1


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelTruth:
    """The level of an animal's pressure when the last reading was taken, free of what varies from reading to reading.

    systolic, mean, diastolic : mmHg
    pulse_rate                : /min
    fall_mmhg                 : systolic level at the first reading minus that at the last [mmHg]
    between_sd_mmhg           : standard deviation of the systolic from reading to reading [mmHg]
    """

    systolic: float
    mean: float
    diastolic: float
    pulse_rate: float
    fall_mmhg: float
    between_sd_mmhg: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SimulatedSession:
    """n recordings in the order taken.

    minute  : (n,) begin of each recording, from that of the first [min]
    spoiled : (n,) True where the limb kept moving
    subject : the animal at rest, its limb and the sensor: the same for all recordings
    """

    recordings: tuple[SimulatedRecording, ...]
    minute: Samples
    spoiled: NDArray[np.bool_]
    truth: LevelTruth
    course: LevelCourse
    subject: Subject

    @property
    def circumstances(self) -> Circumstances:
        """The circumstances that all recordings share."""
        return self.subject.animal.circumstances


def simulate_session(
    seed: Seed,
    *,
    species: Species | None = None,
    family: str | None = None,
    readings: int = 6,
    course: Course = "level",
    spoiled: int = 0,
    scenario: str = "undisturbed",
    between_sd_mmhg: float | None = None,
    **settings: Unpack[Settings],
) -> SimulatedSession:
    """A session of `readings` recordings, 0.6 to 1.8 minutes apart, of which `spoiled` are lost to movement.

    Artery, peak offset, cuff, sensor, and the way of inflating and deflating stay the same throughout. The level
    follows `course`; about it the systolic varies from reading to reading by `between_sd_mmhg` (drawn from 4 to 9).
    `systolic`, `diastolic` and `pulse_rate` in the settings are those of the animal at rest, towards which the level
    goes.

    Raises
    ------
    ParameterError : fewer than one reading, more spoiled than there are, or as for `simulate_recording`.
    """
    if readings < 1 or not 0 <= spoiled <= readings:
        raise ParameterError(
            "impossible-session", f"{spoiled} spoiled of {readings} readings", "ask for one reading or more"
        )
    for_subject, for_level, *for_recordings, for_scenario = streams(seed, 3 + readings)
    subject = draw_subject(
        for_subject,
        species=species_of(scenario, species),
        family=family,
        settings=subject_settings(for_scenario, scenario, settings),
    )
    level_course = draw_level_course(for_level, course)
    drawn_sd = float(for_level.uniform(4.0, 9.0))
    sd = drawn_sd if between_sd_mmhg is None else between_sd_mmhg
    variation = for_level.normal(size=(readings, 3))
    spacing = for_level.uniform(SHORTEST_SPACING_MIN, LONGEST_SPACING_MIN, readings)
    is_spoiled = np.zeros(readings, dtype=np.bool_)
    is_spoiled[for_level.permutation(readings)[:spoiled]] = True

    habits = settings.copy()
    taken: list[SimulatedRecording] = []
    minute = [0.0]
    for k, rng in enumerate(for_recordings):
        animal = _shifted(
            subject.animal,
            float(level_course.excess(minute[k])) + sd * variation[k, 0],
            diastolic_mmhg=0.3 * sd * variation[k, 1],
            rate=4.0 * variation[k, 2],
        )
        now = take_recording(
            rng,
            replace(subject, animal=animal),
            scenario=_SPOILED_SCENARIO if is_spoiled[k] else scenario,
            settings=habits,
        )
        # one machine and one hand: what the first recording was made with makes the others too
        habits["inflation"], habits["deflation"] = now.truth.inflation, now.truth.deflation
        taken.append(now)
        lasted_min = float(now.recording.time_s[-1]) / 60.0
        minute.append(minute[k] + max(float(spacing[k]), lasted_min + _REST_AFTER_DUMP_MIN))

    begun = np.array(minute[:-1])
    at_end = _shifted(subject.animal, float(level_course.excess(begun[-1])))
    return SimulatedSession(
        recordings=tuple(taken),
        minute=begun,
        spoiled=is_spoiled,
        truth=LevelTruth(
            systolic=at_end.systolic,
            mean=at_end.mean,
            diastolic=at_end.diastolic,
            pulse_rate=at_end.pulse_rate,
            fall_mmhg=float(level_course.excess(begun[0]) - level_course.excess(begun[-1])),
            between_sd_mmhg=sd,
        ),
        course=level_course,
        subject=subject,
    )


def _shifted(animal: Animal, systolic_mmhg: float, *, diastolic_mmhg: float = 0.0, rate: float = 0.0) -> Animal:
    """The animal with its systolic moved by so much and the rest following, within what an animal can be."""
    systolic = float(np.clip(animal.systolic + systolic_mmhg, 60.0, 270.0))
    follows = animal.diastolic + DIASTOLIC_SHARE * (systolic - animal.systolic) + diastolic_mmhg
    return replace(
        animal,
        systolic=systolic,
        diastolic=float(np.clip(follows, 20.0, systolic - 12.0)),
        pulse_rate=float(np.clip(animal.pulse_rate + RATE_PER_MMHG * systolic_mmhg + rate, 40.0, 300.0)),
    )
