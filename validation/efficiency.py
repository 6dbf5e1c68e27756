"""How much of what a recording tells the artery fit uses: its errors on its own artery, beside the van Trees bound.

    python validation/efficiency.py --count 120 --seed 20940101 --workers 2 > validation/efficiency.txt

The artery is the one that the waveform fit assumes, the animals are drawn from the fit's own priors, and the recordings
are clean. The bound is (J + L)^-1: J from the recording made again with one quantity moved (`local_information`), L
from the fit's own priors on pressures, pulse, artery and lag, and for beats and cuff from how the simulator draws them.
The bound knows the sensor's noise, and it takes pulse and artery together: a mean and ten harmonics of the pulse, two
half widths, residue, lag and gain. Peak offset 0 and transmission 0.99 are what the fit takes for granted, so that what
no cuff can tell adds nothing to either side; the last column says what the efficiency is when an offset of its prior's
standard deviation is added to both.

A second bound stands for a reader that sees of each pulse its height only, as the published bounds of oscillometry do.
Efficiency is tr(bound) / tr(mean square error) over systolic, mean and diastolic; the same recordings at each noise.
Readings that are kept with all three pressures count. The pulse's shape is the simulator's, smoother
than the prior on its harmonics expects. Oracle: by construction; the derivatives are tested against closed forms in
tests/validation/test_local_information.py. Errors after +- are Monte Carlo.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import ClassVar, Self

import numpy as np
from drawn_quantities import of_beats, of_cuff, of_pulse
from local_information import Columns, left_unknown, whole
from numpy.typing import NDArray
from recording_parts import Made, Parts, taken
from scipy.sparse import csr_array, hstack, lil_array

from quietlimb.engine.arteries.free_residue import volumes
from quietlimb.engine.methods import waveform_fit as fit
from quietlimb.engine.methods.artery_fit import LEVEL_SHARE, PEAK_OFFSET_SD, POPULATION
from quietlimb.engine.methods.pulse_form import WALL_LAG_S
from quietlimb.engine.reading import read
from quietlimb.engine.recording import Recording
from quietlimb.engine.version import ENGINE_VERSION
from quietlimb.simulator.arteries.artery import Artery
from quietlimb.simulator.cuff import limb_with_peak_height
from quietlimb.simulator.draws import truncated_normal
from quietlimb.simulator.pulse_shape import pulse_shape
from quietlimb.simulator.recordings import Truth, take_recording
from quietlimb.simulator.sensor import TRACE_HZ
from quietlimb.simulator.subjects import Settings, Subject, draw_subject

Samples = NDArray[np.float64]
NOISES = (50.0, 20.0, 10.0, 5.0)
TARGET, DOWN_TO = 0.7, 20.0
QUANTITIES = ("systolic", "mean", "diastolic")
TOGETHER = 10


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnArtery(Artery):
    """The artery of the waveform fit; half widths [mmHg] and residue as there."""

    family: ClassVar[str] = "of the waveform fit"
    collapsed: float
    distended: float
    residue: float

    @classmethod
    def draw(cls, rng: np.random.Generator) -> Self:
        """By the fit's priors."""
        collapsed = float(np.exp(rng.normal(*POPULATION.collapsed_ln)))
        residue = truncated_normal(rng, fit.RESIDUE_SHARE.value, fit.RESIDUE_SHARE_SD.value, 0.0, 0.6)
        ratio = float(np.exp(rng.normal(*POPULATION.ratio_ln)))
        return cls(collapsed=collapsed, distended=collapsed * ratio, residue=residue)

    def volume(self, transmural_mmhg: Samples) -> Samples:
        """As the fit has it."""
        own = {"collapsed": self.collapsed, "distended": self.distended, "residue": self.residue}
        return volumes(transmural_mmhg, **own).volume


def draw_own(seed: int) -> tuple[Settings, Subject, tuple[float, ...]]:
    """A subject by the fit's priors, within what the simulator takes for an animal."""
    rng = np.random.default_rng([seed, 2])
    while True:
        level = rng.normal(*POPULATION.level)
        pulse_pressure = level * float(np.exp(rng.normal(*POPULATION.pulse_share_ln)))
        diastolic = level - LEVEL_SHARE * pulse_pressure
        if diastolic > 25.0 and 80.0 < diastolic + pulse_pressure < 240.0 and 15.0 < pulse_pressure < 110.0:
            break
    form = truncated_normal(rng, *POPULATION.form_factor, 0.25, 0.5)
    shape = (form, float(rng.uniform(0.15, 0.30)), float(rng.uniform(0.0, 0.25)))
    settings = Settings(
        systolic=diastolic + pulse_pressure,
        diastolic=diastolic,
        shape=pulse_shape(form_factor=shape[0], upstroke=shape[1], dicrotic=shape[2]),
        transmission=fit.TRANSMISSION.value,
        peak_offset=0.0,
        lag_s=truncated_normal(rng, WALL_LAG_S.value, fit.WALL_LAG_SD_S.value, 0.002, 0.06),
    )
    subject = draw_subject(seed, family="exponential-linear", settings=settings)
    limb = limb_with_peak_height(
        subject.animal,
        OwnArtery.draw(rng),
        peak_height_mmhg=subject.peak_height_mmhg,
        transmission=subject.limb.transmission,
        peak_offset=0.0,
        lag_s=subject.limb.lag_s,
    )
    return settings, replace(subject, limb=limb), shape


