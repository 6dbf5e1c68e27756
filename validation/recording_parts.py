"""A simulated recording taken apart, so that it can be made again with one part changed and all draws the same."""

from __future__ import annotations

import copy
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from quietlimb.engine.circumstances import Species
from quietlimb.simulator.beats import Beats, Rhythm, beat_pressures, draw_beats
from quietlimb.simulator.cuff_course import CuffCourse
from quietlimb.simulator.disturbances import breathing_and_tone
from quietlimb.simulator.draws import streams
from quietlimb.simulator.movement import Spans
from quietlimb.simulator.recordings import _course
from quietlimb.simulator.scenarios import course_settings, disturbance, drift_of, rhythm_of, subject_settings
from quietlimb.simulator.sensor import TRACE_HZ
from quietlimb.simulator.subjects import Settings, Subject, draw_subject

Samples = NDArray[np.float64]
Made = tuple[Samples, Samples]  # (n,) trace; (3, m) systolic, mean and diastolic of each beat
FINEST_HZ = 125.0  # a pulse holds nothing faster; denser samples are thinned, their noise averaged


@dataclass(frozen=True, kw_only=True, eq=False)
class Parts:
    """A recording taken apart. `made` puts it together again, exactly, but without noise and rounding."""

    subject: Subject
    shape: tuple[float, ...]
    course: CuffCourse
    time_s: Samples
    added: Samples
    moved_s: Spans
    scenario: str
    rhythm: Rhythm
    drift: float | None
    for_beats: np.random.Generator

    def beats(self, subject: Subject | None = None) -> Beats:
        """The beats of this subject, with the same draws for any."""
        animal = (subject or self.subject).animal
        rng = copy.deepcopy(self.for_beats)
        return draw_beats(rng, animal, float(self.time_s[-1]), rhythm=self.rhythm, drift_mmhg=self.drift)

    def made(
        self,
        *,
        subject: Subject | None = None,
        beats: Beats | None = None,
        course: CuffCourse | None = None,
        base: Samples | float = 0.0,
    ) -> Made:
        """Trace [mmHg] at `seen_s` and pressures of each beat, with something else in place of what was."""
        subject = subject or self.subject
        beats = beats or self.beats(subject)
        arterial = beats.pressure(self.time_s)
        under = (course or self.course).base(self.time_s, TRACE_HZ) + self.added + base
        cuff = subject.limb.cuff_pressure(arterial, under, TRACE_HZ)
        clean = replace(subject.sensor, noise_mmhg=0.0, quantum_mmhg=0.0)
        _, trace = clean.record(np.random.default_rng(0), cuff)
        return trace[self.seen], self.pressures(beats)

    def pressures(self, beats: Beats) -> Samples:
        """(3, m) systolic, mean and diastolic pressure of each beat of the reading [mmHg]."""
        real = beat_pressures(beats, beats.pressure(self.time_s), TRACE_HZ, *self.course.deflation_s)
        return np.stack((real.systolic, real.mean, real.diastolic))

    @property
    def feet_s(self) -> Samples:
        """(m,) when each of these beats begins [s]."""
        beats = self.beats()
        return beat_pressures(beats, beats.pressure(self.time_s), TRACE_HZ, *self.course.deflation_s).foot_s

    @property
    def thinned(self) -> int:
        return max(1, int(self.subject.sensor.sampling_hz / FINEST_HZ))

    @cached_property
    def seen(self) -> NDArray[np.intp]:
        """Samples of the deflation outside movements."""
        rate = self.subject.sensor.sampling_hz
        time = np.arange(int(float(self.time_s[-1]) * rate) + 1) / rate
        kept = (time > self.course.deflation_s[0]) & (time < self.course.deflation_s[1])
        for begin, end in self.moved_s:
            kept &= (time < begin) | (time > end)
        return np.flatnonzero(kept & (np.arange(time.size) % self.thinned == 0))

    @property
    def seen_s(self) -> Samples:
        return np.asarray(self.seen / self.subject.sensor.sampling_hz)

    @property
    def variance(self) -> float:
        """Of the noise in one of these samples [mmHg^2]."""
        return self.subject.sensor.sample_sd_mmhg**2 / self.thinned


def taken_apart(
    seed: int, *, species: Species, family: str, scenario: str, shape: tuple[float, ...], settings: Settings
) -> Parts:
    """The parts of `simulate_recording(seed, ..., **settings)`; settings hold the pulse of this shape."""
    for_subject, for_recording, chooses = streams(seed, 3)
    chosen = subject_settings(chooses, scenario, settings)
    subject = draw_subject(for_subject, species=species, family=family, settings=chosen)
    return taken(for_recording, subject, scenario=scenario, shape=shape, settings=settings)


def taken(
    rng: np.random.Generator, subject: Subject, *, scenario: str, shape: tuple[float, ...], settings: Settings
) -> Parts:
    """The parts of `take_recording` with this generator, which is advanced in the same way."""
    for_course, for_beats, for_unrest, chooses, _ = streams(rng, 5)
    animal, peak = subject.animal, subject.peak_height_mmhg
    chosen = course_settings(chooses, scenario, subject, settings)
    course = _course(for_course, animal, chosen)
    time_s = np.arange(int(course.end_s * TRACE_HZ) + 1) / TRACE_HZ
    added, moved_s = disturbance(chooses, scenario, animal, time_s, course, peak)
    unrest = breathing_and_tone(for_unrest, time_s, animal.breaths, peak)
    drift = chosen.get("drift_mmhg", drift_of(chooses, scenario, course, float(time_s[-1])))
    return Parts(
        subject=subject,
        shape=shape,
        course=course,
        time_s=time_s,
        added=unrest if added is None else unrest + added,
        moved_s=moved_s,
        scenario=scenario,
        rhythm=rhythm_of(scenario),
        drift=drift,
        for_beats=for_beats,
    )
