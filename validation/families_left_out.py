"""Each artery family that the engine averages over, read with that family left out of the average.

    python validation/families_left_out.py --count 700 --seed 22010101 > validation/families_left_out.txt

The artery fit averages families in its first step only, that of the pulses' heights. The second, that of whole pulses,
has one artery of its own (exponential-linear, with a residue that stays); it begins where the first ends, and where it
finds nothing the heights stand. So two readings of each recording are shown:

  heights       the first step alone: here a family left out is missed
  whole pulses  what is given as the reading: here it is missed only as a start

each as shipped and with the recording's own family left out. Of the four families the artery of whole pulses contains
the first, as that without a residue, and none of the others; from the first it cannot be parted.

Undisturbed recordings by the simulator, cats and dogs in turn, in which the artery alone is of one of the engine's
families, its half widths drawn by the engine's priors (the simulator draws no such arteries). Shown are the recordings
that the shipped engine keeps with all three pressures. `likeliest`: in how many of these the shipped average gives the
recording's own family the greatest weight. `in 95 %`: per cent of truths inside the 95 % interval. `dearer`: by how
much the root mean square error grows when the family is left out, on the same recordings. Errors after +- are Monte
Carlo. No target. Oracle: by construction.
"""

from __future__ import annotations

import argparse
from collections.abc import Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from typing import ClassVar, Self
from unittest.mock import patch

import numpy as np
from numpy.typing import NDArray

from quietlimb.engine import reading
from quietlimb.engine.arteries.artery import FAMILIES, Family
from quietlimb.engine.circumstances import Species
from quietlimb.engine.methods import artery_fit
from quietlimb.engine.methods.artery_fit import POPULATION, ArteryFit, fit_artery
from quietlimb.engine.oscillogram import Oscillogram
from quietlimb.engine.pulses import PulseTrain
from quietlimb.engine.values import TWO_SIDED_95
from quietlimb.engine.version import ENGINE_VERSION
from quietlimb.simulator.arteries.artery import Artery
from quietlimb.simulator.cuff import limb_with_peak_height
from quietlimb.simulator.recordings import SimulatedRecording, take_recording
from quietlimb.simulator.subjects import draw_subject

Samples = NDArray[np.float64]
QUANTITIES = ("systolic", "mean", "diastolic")
STEPS = ("heights", "whole pulses")
TOGETHER = 50


@dataclass(frozen=True, slots=True, kw_only=True)
class OfEngine(Artery):
    """An artery of one of the engine's families.

    name                 : of the family
    collapsed, distended : half widths [mmHg]
    """

    family: ClassVar[str] = "of the engine"
    name: str
    collapsed: float
    distended: float

    @classmethod
    def draw(cls, rng: np.random.Generator) -> Self:
        """Of the first family, by the fit's priors."""
        collapsed = float(np.exp(rng.normal(*POPULATION.collapsed_ln)))
        ratio = float(np.exp(rng.normal(*POPULATION.ratio_ln)))
        return cls(name=next(iter(FAMILIES)), collapsed=collapsed, distended=collapsed * ratio)

    def volume(self, transmural_mmhg: Samples) -> Samples:
        """As the engine has it."""
        return FAMILIES[self.name].volume(transmural_mmhg, np.array(self.collapsed), np.array(self.distended))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Outcome:
    """One recording that the shipped engine keeps; arrays (step, shipped and left out, quantity).

    error     : [mmHg]
    held      : whether the 95 % interval holds the truth
    likeliest : whether the shipped average found the right family
    still     : whether it is kept with the family left out too
    """

    error: Samples
    held: NDArray[np.bool_]
    likeliest: bool
    still: bool


def simulated(name: str, seed: int) -> SimulatedRecording:
    """An undisturbed recording whose artery is of this family of the engine."""
    species: Species = "cat" if seed % 2 else "dog"
    subject = draw_subject(seed, species=species, family="exponential-linear")
    limb = limb_with_peak_height(
        subject.animal,
        replace(OfEngine.draw(np.random.default_rng([seed, 2])), name=name),
        peak_height_mmhg=subject.peak_height_mmhg,
        transmission=subject.limb.transmission,
        peak_offset=subject.limb.peak_offset,
        lag_s=subject.limb.lag_s,
    )
    return take_recording(np.random.default_rng(seed), replace(subject, limb=limb))


def both_steps(
    oscillograms: Sequence[Oscillogram], trains: Sequence[PulseTrain], families: Mapping[str, Family]
) -> list[tuple[ArteryFit, ArteryFit]]:
    """Of each recording the fit of its heights, and that of its whole pulses."""
    with patch.object(artery_fit, "_by_waveforms", lambda by_heights, _: by_heights):
        heights = fit_artery(oscillograms, trains, families=families)
    return [(fit, artery_fit._by_waveforms(fit, train)) for fit, train in zip(heights, trains, strict=True)]


