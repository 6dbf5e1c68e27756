"""From recordings to the charted pressure: sessions of one animal, one artery, one cuff and one offset.

    python validation/together.py --count 200 --seed 20960101 --workers 2 > validation/together.txt

Each session has 3, 5 or 7 undisturbed recordings of the same animal, read by the shipped engine and charted. Error is
the charted pressure minus the level that the animal had reached at the last reading. What all recordings of a session
share (peak offset, artery, what the fit makes of them) stays in that error however many there are; what is new in each
is averaged away. So the 95 % interval has to hold the truth as often with 7 recordings as with 3.

  one     root-mean-square error of single readings against their own recording's truth
  shared  the part of it that two readings of a session have in common: root of the mean product of their errors
  if new  charted error if all of it were drawn anew at each reading: that of three recordings times sqrt(3 / n)

Half of the sessions keep level, half fall (the simulator's falling and slowly falling) or rise. Families take turns,
and so do cats and dogs. The score is the interval score (Gneiting and Raftery): the width, and 40 times the distance by
which the truth lies outside. A target is undecided where twice the Monte Carlo error reaches across its limit. Oracle:
by construction. Errors after +- are Monte Carlo.
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from reading import FAMILIES

from quietlimb.engine.circumstances import Species
from quietlimb.engine.reading import read
from quietlimb.engine.session.charting import chart
from quietlimb.engine.session.series import series_from_readings
from quietlimb.engine.version import ENGINE_VERSION
from quietlimb.simulator import simulate_session
from quietlimb.simulator.level_course import Course

Samples = NDArray[np.float64]
COUNTS = (3, 5, 7)
QUANTITIES = ("systolic", "mean", "diastolic")
COURSES: tuple[Course, ...] = ("level", "falling", "level", "slowly falling", "level", "rising")
TARGET = (93.0, 97.0)
TOGETHER = 10


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Outcome:
    """One session; arrays (3,) by quantity, nan where nothing is charted [mmHg].

    single : (n, 3) errors of the readings by themselves
    """

    recordings: int
    course: str
    family: str
    error: Samples
    low: Samples
    high: Samples
    single: Samples


def outcomes(recordings: int, seeds: Sequence[int]) -> list[Outcome]:
    """Simulated, read and charted. Seeds of different numbers of recordings are different sessions."""
    found = []
    for seed in seeds:
        species: Species = "cat" if seed % 2 else "dog"
        family = FAMILIES[seed // 2 % len(FAMILIES)]
        course = COURSES[seed // (2 * len(FAMILIES)) % len(COURSES)]
        session = simulate_session(seed, species=species, family=family, readings=recordings, course=course)
        readings = read([one.recording for one in session.recordings])
        charted = chart(series_from_readings(readings, list(session.minute), session.circumstances))
        error, low, high = np.full((3, len(QUANTITIES)), np.nan)
        single = np.full((recordings, len(QUANTITIES)), np.nan)
        for k, name in enumerate(QUANTITIES):
            estimate, truth = getattr(charted, name), getattr(session.truth, name)
            if estimate is not None:
                error[k], low[k], high[k] = estimate.value - truth, estimate.low - truth, estimate.high - truth
            for row, reading, one in zip(single, readings, session.recordings, strict=True):
                own = getattr(reading, name)
                if own is not None and reading.verdict != "discard":
                    row[k] = own.value - getattr(one.truth, name)
        found.append(
            Outcome(
                recordings=recordings,
                course=session.course.course,
                family=family,
                error=error,
                low=low,
                high=high,
                single=single,
            )
        )
    return found


def common(singles: Sequence[Samples]) -> tuple[float, float]:
    """Root-mean-square of all errors, and root of the mean product of two of one session: (n,) each, nan where none."""
    squares, products = [], []
    for errors in (single[np.isfinite(single)] for single in singles):
        squares += (errors**2).tolist()
        if errors.size > 1:
            products.append((errors.sum() ** 2 - (errors**2).sum()) / (errors.size * (errors.size - 1)))
    return float(np.sqrt(np.mean(squares))), float(np.sqrt(max(np.mean(products), 0.0)))


def decided(held: float, error: float) -> str:
    """Whether so many per cent lie in the target, and whether that is sure."""
    if TARGET[0] <= held <= TARGET[1]:
        return "met"
    return "undecided" if TARGET[0] <= held + 2.0 * error and held - 2.0 * error <= TARGET[1] else "NOT MET"


def table_row(label: str, found: Sequence[Outcome], k: int, of_three: float) -> str:
    """One line: bias, error and what it is made of, cover, width and score of the 95 % interval."""
    error, low, high = (np.array([getattr(outcome, name)[k] for outcome in found]) for name in ("error", "low", "high"))
    given = np.isfinite(error)
    error, low, high = error[given], low[given], high[given]
    n, recordings = error.size, found[0].recordings
    if n < 5:
        return f"{recordings:>3}  {label:<20}{QUANTITIES[k]:<11}{n:>5}"
    squares = error**2
    rmse = float(np.sqrt(squares.mean()))
    rmse_error = float(squares.std(ddof=1)) / (2.0 * rmse * np.sqrt(n))
    one, shared = common([outcome.single[:, k] for outcome in found])
    held = float(np.mean((low <= 0.0) & (high >= 0.0)))
    held_error = 100.0 * np.sqrt(max(held * (1.0 - held), 1.0 / n) / n)
    score = high - low + 40.0 * (np.maximum(low, 0.0) + np.maximum(-high, 0.0))
    return (
        f"{recordings:>3}  {label:<20}{QUANTITIES[k]:<11}{n:>5}{error.mean():>8.2f} +-"
        f"{error.std(ddof=1) / np.sqrt(n):>5.2f}{rmse:>8.2f} +-{rmse_error:>5.2f}"
        f"{of_three * np.sqrt(3.0 / recordings):>8.2f}{one:>7.2f}{shared:>8.2f}"
        f"{100.0 * held:>9.1f} +-{held_error:>4.1f}{np.median(high - low):>7.1f}{score.mean():>7.1f}"
        f"{f'  {decided(100.0 * held, held_error)}' if label == 'all' else ''}"
    )


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, default=200, help="sessions of each length (default 200)")
    parser.add_argument("--seed", type=int, default=20960101, help="first seed (default 20960101)")
    parser.add_argument("--workers", type=int, default=2)
    wish = parser.parse_args()
    print(f"Charted pressure from simulated recordings; engine {ENGINE_VERSION}, {wish.count} sessions of each length,")
    print(f"seed {wish.seed}. Errors in mmHg; target: {TARGET[0]:g} to {TARGET[1]:g} % of the 95 % intervals hold.\n")
    seeds = [wish.seed + k for k in range(wish.count)]
    blocks = [seeds[k : k + TOGETHER] for k in range(0, len(seeds), TOGETHER)]
    print(
        f"{'n':>3}  {'sessions':<20}{'':<11}{'':>5}{'bias':>8}{'':>8}{'RMSE':>8}{'':>8}{'if new':>8}{'one':>7}"
        f"{'shared':>8}{'in 95 %':>9}{'':>7}{'width':>7}{'score':>7}"
    )
    of_three: dict[tuple[str, int], float] = {}
    with ProcessPoolExecutor(wish.workers) as pool:
        for recordings in COUNTS:
            jobs = [pool.submit(outcomes, recordings, block) for block in blocks]
            found = [outcome for job in jobs for outcome in job.result()]
            groups = {"all": found}
            groups |= {course: [o for o in found if o.course == course] for course in dict.fromkeys(COURSES)}
            groups |= {family: [o for o in found if o.family == family] for family in FAMILIES}
            for label, group in groups.items():
                for k in range(len(QUANTITIES) if group else 0):
                    error = np.array([outcome.error[k] for outcome in group])
                    if recordings == COUNTS[0]:
                        of_three[label, k] = float(np.sqrt(np.nanmean(error**2)))
                    print(table_row(label, group, k, of_three[label, k]), flush=True)
            print()


if __name__ == "__main__":
    main()
