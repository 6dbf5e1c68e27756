"""The training animal: choices in, a recording out, and every choice has its consequence.

The same number of inflation draws the same beats, movements and noise whatever was chosen, so that two ways of doing it
can be laid side by side: beats are drawn of the animal at rest and carried over to the pressure and rate that the
choices lead to, and whether a limb moves is one draw held against a probability.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from quietlimb.engine.circumstances import Circumstances
from quietlimb.engine.errors import ParameterError
from quietlimb.simulator.animals import Animal, draw_animal
from quietlimb.simulator.arteries import DRAWN_FAMILIES, FAMILIES
from quietlimb.simulator.beats import Beats, draw_beats
from quietlimb.simulator.cuff import CuffedLimb, limb_with_peak_height
from quietlimb.simulator.cuff_course import CuffCourse, draw_course
from quietlimb.simulator.draws import Samples, log_uniform, streams
from quietlimb.simulator.leak import leaking
from quietlimb.simulator.level_course import DIASTOLIC_SHARE, RATE_PER_MMHG
from quietlimb.simulator.movement import (
    Spans,
    loaded_limb,
    motion_bursts,
    repeated_motion,
    sustained_motion,
    tail_wagging,
)
from quietlimb.simulator.pulse_shape import pulse_shape
from quietlimb.simulator.recordings import SimulatedRecording, record
from quietlimb.simulator.sensor import TRACE_HZ, draw_sensor
from quietlimb.simulator.subjects import Subject
from quietlimb.simulator.training import effects
from quietlimb.simulator.training.case import Case, Fault, Pressures
from quietlimb.simulator.training.choices import Choices

SAMPLING_HZ = 200.0
STEP_MMHG = 5.0  # of a deflation by steps; how long each lasts follows from the fall that is chosen [invented]
# All beats of an inflation are drawn at once, for the longest that can be chosen.
_BEATS_FOR_S = 400.0
_HIGHEST_START_MMHG, _LOWEST_STOP_MMHG, _LEAST_FALL_MMHG = 320.0, 12.0, 80.0
_LOWEST_MMHG, _HIGHEST_MMHG = 45.0, 278.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Inflation(SimulatedRecording):
    """The recording of one inflation. Its truth is that of the artery under the cuff.

    shown  : what an instrument without any error of reading would show of it, the setup's errors included [mmHg]
    number : of the inflation, from 1
    minute : of the session, from its first inflation
    """

    choices: Choices
    shown: Pressures
    number: int
    minute: float
    seed: int


class TrainingAnimal:
    """An animal of a case. Pure: the same case, choices, minute and number give the same recording."""

    def __init__(self, case: Case) -> None:
        self.case = case
        for_animal, for_limb, for_sensor = streams(case.seed, 3)
        upstroke, dicrotic = float(for_animal.uniform(0.15, 0.25)), float(for_animal.uniform(0.0, 0.1))
        self._rest = draw_animal(
            for_animal,
            case.species,
            systolic=case.resting.systolic,
            diastolic=case.resting.diastolic,
            pulse_rate=case.pulse_rate,
            shape=pulse_shape(form_factor=case.form_factor, upstroke=upstroke, dicrotic=dicrotic),
        )
        self._limb = _clear_limb(for_limb, self._rest)
        self._sensor = draw_sensor(for_sensor, sampling_hz=SAMPLING_HZ)

    @property
    def resting(self) -> Pressures:
        """The clinical truth: at rest, calm, at the level of the heart [mmHg]."""
        return self.case.resting

    def truth(self, minute: float, choices: Choices | None = None) -> Pressures:
        """Its pressure at the level of the heart, free of what varies from reading to reading [mmHg].

        minute : from its coming in where no choices are given: it then lies calm in a quiet place; with choices, from
                 the first inflation of the session
        """
        if choices is None:
            temper = self.case.temper
            return self._raised(effects.settling_mmhg(temper.raised_mmhg, temper.settles_min, minute, "carrier"), 0.0)
        return self._raised(self.raised_mmhg(choices, minute), self._drug_share(choices))

    def raised_mmhg(self, choices: Choices, minute: float) -> float:
        """By how much the systolic pressure stands above rest, so many minutes after the first inflation [mmHg]."""
        case, temper = self.case, self.case.temper
        came_in = choices.acclimatisation_min + minute
        raised = effects.settling_mmhg(temper.raised_mmhg, temper.settles_min, came_in, choices.place)
        raised += effects.PLACES[choices.place].value
        raised += effects.ON_TABLE[case.species].value if choices.on_table else 0.0
        raised += 0.0 if choices.before_examination else effects.examination_mmhg(minute)
        raised += effects.OWNER_AWAY.value if temper.owner_calms and not choices.owner_present else 0.0
        raised += effects.position_mmhg(case.species, choices.position)
        return raised + effects.site_mmhg(case.species, choices.site)

    def shown(self, choices: Choices, *, minute: float, number: int) -> Pressures:
        """What an instrument that reads without error would show on average, this setup given [mmHg].

        Cuff, height of the cuff and fault of the instrument included; what varies from reading to reading is not.
        """
        return self._shown(self.truth(minute, choices), choices, number)

    def fault(self, choices: Choices, number: int) -> Fault | None:
        """What is wrong with the instrument at this inflation, if anything."""
        fault = self.case.fault
        return None if fault is None or choices.setup_checked or number < fault.from_number else fault

    def ratio(self, choices: Choices) -> float:
        """Width of the cuff over the circumference of the limb."""
        return choices.cuff_width_cm / self.circumference_cm(choices)

    def circumference_cm(self, choices: Choices) -> float:
        """Of the limb that is chosen [cm]. Raises ParameterError for a site that can take no cuff."""
        around = self.case.circumference_cm.get(choices.site)
        if around is None:
            raise ParameterError(
                "site-not-there",
                f"no cuff goes on the {choices.site} of {self.case.story.animal}",
                f"use one of: {', '.join(self.case.circumference_cm)}",
            )
        return around

    def inflate(self, choices: Choices, *, minute: float, number: int) -> Inflation:
        """The recording of one inflation.

        minute : from the first inflation of the session [min]
        number : of the inflation in the session, from 1

        Raises
        ------
        ParameterError : a site or place that the case does not have, a minute below 0, a number below 1.
        """
        self._possible(choices, minute, number)
        fault = self.fault(choices, number)
        for_level, for_beats, for_course, for_unrest, for_noise, for_moving, for_wagging, for_load = streams(
            np.random.default_rng((self.case.seed, number)), 8
        )
        varied = effects.BETWEEN_SD.value * float(np.clip(for_level.normal(), -2.5, 2.5))
        now = self._raised(self.raised_mmhg(choices, minute) + varied, self._drug_share(choices))
        under_cuff = self._under_cuff(now, choices, minute)
        subject = Subject(animal=under_cuff, limb=self._cuffed(choices, fault), sensor=self._sensor)

        zero = fault.size if fault is not None and fault.kind == "offset" else 0.0
        leak = fault.size if fault is not None and fault.kind == "leak" else 0.0
        course = leaking(_course(for_course, under_cuff, choices, zero), leak)
        time_s = np.arange(int(course.end_s * TRACE_HZ) + 1) / TRACE_HZ
        cuff = course.base(time_s, TRACE_HZ)
        added, moved_s, scenario = self._unrest(
            choices, course, time_s, subject.peak_height_mmhg, for_moving, for_wagging, for_load
        )
        made = record(
            subject,
            course,
            time_s,
            cuff + added,
            beats=_carried(
                draw_beats(for_beats, self._rest, _BEATS_FOR_S, rhythm=self.case.rhythm, drift_mmhg=0.0),
                self._rest,
                under_cuff,
            ),
            for_unrest=for_unrest,
            for_noise=for_noise,
            moved_s=moved_s,
            scenario=scenario,
            zero_mmhg=zero,
            circumstances=self.circumstances(choices),
        )
        return Inflation(
            recording=made.recording,
            truth=made.truth,
            scenario=made.scenario,
            choices=choices,
            shown=self._shown(now, choices, number),
            number=number,
            minute=minute,
            seed=self.case.seed,
        )

    def circumstances(self, choices: Choices) -> Circumstances:
        """As they would be told, and that nothing here is a patient's."""
        return replace(
            self._rest.circumstances,
            breed=self.case.story.breed,
            site=choices.site,
            side=choices.side,
            position=choices.position,
            place=choices.place,
            cuff=f"simulated cuff {choices.cuff_width_cm:g} cm",
            cuff_width_cm=choices.cuff_width_cm,
            limb_circumference_cm=self.circumference_cm(choices),
            cuff_below_heart_cm=choices.cuff_below_heart_cm,
            acclimatisation_min=choices.acclimatisation_min,
            sedation="awake" if choices.drug_free else "sedated",
        )

    def _possible(self, choices: Choices, minute: float, number: int) -> None:
        self.ratio(choices)
        if choices.place not in self.case.places:
            raise ParameterError(
                "place-not-there",
                f"{self.case.story.animal} cannot be measured at: {choices.place}",
                f"use one of: {', '.join(self.case.places)}",
            )
        if not minute >= 0.0 or number < 1:
            raise ParameterError(
                "impossible-inflation",
                f"inflation {number} at minute {minute:g}",
                "count minutes from 0 and inflations from 1",
            )

    def _drug_share(self, choices: Choices) -> float:
        return 0.0 if choices.drug_free else effects.CALMING_DRUG.value

    def _raised(self, systolic_mmhg: float, share: float) -> Pressures:
        """The pressures at rest with the systolic raised by so much, and all of it changed by a share."""
        rest = self.case.resting
        systolic = float(np.clip((rest.systolic + systolic_mmhg) * (1.0 + share), _LOWEST_MMHG, _HIGHEST_MMHG))
        diastolic = (rest.diastolic + DIASTOLIC_SHARE * systolic_mmhg) * (1.0 + share)
        diastolic = float(np.clip(diastolic, 15.0, systolic - 10.0))
        return Pressures(
            systolic=systolic, mean=diastolic + self.case.form_factor * (systolic - diastolic), diastolic=diastolic
        )

    def _shown(self, heart_level: Pressures, choices: Choices, number: int) -> Pressures:
        fault = self.fault(choices, number)
        factor = effects.cuff_factor(self.ratio(choices)) * _slipped_factor(fault)
        zero = fault.size if fault is not None and fault.kind == "offset" else 0.0
        column = effects.BLOOD.value * choices.cuff_below_heart_cm
        systolic, mean, diastolic = (
            factor * (value + column) + zero
            for value in (heart_level.systolic, heart_level.mean, heart_level.diastolic)
        )
        return Pressures(systolic=systolic, mean=mean, diastolic=diastolic)

    def _under_cuff(self, heart_level: Pressures, choices: Choices, minute: float) -> Animal:
        column = effects.BLOOD.value * choices.cuff_below_heart_cm
        systolic = float(np.clip(heart_level.systolic + column, 31.0, 280.0))
        return replace(
            self._rest,
            systolic=systolic,
            diastolic=float(np.clip(heart_level.diastolic + column, 10.0, systolic - 5.0)),
            pulse_rate=float(
                np.clip(self.case.pulse_rate + RATE_PER_MMHG * self.raised_mmhg(choices, minute), 45.0, 300.0)
            ),
            site=choices.site,
            position=choices.position,
            limb_circumference_cm=self.circumference_cm(choices),
            cuff_width_cm=choices.cuff_width_cm,
        )

    def _cuffed(self, choices: Choices, fault: Fault | None) -> CuffedLimb:
        """The limb under this cuff: a narrow cuff passes less of its pressure on to the artery, a wide one more."""
        factor = effects.cuff_factor(self.ratio(choices)) * _slipped_factor(fault)
        limb = replace(self._limb, transmission=1.0 / factor)
        if fault is not None and fault.kind == "slipped":
            return replace(limb, gain=0.5 * limb.gain, contact_mmhg=20.0)
        return limb

    def _unrest(
        self,
        choices: Choices,
        course: CuffCourse,
        time_s: Samples,
        peak_mmhg: float,
        for_moving: np.random.Generator,
        for_wagging: np.random.Generator,
        for_load: np.random.Generator,
    ) -> tuple[Samples, Spans, str]:
        """What moves or loads the limb: pressure added to the cuff [mmHg], when [s], and as which scenario."""
        temper, within_s = self.case.temper, course.deflation_s
        added, scenario = np.zeros(time_s.size), "undisturbed"
        moved_s: Spans = ()
        share = effects.moves_share(temper.moves, choices.position, within_s[1] - course.inflation_start_s)
        happens, kind = for_moving.uniform(size=2)
        if happens < share:
            if kind < effects.MILD.value:
                pressure, spans = motion_bursts(for_moving, time_s, TRACE_HZ, within_s, peak_mmhg)
                scenario = "mild-motion"
            elif kind < effects.MILD.value + effects.REPEATED.value:
                pressure, spans = repeated_motion(for_moving, time_s, TRACE_HZ, within_s, peak_mmhg)
                scenario = "repeated-motion"
            else:
                pressure, spans = sustained_motion(for_moving, time_s, TRACE_HZ, within_s, peak_mmhg)
                scenario = "sustained-motion"
            added, moved_s = added + pressure, (*moved_s, *spans)
        if choices.limb_loaded and choices.site != "tail":
            pressure, spans = loaded_limb(for_load, time_s, TRACE_HZ, within_s)
            added, moved_s, scenario = added + pressure, (*moved_s, *spans), "limb-loaded"
        if choices.site == "tail" and not choices.tail_held and for_wagging.uniform() < temper.wags:
            pressure, spans = tail_wagging(for_wagging, time_s, TRACE_HZ, within_s, peak_mmhg)
            added, moved_s, scenario = added + pressure, (*moved_s, *spans), "tail-wagging"
        return added, tuple(sorted(moved_s)), scenario


