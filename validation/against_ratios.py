"""The artery fit against ratios and against a plain fit of the heights, at each noise, on the same recordings.

    python validation/against_ratios.py --count 300 --seed 21920101 --workers 1 > validation/against_ratios.txt

A fit that wins where pulses are clear can lose to a stiff rule where they are weak. So the artery fit stands beside

  heights  the engine's fit of the heights without that of whole pulses, and with weak priors: on both widths (ln SD
           0.35 about 11 and 15 mmHg), none on the pressures
  ratios   an asymmetric bell with the ratios 0.55 and 0.82, `fixed ratios` of the engine

and at each noise its root-mean-square error (RMSE) is to be at most 1.1 times the better of the two. `ratio` is that
quotient. All three have the engine's own pulses, and what they find counts whatever the verdict would be; recordings in
which the engine sees no oscillogram are left out for all. Two kinds of animal: one cat (130 / 85 mmHg, 190 pulses a
minute, 4 mmHg/s, peak height 1 mmHg) of which the artery alone is drawn, and animals drawn whole. A seed is the same
recording at each noise, and is used in one block only, so that runs of different families can be pooled: under the
blocks of each kind of animal, and under both, stands one in which every run of the families counts once. Pooled and
judged are errors, not ratios. Oracle: by construction. Errors after +- are Monte Carlo.
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from unittest.mock import patch

import numpy as np
from numpy.typing import NDArray

from quietlimb.engine.arteries.exponential_linear import HALF_WIDTH
from quietlimb.engine.circumstances import Species
from quietlimb.engine.methods import artery_fit
from quietlimb.engine.methods.fixed_ratios import fit_ratios
from quietlimb.engine.oscillogram import Oscillogram
from quietlimb.engine.pulses import PulseTrain
from quietlimb.engine.reading import _look
from quietlimb.engine.version import ENGINE_VERSION
from quietlimb.simulator import simulate_recording
from quietlimb.simulator.arteries import FOREIGN_FAMILIES
from quietlimb.simulator.subjects import Settings

Samples = NDArray[np.float64]
GENERATORS = ("exponential-linear", *FOREIGN_FAMILIES)
NOISES = (50.0, 20.0, 10.0, 5.0, 3.0)
QUANTITIES = ("systolic", "mean", "diastolic")
METHODS = ("artery fit", "heights", "ratios")
ANIMALS = {
    "one animal": Settings(
        systolic=130.0,
        diastolic=85.0,
        pulse_rate=190.0,
        deflation="linear",
        deflation_mmhg_per_s=4.0,
        peak_height_mmhg=1.0,
    ),
    "drawn animals": Settings(),
}
MOST = 1.1
WIDTHS, WIDTH_LN_SD = (11.0, 15.0), 0.35
TOGETHER = 25


def weak_prior(theta: Samples) -> tuple[Samples, Samples]:
    """Standardised distances (b, 2) from both widths and their Jacobian (b, 2, 5); pressures are free."""
    collapsed, distended = np.log(HALF_WIDTH * np.array(WIDTHS))
    pull = np.stack((theta[:, 2] - collapsed, theta[:, 2] + theta[:, 3] - distended), axis=1) / WIDTH_LN_SD
    slope = np.zeros((len(theta), 2, 5))
    slope[:, 0, 2] = slope[:, 1, 2] = slope[:, 1, 3] = 1.0 / WIDTH_LN_SD
    return pull, slope


def by_heights(oscillograms: Sequence[Oscillogram], trains: Sequence[PulseTrain]) -> list[Samples]:
    """Systolic, mean and diastolic of the plain fits of the heights [mmHg]."""
    alone = patch.object(artery_fit, "_by_waveforms", lambda by_heights, *_: by_heights)
    with alone, patch.object(artery_fit, "_prior", weak_prior):
        return [fit.values for fit in artery_fit.fit_artery(oscillograms, trains)]


def errors(animal: str, family: str, seeds: Sequence[int]) -> Samples:
    """(seed, noise, method, 3) errors [mmHg]; nan where the engine sees no oscillogram."""
    found = np.full((len(seeds), len(NOISES), len(METHODS), 3), np.nan)
    for k, noise in enumerate(NOISES):
        settings = Settings(**{**ANIMALS[animal], "peak_to_noise": noise})
        species: Species | None = "cat" if animal == "one animal" else None
        made = [simulate_recording(seed, species=species, family=family, **settings) for seed in seeds]
        looks = [_look(one.recording) for one in made]
        rows = [k for k, look in enumerate(looks) if look.oscillogram is not None and look.train is not None]
        oscillograms = [o for look in looks if (o := look.oscillogram) is not None and look.train is not None]
        trains = [t for look in looks if (t := look.train) is not None and look.oscillogram is not None]
        fitted = [fit.values for fit in artery_fit.fit_artery(oscillograms, trains)]
        ratios = [fit.values for fit in fit_ratios(oscillograms)]
        heights = by_heights(oscillograms, trains) if oscillograms else []
        for row, *values in zip(rows, fitted, heights, ratios, strict=True):
            truth = [getattr(made[row].truth, name) for name in QUANTITIES]
            found[row, k] = np.array(values) - np.array(truth)
    return found


def cell(error: Samples) -> tuple[str, float]:
    """One quantity at one noise, (n, method): RMSE of each method, ratio to the better, and whether that will do."""
    squares = error**2
    mean = squares.mean(axis=0)
    better = 1 + int(np.argmin(mean[1:]))
    ratio = float(np.sqrt(mean[0] / mean[better]))
    spread = squares[:, 0] / mean[0] - squares[:, better] / mean[better]
    ratio_error = 0.5 * ratio * float(spread.std(ddof=1)) / np.sqrt(len(squares))
    rmse = "".join(f"{value:>12.2f}" for value in np.sqrt(mean))
    return f"{rmse}{ratio:>8.2f} +-{ratio_error:>5.2f}{'  met' if ratio <= MOST else '  NOT MET':<9}", ratio


def block(label: str, found: Samples) -> list[float]:
    """Print one block, (run, noise, method, 3) errors [mmHg], and return the ratio of each cell."""
    names = "".join(f"{name:>12}" for name in METHODS)
    print(f"\n{label}\n{'noise':>6}{'n':>6}  {'':<10}{names}{'ratio':>8}")
    ratios = []
    for k, noise in enumerate(NOISES):
        seen = found[np.isfinite(found[:, k, 0, 0]), k]
        for j, name in enumerate(QUANTITIES):
            if len(seen) < 5:
                continue
            told, ratio = cell(seen[:, :, j])
            ratios.append(ratio)
            print(f"{noise:>6g}{len(seen):>6}  {name:<10}{told}".rstrip(), flush=True)
    return ratios


def met(ratios: Sequence[float]) -> str:
    """How many of these ratios will do, in words."""
    return f"met in {sum(ratio <= MOST for ratio in ratios)} of {len(ratios)} cells"


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, default=300, help="recordings a noise, family and animal (default 300)")
    parser.add_argument("--seed", type=int, default=21920101, help="first seed (default 21920101)")
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument("--families", nargs="*", choices=GENERATORS, default=GENERATORS)
    parser.add_argument("--animals", nargs="*", choices=list(ANIMALS), default=list(ANIMALS))
    wish = parser.parse_args()
    runs = f"{wish.count} a noise, family and animal, seeds from {wish.seed}"
    print(f"Artery fit (engine {ENGINE_VERSION}) against heights and ratios; {runs}")
    print(f"Root-mean-square errors [mmHg]. Target: the artery fit's at most {MOST} times the better of the others.")
    apart: list[float] = []
    pooled: list[float] = []
    everything = []
    seed = wish.seed
    with ProcessPoolExecutor(wish.workers) as pool:
        for animal in wish.animals:
            of_animal = []
            for family in wish.families:
                seeds = list(range(seed, seed + wish.count))
                seed += wish.count
                parts = [seeds[k : k + TOGETHER] for k in range(0, len(seeds), TOGETHER)]
                jobs = [pool.submit(errors, animal, family, part) for part in parts]
                of_animal.append(np.concatenate([job.result() for job in jobs]))
                apart += block(f"{animal}, {family}", of_animal[-1])
            everything.append(np.concatenate(of_animal))
            pooled += block(f"{animal}, {len(wish.families)} families pooled", everything[-1])
    pooled += block("all animals and families pooled", np.concatenate(everything))
    print(f"\nfamily by family: {met(apart)}; pooled: {met(pooled)}")


if __name__ == "__main__":
    main()
