"""A simulated trace differentiated by the quantities that the simulator draws, and the precision of these draws.

The second moments are those of the generator's draws, uniform ones included; they repeat what stands in `simulator/`.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields, replace
from functools import lru_cache
from typing import ClassVar, Self

import numpy as np
from local_information import Columns, local, whole
from numpy.typing import NDArray
from recording_parts import Made, Parts
from scipy.linalg import block_diag
from scipy.sparse import csr_array

from quietlimb.simulator.arteries import FAMILIES
from quietlimb.simulator.arteries.artery import Artery
from quietlimb.simulator.beats import Beats
from quietlimb.simulator.cuff import limb_with_peak_height
from quietlimb.simulator.cuff_course import CuffCourse
from quietlimb.simulator.pulse_shape import PulseShape, pulse_shape
from quietlimb.simulator.subjects import PEAK_OFFSET_SD_MMHG, Subject

Samples = NDArray[np.float64]
SHAPE_RANGES = ((0.28, 0.45), (0.15, 0.30), (0.0, 0.25))  # form factor, upstroke, dicrotic wave, as drawn
FREE = 1e-10  # precision of what is all but free
# Root mean squares of what is drawn; of a uniform number on a..b, sqrt((a^2 + ab + b^2) / 3).
WANDER_MMHG, WANDER_KEPT, SCATTER_SHARE, JITTER_SHARE, TONE = 1.32, 0.7, 0.0284, 0.0132, 0.0577
ARRHYTHMIA = {"cat": 0.0134, "dog": 0.0535}  # of the interval, breathing
BREATH_MMHG, DRIFT_MMHG, BREATH_OF_PEAK = 1.105, 1.95, 0.0408
EARLY_SHARE, AFTER_EARLY_SHARE = 0.144, 0.058  # of the pulse, premature beats and those after them
INTERVALS = {"ectopic": 0.15, "atrial fibrillation": 0.25}
TRANSMISSION_SD = 0.02 / math.sqrt(12.0)
STEP_SHARE, SHIFT_MMHG, LEAK = 0.046, 3.5, 0.72
TONE_S = 0.25


def draw_shape(seed: int) -> tuple[float, ...]:
    """Form factor, upstroke and dicrotic wave as the simulator draws them, and known here."""
    rng = np.random.default_rng([seed, 1])
    return tuple(float(rng.uniform(*ends)) for ends in SHAPE_RANGES)


def of_subject(parts: Parts) -> Columns:
    """By the quantities drawn for the subject, but peak offset and transmission: see `unseen`."""
    subject, artery = parts.subject, parts.subject.limb.artery
    names = [field.name for field in fields(artery) if field.init]  # type: ignore[arg-type]
    share, peak = subject.animal.pulse_pressure / subject.animal.systolic, subject.peak_height_mmhg

    def with_animal(*, systolic: float = 0.0, pulse_share: float = 0.0, shape: Sequence[float] = (0.0,) * 3) -> Made:
        high = subject.animal.systolic + systolic
        form, rise, wave = (a + b for a, b in zip(parts.shape, shape, strict=True))
        pulse = pulse_shape(form_factor=form, upstroke=rise, dicrotic=wave) if any(shape) else subject.animal.shape
        animal = replace(subject.animal, systolic=high, diastolic=high * (1.0 - share - pulse_share), shape=pulse)
        return made(replace(subject, animal=animal), artery, peak)

    def made(changed: Subject, of_artery: Artery, height: float) -> Made:
        old = changed.limb
        limb = limb_with_peak_height(
            changed.animal,
            of_artery,
            peak_height_mmhg=height,
            transmission=old.transmission,
            peak_offset=old.peak_offset,
            lag_s=old.lag_s,
            contact_mmhg=old.contact_mmhg,
        )
        return parts.made(subject=replace(changed, limb=limb))

    def with_artery(name: str) -> Callable[[float], Made]:
        def changed(d: float) -> Made:
            return made(subject, replace(artery, **{name: getattr(artery, name) * math.exp(d)}), peak)  # type: ignore[type-var]

        return changed

    def with_lag(d: float) -> Made:
        return made(replace(subject, limb=replace(subject.limb, lag_s=subject.limb.lag_s + d)), artery, peak)

    moved: list[tuple[Callable[[float], Made], float]] = [
        (lambda d: with_animal(systolic=d), 1.0),
        (lambda d: with_animal(pulse_share=d), 0.01),
        (lambda d: with_animal(shape=(d, 0.0, 0.0)), 0.03),
        (lambda d: with_animal(shape=(0.0, d, 0.0)), 0.03),
        (lambda d: with_animal(shape=(0.0, 0.0, d)), 0.05),
        *((with_artery(name), 0.05) for name in names),
        (with_lag, 0.002),
        (lambda d: made(subject, artery, peak * math.exp(d)), 0.05),
    ]
    return whole(moved, subject_precision(subject))


def subject_precision(subject: Subject) -> Samples:
    """(q, q) of the draws of a subject, in the order of `of_subject`."""
    low, high = (0.3, 1.5) if subject.animal.species == "cat" else (0.5, 3.0)
    sd = [29.0, 0.28 / math.sqrt(12.0), *((b - a) / math.sqrt(12.0) for a, b in SHAPE_RANGES)]
    rest = [0.035 / math.sqrt(12.0), 1.3 * math.log(high / low) / math.sqrt(12.0)]
    artery = np.linalg.inv(artery_covariance(subject.limb.artery.family))
    return np.asarray(block_diag(np.diag(np.array(sd) ** -2.0), artery, np.diag(np.array(rest) ** -2.0)))


def unseen(truth: Samples) -> Samples:
    """(3, 3) covariance that no trace takes away, of true pressures (3,) [mmHg^2].

    V(Pa - eta Pc - p0) stays the same when Pa and p0 move together, and when Pa, p0, eta and the artery's widths are
    all multiplied alike. The other priors are so wide that they hold neither move back: of the variance, 1 % at most.
    """
    return np.asarray(PEAK_OFFSET_SD_MMHG**2 + TRANSMISSION_SD**2 * np.outer(truth, truth))


@lru_cache(maxsize=16)
def artery_covariance(family: str) -> Samples:
    """Covariance of the logarithms of a family's parameters, from 1000 draws."""
    rng = np.random.default_rng(0)
    drawn = [FAMILIES[family].draw(rng) for _ in range(1000)]
    names = [field.name for field in fields(drawn[0]) if field.init]  # type: ignore[arg-type]
    return np.atleast_2d(np.cov(np.log([[getattr(artery, name) for name in names] for artery in drawn]).T))