def _clear_limb(rng: np.random.Generator, animal: Animal) -> CuffedLimb:
    """A limb with pulses that are easy to see, whose artery is most compliant at 0 mmHg.

    An offset of that peak is an error that no cuff can see and nobody can learn to avoid: a training animal has none.
    """
    family = DRAWN_FAMILIES[int(rng.integers(len(DRAWN_FAMILIES)))]
    return limb_with_peak_height(
        animal,
        FAMILIES[family].draw(rng),
        peak_height_mmhg=log_uniform(rng, 0.7, 1.5) if animal.species == "cat" else log_uniform(rng, 1.0, 3.0),
        transmission=1.0,
        peak_offset=0.0,
        lag_s=float(rng.uniform(0.005, 0.02)),
    )


def _slipped_factor(fault: Fault | None) -> float:
    """What is shown over what is so, under a cuff that has slipped."""
    return 1.0 / (1.0 - fault.size) if fault is not None and fault.kind == "slipped" else 1.0


def _course(rng: np.random.Generator, animal: Animal, choices: Choices, zero_mmhg: float) -> CuffCourse:
    """The course that the hand or the machine gives the cuff, by what its display shows."""
    start = min(choices.inflate_to_mmhg - zero_mmhg, _HIGHEST_START_MMHG)
    stop = max(_LOWEST_STOP_MMHG, min(animal.diastolic - 30.0, start - _LEAST_FALL_MMHG))
    return draw_course(
        rng,
        animal,
        start_mmhg=start,
        stop_mmhg=stop,
        inflation="bulb" if choices.deflation == "linear" else "pump",
        deflation=choices.deflation,
        deflation_mmhg_per_s=choices.fall_mmhg_per_s,
        step_mmhg=STEP_MMHG,
        step_s=STEP_MMHG / choices.fall_mmhg_per_s,
    )


def _carried(beats: Beats, rest: Animal, now: Animal) -> Beats:
    """The beats of the animal at rest, at the pressure and rate that it has now."""
    size = now.pulse_pressure / rest.pulse_pressure
    return replace(
        beats,
        foot_s=beats.foot_s * (now.period_s / rest.period_s),
        foot_mmhg=now.diastolic + (beats.foot_mmhg - rest.diastolic) * size,
        pulse_pressure=beats.pulse_pressure * size,
    )
