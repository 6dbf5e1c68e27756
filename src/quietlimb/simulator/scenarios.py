"""What disturbs a recording, by name: what each scenario chooses of subject and course, and what it adds to the cuff.

What the caller chooses goes before what a scenario chooses. Magnitudes are invented.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from quietlimb.engine.circumstances import Species
from quietlimb.engine.errors import ParameterError
from quietlimb.simulator.animals import Animal
from quietlimb.simulator.beats import Rhythm
from quietlimb.simulator.cuff_course import CuffCourse
from quietlimb.simulator.disturbances import purring, shivering, tube_knocks
from quietlimb.simulator.draws import Samples, log_uniform
from quietlimb.simulator.movement import (
    Spans,
    loaded_limb,
    motion_bursts,
    repeated_motion,
    sustained_motion,
    tail_wagging,
)
from quietlimb.simulator.sensor import TRACE_HZ
from quietlimb.simulator.subjects import Settings, Subject

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
    "repeated-motion": "three to six movements, together 1.8 to 6 s, with quiet between them",
    "tail-wagging": "a tail that wags throughout the deflation, 1 to 4 times a second",
    "limb-loaded": "weight that comes upon the limb and goes, throughout the deflation",
    "cut-off": "let out in full above the diastolic pressure, before the lower flank of the pulses was seen",
    "fast-deflation": "a fall of 8 to 20 mmHg from pulse to pulse",
    "leak": "a cuff that loses 0.5 to 3 mmHg a second by itself, on level stretches too",
    "loose-cuff": "a cuff that hangs loosely: late contact, small pulses, part of its pressure lost on the way",
    "narrow-cuff": "a cuff too narrow for the limb, 0.85 to 0.98 of its pressure reaching the artery",
    "weak-pulse": "pulses of 0.05 to 0.2 mmHg at their highest",
    "slow-pulse": "40 pulses a minute",
    "fast-pulse": "300 pulses a minute",
    "pressure-drift": "an arterial pressure that rises or falls by 4 to 10 mmHg during the deflation",
    "alternans": "strong and weak pulses in turn",
    "pulse-deficit": "heartbeats of which 5 to 30 % do not reach the limb",
    "purring-alias": "a cat that purrs, sampled 50 times a second without a filter before it",
}
_RHYTHM: Mapping[str, Rhythm] = {
    "ectopic": "ectopic",
    "atrial-fibrillation": "atrial fibrillation",
    "alternans": "alternans",
    "pulse-deficit": "pulse deficit",
}
_PURRING = ("purring", "purring-alias")


def species_of(scenario: str, species: Species | None) -> Species | None:
    """The species, cat where only a cat will do, None where it is to be drawn.

    Raises
    ------
    ParameterError : unknown scenario, or a dog that purrs.
    """
    if scenario not in SCENARIOS:
        raise ParameterError(
            "unknown-scenario", f"there is no scenario {scenario!r}", f"use one of: {', '.join(SCENARIOS)}"
        )
    if scenario not in _PURRING:
        return species
    if species == "dog":
        raise ParameterError("unknown-scenario", "a dog does not purr", "ask for a cat, or for another scenario")
    return "cat"


def rhythm_of(scenario: str) -> Rhythm:
    """The rhythm of the heart."""
    return _RHYTHM.get(scenario, "regular")


def subject_settings(rng: np.random.Generator, scenario: str, chosen: Settings) -> Settings:
    """What is chosen, and what the scenario chooses besides of animal, limb, cuff and sensor."""
    of_scenario = Settings()
    match scenario:
        case "slow-pulse":
            of_scenario = Settings(pulse_rate=40.0)
        case "fast-pulse":
            of_scenario = Settings(pulse_rate=300.0)
        case "weak-pulse":
            of_scenario = Settings(peak_height_mmhg=log_uniform(rng, 0.05, 0.2))
        case "narrow-cuff":
            of_scenario = Settings(
                transmission=float(rng.uniform(0.85, 0.98)), cuff_width_share=float(rng.uniform(0.15, 0.25))
            )
        case "loose-cuff":
            of_scenario = Settings(
                transmission=float(rng.uniform(0.85, 0.98)),
                peak_height_share=float(rng.uniform(0.3, 0.7)),
                contact_mmhg=float(rng.uniform(12.0, 30.0)),
            )
        case "tail-wagging":
            of_scenario = Settings(site="tail")
        case "purring-alias":
            of_scenario = Settings(sampling_hz=50.0, anti_alias=False)
    return Settings(**{**of_scenario, **chosen})


def course_settings(rng: np.random.Generator, scenario: str, subject: Subject, chosen: Settings) -> Settings:
    """What is chosen, and what the scenario chooses besides of inflation and deflation."""
    animal, of_scenario = subject.animal, Settings()
    match scenario:
        case "start-too-low":
            # never below the upper part of the pulse, or there would be nothing left to read
            deepest = min(30.0, 0.6 * animal.pulse_pressure)
            of_scenario = Settings(start_mmhg=animal.systolic - float(rng.uniform(5.0, deepest)))
        case "cut-off":
            lowest = _lower_flank(subject)
            highest = max(lowest, animal.diastolic + 0.7 * animal.pulse_pressure)
            of_scenario = Settings(stop_mmhg=float(rng.uniform(lowest, highest)))
        case "fast-deflation":
            # five pulses at least over the shortest deflation that is drawn
            fall = float(rng.uniform(8.0, min(20.0, (animal.pulse_pressure + 45.0) / 5.0)))
            of_scenario = Settings(
                deflation="linear",
                deflation_mmhg_per_s=fall / animal.period_s,
                step_mmhg=fall,
                step_s=animal.period_s,
            )
        case "leak":
            of_scenario = Settings(leak_mmhg_per_s=float(rng.uniform(0.5, 3.0)))
    return Settings(**{**of_scenario, **chosen})


def _lower_flank(subject: Subject) -> float:
    """Cuff pressure, above the diastolic, down to which steady pulses keep 0.85 of the greatest height [mmHg]."""
    animal, limb = subject.animal, subject.limb
    cuff = np.linspace(animal.diastolic, animal.systolic, 201)
    felt = limb.transmission * cuff + limb.peak_offset
    height = limb.artery.volume(animal.systolic - felt) - limb.artery.volume(animal.diastolic - felt)
    flank = float(cuff[np.flatnonzero(height >= 0.85 * height.max())[0]])
    return max(flank, animal.diastolic + 0.05 * animal.pulse_pressure)


def drift_of(rng: np.random.Generator, scenario: str, course: CuffCourse, duration_s: float) -> float | None:
    """Change of the arterial level over the recording [mmHg] that the scenario chooses; None leaves it to the beats."""
    if scenario != "pressure-drift":
        return None
    during_deflation = float(rng.choice((-1.0, 1.0)) * rng.uniform(4.0, 10.0))
    top, dump = course.deflation_s
    return during_deflation * duration_s / (dump - top)


def disturbance(
    rng: np.random.Generator, scenario: str, animal: Animal, time_s: Samples, course: CuffCourse, peak: float
) -> tuple[Samples | None, Spans]:
    """Pressure that the scenario adds to the cuff at times `time_s` [mmHg], and when something moved [s]."""
    within = course.deflation_s
    match scenario:
        case "mild-motion":
            return motion_bursts(rng, time_s, TRACE_HZ, within, peak)
        case "repeated-motion":
            return repeated_motion(rng, time_s, TRACE_HZ, within, peak)
        case "sustained-motion":
            return sustained_motion(rng, time_s, TRACE_HZ, within, peak)
        case "tail-wagging":
            return tail_wagging(rng, time_s, TRACE_HZ, within, peak)
        case "limb-loaded":
            return loaded_limb(rng, time_s, TRACE_HZ, within)
        case "empty-cuff":
            return tube_knocks(rng, time_s, TRACE_HZ, within)
        case "purring" | "purring-alias":
            return purring(rng, time_s, animal.breaths), ()
        case "shivering":
            return shivering(rng, time_s, TRACE_HZ, peak), ()
    return None, ()
