"""One simulated recording and its truth."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Unpack

import numpy as np
from numpy.typing import NDArray

from quietlimb.engine.circumstances import Species
from quietlimb.engine.errors import ParameterError
from quietlimb.engine.recording import Recording, recording
from quietlimb.simulator.animals import Animal
from quietlimb.simulator.beats import BeatPressures, Rhythm, beat_pressures, draw_beats
from quietlimb.simulator.cuff_course import CuffCourse, Deflation, Inflation, draw_course
from quietlimb.simulator.disturbances import (
    Spans,
    breathing_and_tone,
    motion_bursts,
    purring,
    shivering,
    sustained_motion,
    tube_knocks,
)
from quietlimb.simulator.draws import Seed, streams
from quietlimb.simulator.sensor import TRACE_HZ
from quietlimb.simulator.subjects import Settings, Subject, draw_subject

Samples = NDArray[np.float64]

SCENARIOS: Mapping[str, str] = {
    "undisturbed": "a quiet limb, a regular pulse",
    "mild-motion": "one or two movements, together 1.2 s at most",
    "purring": "a cat that purrs",
    "shivering": "a limb that trembles",
    "ectopic": "premature beats, 4 to 15 % of all",
    "sustained-motion": "movement from the first moment of the deflation to the last",
    "empty-cuff": "a cuff around nothing",
    "start-too-low": "inflated to below the systolic pressure",
    "atrial-fibrillation": "a pulse without order",
}
_RHYTHM: Mapping[str, Rhythm] = {"ectopic": "ectopic", "atrial-fibrillation": "atrial fibrillation"}
_SENSOR_ENDS_MMHG = (-15.0, 345.0)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Truth:
    """What was true during a recording. For an empty cuff all that belongs to an animal is None.

    systolic, mean, diastolic : mean over the beats of the reading of each beat's highest pressure, time mean and lowest
                                pressure [mmHg]. The beats of the reading are the whole beats from the top of the
                                inflation to the dump
    systolic_sd, ...          : standard deviation over these beats [mmHg]
    pulse_rate                : these beats over their time [/min]
    foot_s                    : (n,) when each of them begins [s]; empty for an empty cuff
    family                    : of the artery
    peak_offset               : p0 of the artery [mmHg]; the truth above is not moved by it
    peak_height_mmhg          : of an ordinary beat at the most favourable steady cuff pressure
    peak_to_noise             : that height over the standard error of one pulse height; infinite without noise
    inflation, deflation      : how it was done
    deflation_s               : top of the inflation and dump [s]
    moved_s                   : begin and end of each movement or knock [s]
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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SimulatedRecording:
    """A recording, what was true, and under which scenario of `SCENARIOS`."""

    recording: Recording
    truth: Truth
    scenario: str


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
    family   : one of `FAMILIES`, drawn when None
    scenario : one of `SCENARIOS`
    settings : what to choose instead of draw, see `Settings`

    Raises
    ------
    ParameterError : unknown species, family or scenario, or a setting that no animal, cuff or sensor could have.
    """
    _check_scenario(scenario, species)
    for_subject, for_recording = streams(seed, 2)
    if scenario == "purring":
        species = "cat"
    subject = draw_subject(for_subject, species=species, family=family, settings=settings)
    return take_recording(for_recording, subject, scenario=scenario, settings=settings)


def take_recording(
    seed: Seed, subject: Subject, *, scenario: str = "undisturbed", settings: Settings | None = None
) -> SimulatedRecording:
    """A recording of this subject; of the settings, those of course and drift count."""
    _check_scenario(scenario, subject.animal.species)
    chosen = settings or Settings()
    for_course, for_beats, for_unrest, for_scenario, for_noise = streams(seed, 5)
    animal, limb = subject.animal, subject.limb
    peak = subject.peak_height_mmhg
    course = _course(for_course, for_scenario, animal, scenario, chosen)
    time_s = np.arange(int(course.end_s * TRACE_HZ) + 1) / TRACE_HZ
    cuff = course.base(time_s, TRACE_HZ)
    disturbance, moved_s = _disturbance(for_scenario, scenario, animal, time_s, course, peak)
    if disturbance is not None:
        cuff += disturbance

    real: BeatPressures | None = None
    if scenario != "empty-cuff":
        cuff += breathing_and_tone(for_unrest, time_s, animal.breaths, peak)
        beats = draw_beats(
            for_beats,
            animal,
            float(time_s[-1]),
            rhythm=_RHYTHM.get(scenario, "regular"),
            drift_mmhg=chosen.get("drift_mmhg"),
        )
        arterial = beats.pressure(time_s)
        cuff = limb.cuff_pressure(arterial, cuff, TRACE_HZ)
        real = beat_pressures(beats, arterial, TRACE_HZ, *course.deflation_s)

    sampled_s, sampled_mmhg = subject.sensor.record(for_noise, np.clip(cuff, *_SENSOR_ENDS_MMHG))
    return SimulatedRecording(
        recording=recording(sampled_s, sampled_mmhg, animal.circumstances),
        truth=_truth(subject, course, moved_s, real, peak),
        scenario=scenario,
    )


def _check_scenario(scenario: str, species: Species | None) -> None:
    if scenario not in SCENARIOS:
        raise ParameterError(
            "unknown-scenario", f"there is no scenario {scenario!r}", f"use one of: {', '.join(SCENARIOS)}"
        )
    if scenario == "purring" and species == "dog":
        raise ParameterError("unknown-scenario", "a dog does not purr", "ask for a cat, or for another scenario")


def _course(
    rng: np.random.Generator, for_scenario: np.random.Generator, animal: Animal, scenario: str, chosen: Settings
) -> CuffCourse:
    start = chosen.get("start_mmhg")
    if scenario == "start-too-low" and start is None:
        # never below the upper part of the pulse, or there would be nothing left to read
        deepest = min(30.0, 0.6 * animal.pulse_pressure)
        start = animal.systolic - float(for_scenario.uniform(5.0, deepest))
    return draw_course(
        rng,
        animal,
        start_mmhg=start,
        stop_mmhg=chosen.get("stop_mmhg"),
        inflation=chosen.get("inflation"),
        deflation=chosen.get("deflation"),
        deflation_mmhg_per_s=chosen.get("deflation_mmhg_per_s"),
        step_mmhg=chosen.get("step_mmhg"),
        step_s=chosen.get("step_s"),
    )


def _disturbance(
    rng: np.random.Generator, scenario: str, animal: Animal, time_s: Samples, course: CuffCourse, peak: float
) -> tuple[Samples | None, Spans]:
    """Pressure that the scenario adds to the cuff, and when something moved."""
    within = course.deflation_s
    match scenario:
        case "mild-motion":
            return motion_bursts(rng, time_s, TRACE_HZ, within, peak)
        case "sustained-motion":
            return sustained_motion(rng, time_s, TRACE_HZ, within, peak)
        case "empty-cuff":
            return tube_knocks(rng, time_s, TRACE_HZ, within)
        case "purring":
            return purring(rng, time_s, animal.breaths), ()
        case "shivering":
            return shivering(rng, time_s, TRACE_HZ, peak), ()
    return None, ()


def _truth(subject: Subject, course: CuffCourse, moved_s: Spans, real: BeatPressures | None, peak: float) -> Truth:
    if real is None:
        return Truth(
            inflation=course.inflation, deflation=course.deflation, deflation_s=course.deflation_s, moved_s=moved_s
        )
    noise = subject.height_sd_mmhg
    return Truth(
        systolic=float(real.systolic.mean()),
        mean=float(real.mean.mean()),
        diastolic=float(real.diastolic.mean()),
        pulse_rate=60.0 / float(real.period_s.mean()),
        systolic_sd=float(real.systolic.std(ddof=1)),
        mean_sd=float(real.mean.std(ddof=1)),
        diastolic_sd=float(real.diastolic.std(ddof=1)),
        foot_s=real.foot_s,
        family=subject.limb.artery.family,
        peak_offset=subject.limb.peak_offset,
        peak_height_mmhg=peak,
        peak_to_noise=peak / noise if noise > 0.0 else math.inf,
        inflation=course.inflation,
        deflation=course.deflation,
        deflation_s=course.deflation_s,
        moved_s=moved_s,
    )
