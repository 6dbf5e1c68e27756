"""The floor: how right the best reader of simulated recordings could be, beside how right the shipped one is.

    python validation/floor.py --count 300 --seed 20910101 --workers 2 > validation/floor.txt

The best reader is the generator's own Bayes estimator: it knows the artery's family, every law by which the simulator
draws and makes a recording, and the sensor's noise, but none of the draws. Its root-mean-square error is found to first
order: at the truth of each recording, the whole deflation is differentiated by every quantity drawn (pressures, shape
of the pulse, artery, lag, size; every beat; the cuff's own pressure), and what is left unknown follows from noise and
draws (`local_information`). Peak offset and transmission, which no cuff can tell, are added in closed form: 2 mmHg and
0.58 % of the pressure. So it is a floor of the van Trees kind, not a bound with a proof, and no reader of unknown
arteries can be expected to reach it. Oracle: by construction, tested in tests/validation/test_local_information.py.

It is too low, so the ratio too high, where: the family is unknown to any real reader; sensor noise below 0.5 Hz, which
rises as 1/f, is taken as white, and rounding as noise; taken as known are purring, the spectrum of shivering, which
beats are premature, when the limb moved, how much beats scatter and the pace of breathing; and where the recording
curves so much that the straight line at the truth misleads (noise below 10). It is too high where draws are uniform and
little is seen of them, as their spread is taken as normal, and it leaves the inflation and what the hand on the cuff
knew unused. Samples during movements count for nothing.

How much knowing the family matters is told by `stranger`: the same floor where any of the four families is as likely
(moved towards the nearest artery of each of the others) and ten harmonics of the pulse are free besides.

The recordings are drawn as in reading.py, with pulse shapes from a stream of their own so that they are known here.
Both figures are of the readings that the shipped engine keeps. Errors after +- are Monte Carlo.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass

import numpy as np
from drawn_quantities import draw_shape, of_beats, of_cuff, of_families, of_pulse, of_shivering, of_subject, unseen
from local_information import information, left_unknown
from reading import CLEAR_FROM, FAMILIES, NOISY_FROM, STRATA
from recording_parts import taken_apart

from quietlimb.engine.circumstances import Species
from quietlimb.engine.reading import read
from quietlimb.engine.version import ENGINE_VERSION
from quietlimb.simulator import simulate_recording
from quietlimb.simulator.pulse_shape import pulse_shape
from quietlimb.simulator.subjects import Settings

CALM = (*STRATA["undisturbed"], *STRATA["mildly disturbed"])
ROWS = {  # scenarios in turn; peak to noise from and below
    "undisturbed, noise 20 and up": (STRATA["undisturbed"], CLEAR_FROM, np.inf),
    "mildly disturbed, noise 20 and up": (STRATA["mildly disturbed"], CLEAR_FROM, np.inf),
    "undisturbed and mildly disturbed, noise 5 to 20": (CALM, NOISY_FROM, CLEAR_FROM),
    "hard": (STRATA["hard"], 0.0, np.inf),
}
QUANTITIES = ("systolic", "mean", "diastolic")
AIM = 1.25
LESS = (0.1, 0.01)  # of the noise, to see that the floor goes to what no cuff can tell
TOGETHER = 20


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Outcome:
    """One kept reading: its errors, and variances that the best reader would have, by what causes them [mmHg^2]."""

    family: str
    error: np.ndarray
    by_noise: np.ndarray
    by_less_noise: np.ndarray
    stranger: np.ndarray
    unseen: np.ndarray


def outcomes(row: str, seeds: Sequence[int]) -> tuple[int, list[Outcome]]:
    """How many of these seeds have the noise of the row, and what became of those that are kept."""
    scenarios, least, most = ROWS[row]
    wanted, found = 0, []
    for seed in seeds:
        scenario = scenarios[seed % len(scenarios)]
        species: Species = "cat" if scenario == "purring" or seed // len(scenarios) % 2 else "dog"
        family = FAMILIES[seed // (2 * len(scenarios)) % len(FAMILIES)]
        shape = draw_shape(seed)
        settings = Settings(shape=pulse_shape(form_factor=shape[0], upstroke=shape[1], dicrotic=shape[2]))
        parts = taken_apart(seed, species=species, family=family, scenario=scenario, shape=shape, settings=settings)
        if not least <= parts.subject.peak_height_mmhg / parts.subject.height_sd_mmhg < most:
            continue
        wanted += 1
        one = simulate_recording(seed, species=species, family=family, scenario=scenario, **settings)
        reading = read(one.recording)
        truth = np.array([getattr(one.truth, name) for name in QUANTITIES])
        estimates = [getattr(reading, name) for name in QUANTITIES]
        if reading.verdict != "keep" or None in estimates:
            continue
        groups = [of_subject(parts), *of_beats(parts), *of_cuff(parts)]
        if scenario == "shivering":
            groups.append(of_shivering(parts))
        told = information(groups)
        strange = left_unknown([*groups, of_families(parts, FAMILIES), of_pulse(parts)], parts.variance)
        found.append(
            Outcome(
                family=family,
                error=np.array([estimate.value for estimate in estimates]) - truth,
                by_noise=np.diag(told.left_unknown(parts.variance)),
                by_less_noise=np.array([np.diag(told.left_unknown(parts.variance * k**2)) for k in LESS]),
                stranger=np.diag(strange),
                unseen=np.diag(unseen(truth)),
            )
        )
    return wanted, found


def root(squares: np.ndarray) -> tuple[float, float]:
    """Root of their mean, and its Monte Carlo error."""
    rms = float(np.sqrt(squares.mean()))
    return rms, float(squares.std(ddof=1)) / (2.0 * rms * np.sqrt(squares.size))


def table_row(label: str, kept: Sequence[Outcome], k: int) -> str:
    """One line: floor and its parts, root-mean-square error of the shipped engine, and their ratio."""
    if len(kept) < 5:
        return f"  {label:<20}{QUANTITIES[k]:<10}{len(kept):>5}"
    squares = np.array([outcome.error[k] ** 2 for outcome in kept])
    variance = np.array([outcome.by_noise[k] + outcome.unseen[k] for outcome in kept])
    less = np.sqrt(np.mean([outcome.by_less_noise[:, k] for outcome in kept], axis=0))
    (own, own_error), (floor, floor_error) = root(squares), root(variance)
    noise, hidden = np.sqrt(np.mean([(outcome.by_noise[k], outcome.unseen[k]) for outcome in kept], axis=0))
    stranger = np.sqrt(np.mean([outcome.stranger[k] + outcome.unseen[k] for outcome in kept]))
    ratio = own / floor
    # both means are of the same recordings
    spread = squares / squares.mean() - variance / variance.mean()
    ratio_error = 0.5 * ratio * float(spread.std(ddof=1)) / np.sqrt(squares.size)
    return (
        f"  {label:<20}{QUANTITIES[k]:<10}{len(kept):>5}{floor:>7.2f} +-{floor_error:>5.2f}"
        f"{hidden:>8.2f}{noise:>8.2f}{less[0]:>7.2f}{less[1]:>7.2f}{stranger:>10.2f}"
        f"{own:>8.2f} +-{own_error:>5.2f}{ratio:>8.2f} +-{ratio_error:>5.2f}"
        f"  {'met' if ratio <= AIM else 'NOT MET'}"
    )


def blocks(first: int) -> Iterator[list[int]]:
    """Seeds in blocks, without end."""
    while True:
        yield list(range(first, first + TOGETHER))
        first += TOGETHER


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, default=300, help="recordings a row, about (default 300)")
    parser.add_argument("--seed", type=int, default=20910101, help="first seed (default 20910101)")
    parser.add_argument("--workers", type=int, default=2)
    wish = parser.parse_args()
    print(f"Floor and shipped engine {ENGINE_VERSION} on the same recordings, seeds from {wish.seed}; mmHg")
    print("Floor: of which unseen (peak offset, transmission) and by noise; that also at 0.1 and 0.01 of the noise.")
    print(f"Aim: root-mean-square error (RMSE) of the engine at most {AIM} times the floor.")
    with ProcessPoolExecutor(wish.workers) as pool:
        for row in ROWS:
            kept: list[Outcome] = []
            tried, seeds = 0, blocks(wish.seed)
            while tried < wish.count:
                together = [next(seeds) for _ in range(wish.workers)]
                for wanted, found in pool.map(outcomes, [row] * wish.workers, together):
                    if tried < wish.count:  # the same recordings with any number of workers
                        tried += wanted
                        kept += found
            print(f"\n{row}: {tried} recordings, {len(kept)} kept with all three pressures")
            print(
                f"  {'':<20}{'':<10}{'n':>5}{'floor':>7}{'':>8}{'unseen':>8}{'noise':>8}"
                f"{'x 0.1':>7}{'x .01':>7}{'stranger':>10}{'RMSE':>8}{'':>8}{'ratio':>8}{'':>8}"
            )
            for label in ("all", *FAMILIES):
                group = kept if label == "all" else [outcome for outcome in kept if outcome.family == label]
                for k in range(len(QUANTITIES)):
                    print(table_row(label, group, k), flush=True)


if __name__ == "__main__":
    main()