def of_pulse(parts: Parts) -> Columns:
    """By ten harmonics of the arterial pulse, free but for an SD of n^-1.2 pulse pressures of the n-th."""
    animal, beats, order = parts.subject.animal, parts.beats(), np.arange(1, 11)
    old = animal.shape
    turn = 2.0 * np.pi * order[:, None] * np.arange(old.height.size) / old.height.size

    def with_wave(wave: Samples) -> Callable[[float], Made]:
        def made(d: float) -> Made:
            height = old.height + d * wave / animal.pulse_pressure
            shape = PulseShape(height=height, form_factor=float(height.mean()), upstroke=old.upstroke)
            return parts.made(beats=replace(beats, shape=shape))

        return made

    sd = np.tile(animal.pulse_pressure / order**1.2, 2)
    return whole([(with_wave(wave), 0.5) for wave in (*np.cos(turn), *np.sin(turn))], np.diag(sd**-2.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class Between(Artery):
    """An artery on the straight line from one family to another: share 0 is the first, 1 the second."""

    family: ClassVar[str] = "between"
    first: Artery
    second: Artery
    share: float

    @classmethod
    def draw(cls, rng: np.random.Generator) -> Self:
        """Never drawn."""
        raise NotImplementedError

    def volume(self, transmural_mmhg: Samples) -> Samples:
        """(1 - share) of the first and share of the second, which are alike at pressure 0."""
        zero = np.zeros(1)
        first = self.first.volume(transmural_mmhg) - self.first.volume(zero)
        second = self.second.volume(transmural_mmhg) - self.second.volume(zero)
        return first + self.share * (second - first)


def of_families(parts: Parts, families: Sequence[str]) -> Columns:
    """By the family, any of these as likely: shares of the nearest artery of each of the others."""
    subject, own = parts.subject, parts.subject.limb.artery
    others = [family for family in families if family != own.family]

    def toward(second: Artery) -> Callable[[float], Made]:
        def made(d: float) -> Made:
            artery = Between(first=own, second=second, share=d)
            return parts.made(subject=replace(subject, limb=replace(subject.limb, artery=artery)))

        return made

    # one of n is 1 and the others 0: each share has the variance (n - 1) / n^2, two of them the covariance -1 / n^2
    n = len(families)
    covariance = (n * np.eye(len(others)) - 1.0) / n**2
    return whole([(toward(nearest(own, family)), 0.2) for family in others], np.asarray(np.linalg.inv(covariance)))


def nearest(artery: Artery, family: str) -> Artery:
    """Of some arteries of this family, the one whose volume differs least from this one's, up to its level and size."""
    pressures = np.linspace(-60.0, 60.0, 121)
    wanted = artery.volume(pressures)
    wanted = wanted - wanted.mean()
    drawn, volumes = some_arteries(family)
    alike = (volumes @ wanted) ** 2 / (volumes**2).sum(axis=1)
    return drawn[int(np.argmax(alike))]


@lru_cache(maxsize=16)
def some_arteries(family: str) -> tuple[list[Artery], Samples]:
    """Arteries of this family, and their volumes about their mean at -60 to 60 mmHg."""
    rng = np.random.default_rng(1)
    drawn: list[Artery] = [FAMILIES[family].draw(rng) for _ in range(400)]
    volumes = np.stack([artery.volume(np.linspace(-60.0, 60.0, 121)) for artery in drawn])
    return drawn, volumes - volumes.mean(axis=1, keepdims=True)


def of_beats(parts: Parts) -> list[Columns]:
    """By time, foot and size of every beat, and by what all beats share: breathing and drift."""
    beats, animal = parts.beats(), parts.subject.animal
    count, pulse = beats.pulse_pressure.size, animal.pulse_pressure
    turn = 2.0 * np.pi * animal.breaths / 60.0 * beats.foot_s
    arrhythmia = ARRHYTHMIA[animal.species] / math.sqrt(2.0)
    interval = animal.period_s * INTERVALS.get(parts.rhythm, math.hypot(JITTER_SHARE, arrhythmia))
    scatter = np.full(count, SCATTER_SHARE)
    if parts.rhythm == "ectopic":
        early = np.flatnonzero(np.diff(beats.foot_s) < 0.85 * animal.period_s) + 1
        scatter[np.minimum(early + 1, count - 1)] = AFTER_EARLY_SHARE
        scatter[early[early < count]] = EARLY_SHARE

    def other(*, time: Samples | float = 0.0, foot: Samples | float = 0.0, size: Samples | float = 0.0) -> Beats:
        return Beats(
            foot_s=beats.foot_s + time,
            foot_mmhg=beats.foot_mmhg + foot,
            pulse_pressure=beats.pulse_pressure + size,
            shape=beats.shape,
        )

    # the first beat sets the level that the cuff starts from, and is over long before the deflation
    later = np.where(beats.foot_s > animal.period_s, 1.0, 0.0)

    def breathing(wave: Samples) -> Callable[[float], Made]:
        return lambda d: parts.made(beats=other(foot=0.6 * d * wave, size=0.4 * d * wave[:-1]))

    late = beats.foot_s / float(parts.time_s[-1]) - 0.5
    shared = [
        (breathing(np.sin(turn)), 1.0),
        (breathing(np.cos(turn)), 1.0),
        (lambda d: parts.made(beats=other(foot=d * late)), 1.0),
    ]
    steps = np.diff(np.eye(count + 1), axis=0) / interval
    foot = _autoregressive(count + 1, WANDER_MMHG, WANDER_KEPT)
    at, timed = beats.foot_s, steps.T @ steps + np.eye(count + 1) / animal.period_s**2
    sized = np.diag((scatter * pulse) ** -2.0)

    def with_feet(d: Samples) -> Beats:
        return other(foot=d * later)

    def with_sizes(d: Samples) -> Beats:
        return other(size=d * later[:-1])

    return [
        whole(shared, np.diag(np.array([BREATH_MMHG, BREATH_MMHG, DRIFT_MMHG]) ** -2.0)),
        local(parts, at, lambda d: parts.made(beats=other(time=d * later)), 0.01 * animal.period_s, timed),
        local(parts, at, lambda d: parts.made(beats=with_feet(d)), 1.0, foot, lambda d: parts.pressures(with_feet(d))),
        local(
            parts, at, lambda d: parts.made(beats=with_sizes(d)), 1.0, sized, lambda d: parts.pressures(with_sizes(d))
        ),
    ]


def of_cuff(parts: Parts) -> list[Columns]:
    """By what the cuff does of its own: the valve's course, muscle tone, breathing."""
    course, time_s = parts.course, parts.time_s
    top, dump = course.deflation_s
    share = np.clip((time_s - top) / (dump - top), 0.0, 1.0)
    turn = 2.0 * np.pi * parts.subject.animal.breaths / 60.0 * time_s
    breath = BREATH_OF_PEAK * parts.subject.peak_height_mmhg
    steps = course.deflation == "steps"

    def based(wave: Samples) -> Callable[[float], Made]:
        return lambda d: parts.made(base=d * wave)

    def valve(name: str) -> Callable[[float], Made]:
        return lambda d: parts.made(course=replace(course, **{name: getattr(course, name) * math.exp(d)}))

    moved = [(based(np.sin(turn)), 0.5, breath), (based(np.cos(turn)), 0.5, breath)]
    moved += [(valve("recovery_share"), 0.1, 0.37), (valve("recovery_s"), 0.1, 0.37)]
    edges = [end for _, end in parts.moved_s] if parts.scenario == "repeated-motion" else []
    if steps:
        moved += [(valve("valve_s"), 0.05, 0.32), (valve("ring_mmhg"), 0.1, 0.46)]
        moved += [(valve("ring_hz"), 0.02, 0.30), (valve("ring_s"), 0.05, 0.27)]
        edges += course.step_s.tolist()
    else:
        moved += [
            (based(wave), 0.5, sd) for wave, sd in ((1.0 - share, 9.0), (share, 9.0), (share * (1.0 - share), 9.0))
        ]
    if parts.scenario == "leak" and steps:
        since = time_s - course.step_s[np.maximum(np.searchsorted(course.step_s, time_s) - 1, 0)]
        moved.append((based(np.where((time_s > top) & (time_s < dump), -since, 0.0)), 0.5, LEAK))
    groups = [whole([(make, step) for make, step, _ in moved], np.diag([sd**-2.0 for *_, sd in moved]))]

    knot_s = np.arange(0.0, time_s[-1] + 0.5, TONE_S)
    walk = np.diff(np.eye(knot_s.size), axis=0) / (TONE * math.sqrt(TONE_S))
    tone = walk.T @ walk + FREE * np.eye(knot_s.size)
    groups.append(local(parts, knot_s, lambda d: parts.made(base=np.interp(time_s, knot_s, d)), 0.5, tone))
    if edges:
        edge_s = np.array([top, *sorted(edges)])
        size = STEP_SHARE * _step(course) if steps else 0.0
        shift = SHIFT_MMHG if parts.scenario == "repeated-motion" else 0.0
        place = np.searchsorted(edge_s, time_s, side="right") - 1
        here = (place >= 0) & (time_s < dump)
        level = np.eye(edge_s.size) / (size**2 + shift**2)
        groups.append(local(parts, edge_s, lambda d: parts.made(base=np.where(here, d[place], 0.0)), 0.5, level))
    return groups


def of_shivering(parts: Parts) -> Columns:
    """By the strength of every line of a trembling limb's spectrum, whose size is known and whose phase is not."""
    time_s, trembling = parts.time_s, parts.added - np.interp(parts.time_s, parts.time_s[::250], parts.added[::250])
    height = 2.0 * np.abs(np.fft.rfft(trembling)) / time_s.size
    hz = np.fft.rfftfreq(time_s.size, float(time_s[1]))
    line = np.flatnonzero((hz > 7.0) & (hz < 16.0) & (height > 0.02 * height[hz > 7.0].max()))
    turn = 2.0 * np.pi * parts.seen_s[:, None] * hz[line]
    by = np.concatenate((np.sin(turn), np.cos(turn)), axis=1) * np.tile(height[line], 2) / math.sqrt(2.0)
    return Columns(by=csr_array(by), truth=np.zeros((3, by.shape[1])), precision=np.eye(by.shape[1]))


def _step(course: CuffCourse) -> float:
    return float(course.knot_mmhg.max() - course.knot_mmhg[-1]) / max(course.step_s.size, 1)


def _autoregressive(count: int, sd: float, kept: float) -> Samples:
    """Precision of `count` numbers of this SD, each correlated by `kept` with the one before."""
    steps = np.eye(count) - kept * np.eye(count, k=-1)
    own = np.full(count, sd**2 * (1.0 - kept**2))
    own[0] = sd**2
    return np.asarray(steps.T @ (steps / own[:, None]))