def outcomes(name: str, seeds: Sequence[int]) -> list[Outcome]:
    """Simulated and read with and without this family, in the order of the seeds."""
    seen = [(one, look) for one in (simulated(name, seed) for seed in seeds) for look in [reading._look(one.recording)]]
    rows = [(one, look, look.oscillogram, look.train) for one, look in seen if look.oscillogram and look.train]
    oscillograms, trains = [oscillogram for _, _, oscillogram, _ in rows], [train for *_, train in rows]
    fewer = {other: family for other, family in FAMILIES.items() if other != name}
    shipped, without = (both_steps(oscillograms, trains, families) for families in (FAMILIES, fewer))
    found = []
    for (one, look, _, _), with_it, left_out in zip(rows, shipped, without, strict=True):
        read, read_without = (reading._conclude(look, fits[-1], "artery fit") for fits in (with_it, left_out))
        if read.verdict != "keep" or read.systolic is None or read.diastolic is None:
            continue
        truth = np.array([getattr(one.truth, quantity) for quantity in QUANTITIES])
        fits = [with_it, left_out]
        error = np.array([[fits[k][step].values - truth for k in range(2)] for step in range(len(STEPS))])
        half = np.array([[half_width(fits[k][step]) for k in range(2)] for step in range(len(STEPS))])
        found.append(
            Outcome(
                error=error,
                held=np.abs(error) <= half,
                likeliest=with_it[0].family == name,
                still=read_without.verdict == "keep",
            )
        )
    return found


def half_width(fit: ArteryFit) -> Samples:
    """(3,) half of the 95 % intervals [mmHg], as a reading has them."""
    return np.asarray(TWO_SIDED_95 * np.sqrt(np.diag(fit.own_cov) + np.diag(fit.shared_cov)))


def dearer(shipped: Samples, left_out: Samples) -> tuple[float, float]:
    """By how much the root mean square error grows, errors (n,) of the same recordings, and its Monte Carlo error."""
    before, after = (float(np.sqrt(np.mean(error**2))) for error in (shipped, left_out))
    spread = left_out**2 / (2.0 * after) - shipped**2 / (2.0 * before)
    return after - before, float(spread.std(ddof=1)) / np.sqrt(shipped.size)


def block(name: str, found: Sequence[Outcome], count: int) -> list[str]:
    """The lines of one family."""
    likeliest, still = (sum(flags) for flags in zip(*((o.likeliest, o.still) for o in found), strict=True))
    lines = [f"{name}: {len(found)} of {count} kept, {still} of them without it; likeliest in {likeliest}"]
    for step, of_step in enumerate(STEPS):
        for k, quantity in enumerate(QUANTITIES):
            error = np.array([o.error[step, :, k] for o in found])
            held = 100.0 * np.mean([o.held[step, :, k] for o in found], axis=0)
            told = f"  {of_step:<14}{quantity:<10}"
            for way in range(2):
                bias, sd = error[:, way].mean(), error[:, way].std(ddof=1)
                told += f"{bias:>8.2f} +-{sd / np.sqrt(len(found)):>5.2f}{sd:>7.2f}{held[way]:>9.1f}"
            grows, spread = dearer(error[:, 0], error[:, 1])
            lines.append(f"{told}{grows:>+9.2f} +-{spread:>5.2f}")
    return lines


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, default=700, help="recordings a family (default 700)")
    parser.add_argument("--seed", type=int, default=22010101, help="first seed (default 22010101)")
    parser.add_argument("--workers", type=int, default=1)
    wish = parser.parse_args()
    print(
        f"Artery families left out: engine {ENGINE_VERSION}, {wish.count} recordings each, seeds from {wish.seed}; mmHg"
    )
    one_way = f"{'bias':>8}{'':>8}{'SD':>7}{'in 95 %':>9}"
    print(f"{'':<26}{'as shipped':>32}{'left out':>32}\n{'':<26}{one_way}{one_way}{'dearer':>9}")
    with ProcessPoolExecutor(wish.workers) as pool:
        for place, name in enumerate(FAMILIES):
            first = wish.seed + place * wish.count
            seeds = list(range(first, first + wish.count))
            parts = [seeds[k : k + TOGETHER] for k in range(0, len(seeds), TOGETHER)]
            found = [outcome for part in pool.map(outcomes, [name] * len(parts), parts) for outcome in part]
            print()
            print("\n".join(block(name, found, wish.count)), flush=True)


if __name__ == "__main__":
    main()