def with_noise(subject: Subject, peak_to_noise: float) -> Subject:
    """The same subject seen by a sensor that makes a pulse height that uncertain, without rounding."""
    unrounded = replace(subject, sensor=replace(subject.sensor, quantum_mmhg=0.0))
    share = subject.peak_height_mmhg / peak_to_noise / unrounded.height_sd_mmhg
    return replace(subject, sensor=replace(unrounded.sensor, noise_mmhg=share * subject.sensor.noise_mmhg))


def of_fit(parts: Parts) -> Columns:
    """By the parameters of the waveform fit, in its order, with its priors."""
    subject, animal = parts.subject, parts.subject.animal
    beats, artery, limb = parts.beats(), parts.subject.limb.artery, parts.subject.limb
    assert isinstance(artery, OwnArtery)

    def with_artery(**scaled: float) -> Callable[[float], Made]:
        def made(d: float) -> Made:
            other = replace(artery, **{name: getattr(artery, name) * np.exp(k * d) for name, k in scaled.items()})
            return parts.made(subject=replace(subject, limb=replace(limb, artery=other)), beats=beats)

        return made

    def with_residue(d: float) -> Made:
        other = replace(artery, residue=artery.residue + d)
        return parts.made(subject=replace(subject, limb=replace(limb, artery=other)), beats=beats)

    def with_limb(d: float, *, lag: float = 0.0, gain: float = 0.0) -> Made:
        other = replace(limb, lag_s=limb.lag_s + lag * d, gain=limb.gain * float(np.exp(gain * d)))
        return parts.made(subject=replace(subject, limb=other), beats=beats)

    moved: list[tuple[Callable[[float], Made], float]] = [
        (with_artery(collapsed=1.0, distended=1.0), 0.05),
        (with_artery(distended=1.0), 0.05),
        (with_residue, 0.02),
        (lambda d: with_limb(d, lag=1.0), 0.001),
        (lambda d: with_limb(d, gain=1.0), 0.05),
    ]
    level = [(lambda d: parts.made(beats=replace(beats, foot_mmhg=beats.foot_mmhg + d)), 1.0)]
    groups = [whole(level, np.eye(1)), of_pulse(parts), whole(moved, np.eye(len(moved)))]

    waves = np.fft.rfft(animal.diastolic + animal.pulse_pressure * animal.shape.height) * 2.0 / animal.shape.height.size
    theta = np.zeros(fit.PARAMETERS)
    theta[0] = animal.mean
    theta[fit.PULSE] = np.concatenate((waves[fit.ORDER].real, -waves[fit.ORDER].imag))
    theta[fit.COLLAPSED_LN], theta[fit.RATIO_LN] = np.log((artery.collapsed, artery.distended / artery.collapsed))
    theta[fit.RESIDUE], theta[fit.LAG] = artery.residue, limb.lag_s
    _, slope = fit._prior(theta, theta[0] + theta[fit.PULSE] @ fit.BASIS, POPULATION)
    by = hstack([group.by for group in groups], format="csr")
    truth = np.concatenate([group.truth for group in groups], axis=1)
    return Columns(by=by, truth=truth, precision=slope.T @ slope + 1e-9 * np.eye(fit.PARAMETERS))


def by_heights(parts: Parts, groups: Sequence[Columns]) -> list[Columns]:
    """The same for the heights alone, top minus foot of each pulse without a step: (m, q) in place of (n, q)."""
    base = parts.course.base(parts.time_s, TRACE_HZ) + parts.added
    wave = parts.made()[0] - np.interp(parts.seen_s, parts.time_s, base)
    edge = np.searchsorted(parts.seen_s, parts.feet_s)
    opened = np.searchsorted(parts.seen_s, parts.course.step_s)
    spans = [(a, b) for a, b in pairwise(edge) if b - a > 5 and not ((opened > a - 2) & (opened < b + 2)).any()]
    heights = lil_array((len(spans), wave.size))
    for k, (a, b) in enumerate(spans):
        top = a + 1 + int(np.argmax(wave[a + 1 : b]))
        heights[k, max(a - 3, 0) + int(np.argmin(wave[max(a - 3, 0) : top]))], heights[k, top] = -1.0, 1.0
    picked = heights.tocsr()
    return [replace(group, by=csr_array(picked @ group.by)) for group in groups]


