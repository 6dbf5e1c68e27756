"""What the allowance for foreign arteries costs the artery fit on its own artery, and what it gains on foreign ones.

    python validation/allowance.py --count 60 --seed 20950101 --workers 2 > validation/allowance.txt

The fit allows for what no artery of its kind explains: a share of the largest pulse, `MODEL_ERROR_SHARE`. Here the same
recordings are read again with other shares, all else as shipped. Left, the fit's own artery as in `efficiency.py`:
efficiency against the van Trees bound. Right, undisturbed recordings of six families by the simulator, peak to beat
noise 20 and up: the largest bias of any family and the root-mean-square error over all, of readings kept with all three
pressures. So the table shows whether an efficiency on the own artery and a small bias on foreign ones can be had at
once by this choice. Oracle: by construction.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from dataclasses import replace

import numpy as np
from drawn_quantities import of_beats, of_cuff
from efficiency import (
    QUANTITIES,
    TOGETHER,
    Samples,
    draw_own,
    errors_if_kept,
    of_fit,
    share_used,
    with_noise,
)
from local_information import left_unknown
from reading import CLEAR_FROM
from recording_parts import taken

from quietlimb.engine.methods import waveform_fit
from quietlimb.engine.recording import Recording
from quietlimb.engine.version import ENGINE_VERSION
from quietlimb.simulator import simulate_recording
from quietlimb.simulator.arteries import FOREIGN_FAMILIES
from quietlimb.simulator.recordings import Truth, take_recording

SHARES = (0.005, 0.01, 0.02, 0.04, 0.06, 0.08)
NOISES = (50.0, 20.0)


@contextmanager
def allowing(share: float) -> Iterator[None]:
    """The fit with another allowance."""
    shipped = waveform_fit.MODEL_ERROR_SHARE
    waveform_fit.MODEL_ERROR_SHARE = share
    try:
        yield
    finally:
        waveform_fit.MODEL_ERROR_SHARE = shipped


def errors_by_share(recording: Recording, truth: Truth) -> Samples:
    """Errors [mmHg] with each allowance, nan where the reading is not kept or lacks a pressure. -> (shares, 3)"""
    found = np.full((len(SHARES), 3), np.nan)
    for k, share in enumerate(SHARES):
        with allowing(share):
            errors = errors_if_kept(recording, truth)
        if errors is not None:
            found[k] = errors
    return found


def on_own(seeds: Sequence[int]) -> list[tuple[Samples, Samples]]:
    """For each seed errors (noises, shares, 3) on the own artery, and bounds of their squares (noises, 3)."""
    found = []
    for seed in seeds:
        settings, subject, shape = draw_own(seed)
        parts = taken(np.random.default_rng(seed), subject, scenario="undisturbed", shape=shape, settings=settings)
        groups = [of_fit(parts), *of_beats(parts), *of_cuff(parts)]
        errors, bounds = [], []
        for noise in NOISES:
            noisy = with_noise(subject, noise)
            one = take_recording(np.random.default_rng(seed), noisy, settings=settings)
            errors.append(errors_by_share(one.recording, one.truth))
            bounds.append(np.diag(left_unknown(groups, replace(parts, subject=noisy).variance)))
        found.append((np.array(errors), np.array(bounds)))
    return found


def on_foreign(seeds: Sequence[int]) -> list[tuple[int, Samples]]:
    """For each seed the place of its family and errors (shares, 3); too noisy recordings are left out."""
    found = []
    for seed in seeds:
        k = seed % len(FOREIGN_FAMILIES)
        one = simulate_recording(seed, family=FOREIGN_FAMILIES[k])
        if one.truth.peak_to_noise >= CLEAR_FROM:
            found.append((k, errors_by_share(one.recording, one.truth)))
    return found


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, default=60, help="animals of each kind of artery (default 60)")
    parser.add_argument("--seed", type=int, default=20950101, help="first seed (default 20950101)")
    parser.add_argument("--workers", type=int, default=2)
    wish = parser.parse_args()
    own_seeds = [wish.seed + k for k in range(wish.count)]
    foreign_seeds = [wish.seed + 100_000 + k for k in range(wish.count * len(FOREIGN_FAMILIES))]
    with ProcessPoolExecutor(wish.workers) as pool:
        own = [row for block in pool.map(on_own, _blocks(own_seeds)) for row in block]
        foreign = [row for block in pool.map(on_foreign, _blocks(foreign_seeds)) for row in block]
    shipped = waveform_fit.MODEL_ERROR_SHARE
    print(f"Allowance for foreign arteries; engine {ENGINE_VERSION} ships {shipped:g}; seed {wish.seed}; mmHg")
    print(f"{wish.count} animals with the own artery, {len(foreign)} of {len(FOREIGN_FAMILIES)} other families\n")
    print(f"{'':>9}{'own artery: efficiency at':>27}   {'other families: largest bias, and RMSE':<40}")
    print(f"{'allowance':>9}{'noise 50':>13}{'noise 20':>14}   " + "".join(f"{q:>11}{'':<9}" for q in QUANTITIES))
    for k, share in enumerate(SHARES):
        print(f"{share:>9g}{_efficiencies(own, k)}   {_biases(foreign, k)}")


def _blocks(seeds: Sequence[int]) -> list[Sequence[int]]:
    return [seeds[k : k + TOGETHER] for k in range(0, len(seeds), TOGETHER)]


def _efficiencies(own: Sequence[tuple[Samples, Samples]], k: int) -> str:
    told = ""
    for n in range(len(NOISES)):
        square = np.array([(error[n, k] ** 2).sum() for error, _ in own])
        least = np.array([bound[n].sum() for _, bound in own])
        kept = np.isfinite(square)
        square, least = square[kept], least[kept]
        efficiency, spread = share_used(least, square)
        told += f"{efficiency:>7.2f} +-{spread:>4.2f}"
    return told


def _biases(foreign: Sequence[tuple[int, Samples]], k: int) -> str:
    family = np.array([each for each, _ in foreign])
    error = np.array([errors[k] for _, errors in foreign])
    bias = np.array([np.nanmean(error[family == f], axis=0) for f in range(len(FOREIGN_FAMILIES))])
    largest = bias[np.abs(bias).argmax(axis=0), range(3)]
    rmse = np.sqrt(np.nanmean(error**2, axis=0))
    return "".join(f"{b:>+11.2f}{r:>7.2f}  " for b, r in zip(largest, rmse, strict=True))


if __name__ == "__main__":
    main()
