"""One simulated recording and its truth."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from typing import Unpack

import numpy as np
from numpy.typing import NDArray

from quietlimb.engine.circumstances import Circumstances, Species
from quietlimb.engine.recording import Recording, recording
from quietlimb.simulator.animals import Animal
from quietlimb.simulator.beats import BeatPressures, Beats, beat_pressures, draw_beats
from quietlimb.simulator.cuff_course import CuffCourse, Deflation, Inflation, draw_course
from quietlimb.simulator.disturbances import breathing_and_tone
from quietlimb.simulator.draws import Seed, streams
from quietlimb.simulator.leak import leaking
from quietlimb.simulator.movement import Spans
from quietlimb.simulator.scenarios import (
    course_settings,
    disturbance,
    drift_of,
    rhythm_of,
    species_of,
    subject_settings,
)
from quietlimb.simulator.sensor import TRACE_HZ
from quietlimb.simulator.subjects import Settings, Subject, draw_subject

Samples = NDArray[np.float64]

_SENSOR_ENDS_MMHG = (-15.0, 345.0)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Truth:
    """What was true during a recording. For an empty cuff all that belongs to an animal is None.

    systolic, mean, diastolic : mean over the beats of the reading of each beat's highest pressure, time mean and lowest
                                pressure [mmHg]. The beats of the reading are the whole beats from the top of the
                                inflation to the dump that reach the limb
    systolic_sd, ...          : standard deviation over these beats; nan of a single one [mmHg]
    pulse_rate                : these beats over their time [/min]
    foot_s                    : (n,) when each of them begins [s]; empty for an empty cuff
    family                    : of the artery
    peak_offset               : p0 of the artery [mmHg]; the truth above is not moved by it
    peak_height_mmhg          : of an ordinary beat at the most favourable steady cuff pressure
    peak_to_noise             : that height over the standard error of one pulse height; infinite without noise
    inflation, deflation      : how it was done
    deflation_s               : top of the inflation and dump [s]
    leak_mmhg_per_s           : what the cuff lost beside the valve
    moved_s                   : begin and end of each movement or knock [s]
    moved_mmhg                : peak to peak, what each of them did to the cuff pressure; not told of training animals
    """

    inflation: Inflation
    deflation: Deflation
    deflation_s: tuple[float, float]
    moved_s: Spans
    systolic: float | None = None
    mean: float | None = None
    diastolic: float | None = None
    pulse_rate: float | None = None
    systolic_sd: float | None = None
    mean_sd: float | None = None
    diastolic_sd: float | None = None
    foot_s: Samples = field(default_factory=lambda: np.empty(0))
    family: str | None = None
    peak_offset: float | None = None
    peak_height_mmhg: float | None = None
    peak_to_noise: float | None = None
    leak_mmhg_per_s: float = 0.0
    moved_mmhg: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SimulatedRecording:
    """A recording, what was true, and under which scenario of `SCENARIOS`.

    arterial_mmhg : (m,) pressure in the artery 1000 times a second from 0 s on [mmHg]; empty for an empty cuff
    """

    recording: Recording
    truth: Truth
    scenario: str
    arterial_mmhg: Samples = field(default_factory=lambda: np.empty(0))


def simulate_recording(
    seed: Seed,
    *,
    species: Species | None = None,
    family: str | None = None,
    scenario: str = "undisturbed",
    **settings: Unpack[Settings],
) -> SimulatedRecording:
    """A recording whose truth is known, the same for the same seed and settings.

    Parameters
    ----------
    seed     : an integer, or a generator, which is advanced
    species  : drawn when None; only cats purr
    family   : one of `FAMILIES`; when None, one of `DRAWN_FAMILIES` is drawn
    scenario : one of `SCENARIOS`
    settings : what to choose instead of draw, see `Settings`

    Raises
    ------
    ParameterError : unknown species, family or scenario, or a setting that no animal, cuff or sensor could have.
    """
    species = species_of(scenario, species)
    for_subject, for_recording, for_scenario = streams(seed, 3)
    chosen = subject_settings(for_scenario, scenario, settings)
    subject = draw_subject(for_subject, species=species, family=family, settings=chosen)
    return take_recording(for_recording, subject, scenario=scenario, settings=settings)


def take_recording(
    seed: Seed, subject: Subject, *, scenario: str = "undisturbed", settings: Settings | None = None
) -> SimulatedRecording:
    """A recording of this subject; of settings and scenario, what belongs to course, beats and cuff counts."""
    species_of(scenario, subject.animal.species)
    for_course, for_beats, for_unrest, for_scenario, for_noise = streams(seed, 5)
    animal, peak = subject.animal, subject.peak_height_mmhg
    chosen = course_settings(for_scenario, scenario, subject, settings or Settings())
    course = _course(for_course, animal, chosen)
    time_s = np.arange(int(course.end_s * TRACE_HZ) + 1) / TRACE_HZ
    cuff = course.base(time_s, TRACE_HZ)
    added, moved_s = disturbance(for_scenario, scenario, animal, time_s, course, peak)
    if added is not None:
        cuff += added

    beats: Beats | None = None
    if scenario != "empty-cuff":
        duration_s = float(time_s[-1])
        drift = chosen.get("drift_mmhg", drift_of(for_scenario, scenario, course, duration_s))
        beats = draw_beats(for_beats, animal, duration_s, rhythm=rhythm_of(scenario), drift_mmhg=drift)
    made = record(
        subject,
        course,
        time_s,
        cuff,
        beats=beats,
        for_unrest=for_unrest,
        for_noise=for_noise,
        moved_s=moved_s,
        scenario=scenario,
    )
    if added is None:
        return made
    swings = tuple(float(np.ptp(added[(time_s >= begin) & (time_s <= end)])) for begin, end in moved_s)
    return replace(made, truth=replace(made.truth, moved_mmhg=swings))


def record(
    subject: Subject,
    course: CuffCourse,
    time_s: Samples,
    cuff_mmhg: Samples,
    *,
    beats: Beats | None,
    for_unrest: np.random.Generator,
    for_noise: np.random.Generator,
    moved_s: Spans,
    scenario: str,
    zero_mmhg: float = 0.0,
    circumstances: Circumstances | None = None,
) -> SimulatedRecording:
    """What the sensor makes of these beats under this cuff.

    cuff_mmhg     : (n,) pressure of the cuff on a limb without a pulse, disturbances included, at `time_s` [mmHg]
    beats         : None for an empty cuff
    zero_mmhg     : what the sensor says of a cuff without air [mmHg]
    circumstances : those of the animal where none are given
    """
    animal, limb, cuff = subject.animal, subject.limb, cuff_mmhg
    peak = subject.peak_height_mmhg
    real: BeatPressures | None = None
    arterial = np.empty(0)
    if beats is not None:
        cuff = cuff + breathing_and_tone(for_unrest, time_s, animal.breaths, peak)
        arterial = beats.pressure(time_s)
        cuff = limb.cuff_pressure(arterial, cuff, TRACE_HZ)
        real = beat_pressures(beats, arterial, TRACE_HZ, *course.deflation_s)
    sampled_s, sampled_mmhg = subject.sensor.record(for_noise, np.clip(cuff + zero_mmhg, *_SENSOR_ENDS_MMHG))
    return SimulatedRecording(
        recording=recording(sampled_s, sampled_mmhg, circumstances or animal.circumstances),
        truth=_truth(subject, course, moved_s, real, peak),
        scenario=scenario,
        arterial_mmhg=arterial,
    )


def _course(rng: np.random.Generator, animal: Animal, chosen: Settings) -> CuffCourse:
    course = draw_course(
        rng,
        animal,
        start_mmhg=chosen.get("start_mmhg"),
        stop_mmhg=chosen.get("stop_mmhg"),
        inflation=chosen.get("inflation"),
        deflation=chosen.get("deflation"),
        deflation_mmhg_per_s=chosen.get("deflation_mmhg_per_s"),
        step_mmhg=chosen.get("step_mmhg"),
        step_s=chosen.get("step_s"),
    )
    return leaking(course, chosen.get("leak_mmhg_per_s", 0.0))


def _truth(subject: Subject, course: CuffCourse, moved_s: Spans, real: BeatPressures | None, peak: float) -> Truth:
    if real is None:
        return Truth(
            inflation=course.inflation,
            deflation=course.deflation,
            deflation_s=course.deflation_s,
            moved_s=moved_s,
            leak_mmhg_per_s=course.leak_mmhg_per_s,
        )
    noise = subject.height_sd_mmhg
    return Truth(
        systolic=float(real.systolic.mean()),
        mean=float(real.mean.mean()),
        diastolic=float(real.diastolic.mean()),
        pulse_rate=60.0 / float(real.period_s.mean()),
        systolic_sd=_sd(real.systolic),
        mean_sd=_sd(real.mean),
        diastolic_sd=_sd(real.diastolic),
        foot_s=real.foot_s,
        family=subject.limb.artery.family,
        peak_offset=subject.limb.peak_offset,
        peak_height_mmhg=peak,
        peak_to_noise=peak / noise if noise > 0.0 else math.inf,
        inflation=course.inflation,
        deflation=course.deflation,
        deflation_s=course.deflation_s,
        moved_s=moved_s,
        leak_mmhg_per_s=course.leak_mmhg_per_s,
    )


def _sd(values: Samples) -> float:
    """Standard deviation; not known of a single beat."""
    return float(values.std(ddof=1)) if values.size > 1 else math.nan