def errors_if_kept(recording: Recording, truth: Truth) -> Samples | None:
    """Errors (3,) of the reading [mmHg]; None where it is not kept or lacks a pressure."""
    reading = read(recording)
    estimates = [getattr(reading, name) for name in QUANTITIES]
    if reading.verdict != "keep" or None in estimates:
        return None
    return np.array([e.value - getattr(truth, q) for e, q in zip(estimates, QUANTITIES, strict=True)])


def share_used(least: Samples, own: Samples) -> tuple[float, float]:
    """Efficiency and its Monte Carlo error, of bounds and square errors of the same readings. (n,), (n,)"""
    efficiency = float(least.mean() / own.mean())
    return efficiency, efficiency * float((own / own.mean() - least / least.mean()).std(ddof=1) / np.sqrt(own.size))


def outcomes(seeds: Sequence[int]) -> list[list[tuple[Samples, Samples, Samples] | None]]:
    """For each seed and noise: errors, and bounds of their squares by whole pulses and by heights, each (3,).

    None where the reading is not kept.
    """
    found = []
    for seed in seeds:
        settings, subject, shape = draw_own(seed)
        parts = taken(np.random.default_rng(seed), subject, scenario="undisturbed", shape=shape, settings=settings)
        own, (shared, times, feet, sizes) = of_fit(parts), of_beats(parts)
        groups = [own, shared, times, feet, sizes, *of_cuff(parts)]
        heights = by_heights(parts, [own, shared, feet, sizes])  # when a pulse comes leaves its height alone
        row: list[tuple[Samples, Samples, Samples] | None] = []
        for noise in NOISES:
            noisy = with_noise(subject, noise)
            one = take_recording(np.random.default_rng(seed), noisy, settings=settings)
            error = errors_if_kept(one.recording, one.truth)
            if error is None:
                row.append(None)
                continue
            whole_pulses = left_unknown(groups, replace(parts, subject=noisy).variance)
            row.append((error, np.diag(whole_pulses), np.diag(left_unknown(heights, noisy.height_sd_mmhg**2))))
        found.append(row)
    return found


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, default=120, help="animals (default 120)")
    parser.add_argument("--seed", type=int, default=20940101, help="first seed (default 20940101)")
    parser.add_argument("--workers", type=int, default=2)
    wish = parser.parse_args()
    seeds = [wish.seed + k for k in range(wish.count)]
    blocks = [seeds[k : k + TOGETHER] for k in range(0, len(seeds), TOGETHER)]
    with ProcessPoolExecutor(wish.workers) as pool:
        found = [row for block in pool.map(outcomes, blocks) for row in block]
    print(f"The artery fit on its own artery; engine {ENGINE_VERSION}, {wish.count} animals, seed {wish.seed}")
    print(
        f"Bound and root-mean-square error (RMSE) in mmHg. Target: {TARGET} down to a peak to noise of {DOWN_TO:g}.\n"
    )
    names = "".join(f"{q:>11}{'':<12}" for q in QUANTITIES)
    print(f"{'':>12}{names}  efficiency")
    print(
        f"{'noise':>6}{'n':>6}"
        + f"{'whole':>8}{'heights':>8}{'RMSE':>7}" * 3
        + f"{'whole':>9}{'heights':>17}{'offset':>15}"
    )
    for k, noise in enumerate(NOISES):
        table_row(noise, [row[k] for row in found])


def table_row(noise: float, found: Sequence[tuple[Samples, Samples, Samples] | None]) -> None:
    """Print bounds, error and efficiencies at one noise."""
    given = [one for one in found if one is not None]
    if len(given) < 5:
        print(f"{noise:>6g}{len(given):>6}")
        return
    error, *bounds = (np.array(column) for column in zip(*given, strict=True))
    root = np.sqrt([bound.mean(axis=0) for bound in (*bounds, error**2)]).T
    columns = "".join(f"{whole_pulses:>8.2f}{heights:>8.2f}{rmse:>7.2f}" for whole_pulses, heights, rmse in root)
    own, unseen = (error**2).sum(axis=1), 3.0 * PEAK_OFFSET_SD.value**2
    efficiency, told = [], ""
    for least in (bound.sum(axis=1) for bound in bounds):
        share, spread = share_used(least, own)
        efficiency.append(share)
        told += f"{share:>9.2f} +-{spread:>5.2f}"
    offset = (bounds[0].sum(axis=1).mean() + unseen) / (own.mean() + unseen)
    verdict = "" if noise < DOWN_TO else "  met" if efficiency[0] >= TARGET else "  NOT MET"
    print(f"{noise:>6g}{len(given):>6}{columns}{told}{offset:>10.2f}{verdict}")


if __name__ == "__main__":
    main()
