"""How right a reading is, against simulation: recordings whose truth is known because the simulator chose it.

    python validation/reading.py --count 2000 --seed 20260101 > validation/reading.txt

The arteries are of families that the engine does not contain (double exponential, arctangent). Priors, thresholds and
the allowance for a foreign family were set on others (log-sigmoid, logistic) with other seeds. Truth is the mean over
the beats of the reading of each beat's highest pressure, time mean and lowest pressure. Standing of every figure: by
construction, so it holds for simulated animals only.
"""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass

import numpy as np

from quietlimb.engine.reading import METHODS, Method, read
from quietlimb.engine.values import Estimate
from quietlimb.engine.version import ENGINE_VERSION
from quietlimb.simulator import simulate_recording

FAMILIES = ("double exponential", "arctangent")
QUANTITIES = ("systolic", "mean", "diastolic", "pulse_rate")
STRATA = {
    "undisturbed": ("undisturbed",),
    "mildly disturbed": ("mild-motion", "ectopic", "shivering", "purring"),
    "atrial fibrillation": ("atrial-fibrillation",),
    "start too low": ("start-too-low",),
    "sustained motion": ("sustained-motion",),
    "empty cuff": ("empty-cuff",),
}
TARGETS = {  # of the stratum "undisturbed": greatest bias, greatest standard deviation
    "systolic": (3.0, 8.0),
    "mean": (None, 6.0),
    "diastolic": (None, 8.0),
}
TOGETHER = 50


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """One recording: kind and verdict; each value's error, own SD, interval width, whether the interval held it."""

    family: str
    deflation: str
    species: str
    verdict: str
    values: dict[str, tuple[float, float, float, bool]]


def outcomes(scenarios: Sequence[str], seeds: Sequence[int], method: Method) -> list[Outcome]:
    """Simulated and read, in the order of the seeds."""
    simulated = []
    for seed in seeds:
        scenario = scenarios[seed % len(scenarios)]
        species = "cat" if scenario == "purring" or seed // len(scenarios) % 2 else "dog"
        family = FAMILIES[seed // (2 * len(scenarios)) % len(FAMILIES)]
        simulated.append(simulate_recording(seed, species=species, family=family, scenario=scenario))
    found = []
    for one, reading in zip(simulated, read([one.recording for one in simulated], method=method), strict=True):
        values = {}
        for name in QUANTITIES:
            estimate: Estimate | None = getattr(reading, name)
            truth = getattr(one.truth, name)
            if estimate is not None and truth is not None:
                held = estimate.low <= truth <= estimate.high
                values[name] = (estimate.value - truth, estimate.own_sd, estimate.high - estimate.low, held)
        found.append(
            Outcome(
                family=one.truth.family or "none",
                deflation=one.truth.deflation,
                species=one.recording.circumstances.species,
                verdict=reading.verdict,
                values=values,
            )
        )
    return found


def error_row(label: str, kept: Sequence[Outcome], name: str) -> str:
    """One line of the table: bias and SD with Monte Carlo errors, coverage and width of the 95 % interval."""
    rows = [outcome.values[name] for outcome in kept if name in outcome.values]
    n = len(rows)
    if n < 3:
        return f"  {label:<22}{name:<11}{n:>6}"
    error, own, width, held = (np.array(column, dtype=float) for column in zip(*rows, strict=True))
    sd = error.std(ddof=1)
    kurtosis = np.mean((error - error.mean()) ** 4) / error.var() ** 2
    sd_error = sd * np.sqrt(max(kurtosis - 1.0, 0.0) / (4.0 * n))
    return (
        f"  {label:<22}{name:<11}{n:>6}{error.mean():>8.2f} +-{sd / np.sqrt(n):>5.2f}{sd:>8.2f} +-{sd_error:>5.2f}"
        f"{np.sqrt(np.mean(error**2)):>8.2f}{100 * held.mean():>9.1f}{width.mean():>8.1f}{own.mean():>7.2f}"
    )


def groups(found: Sequence[Outcome]) -> Iterator[tuple[str, list[Outcome]]]:
    """All, then by family, kind of deflation and species."""
    yield "all", list(found)
    attributes: tuple[Callable[[Outcome], str], ...] = (
        lambda o: o.family,
        lambda o: o.deflation,
        lambda o: o.species,
    )
    for attribute in attributes:
        for value in sorted({attribute(outcome) for outcome in found}):
            yield value, [outcome for outcome in found if attribute(outcome) == value]


def verdict_line(found: Sequence[Outcome]) -> str:
    """Shares of the verdicts, with the Monte Carlo error of the first."""
    count = Counter(outcome.verdict for outcome in found)
    n = len(found)
    keep = count["keep"] / n
    return (
        f"{n} recordings: keep {100 * keep:.1f} % (+-{100 * np.sqrt(keep * (1 - keep) / n):.1f}; {count['keep']}), "
        f"doubtful {100 * count['doubtful'] / n:.1f} %, discard {100 * count['discard'] / n:.1f} %"
    )


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, default=2000, help="recordings a stratum (default 2000)")
    parser.add_argument("--seed", type=int, default=20260101, help="first seed (default 20260101)")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--method", choices=METHODS, default=METHODS[0])
    parser.add_argument("--strata", nargs="*", choices=list(STRATA), default=list(STRATA))
    wish = parser.parse_args()
    print(f"Readings against simulation: {wish.method}, engine {ENGINE_VERSION}, seeds from {wish.seed}")
    print(f"Artery families: {', '.join(FAMILIES)}; the engine contains neither. Errors in mmHg (pulse rate: /min).")
    with ProcessPoolExecutor(wish.workers) as pool:
        for name in wish.strata:
            seeds = [wish.seed + k for k in range(wish.count)]
            blocks = [seeds[k : k + TOGETHER] for k in range(0, len(seeds), TOGETHER)]
            jobs = [pool.submit(outcomes, STRATA[name], block, wish.method) for block in blocks]
            found = [outcome for job in jobs for outcome in job.result()]
            report(name, found)


def report(name: str, found: Sequence[Outcome]) -> None:
    """Print one stratum."""
    print(f"\n{name}: {verdict_line(found)}")
    given = [outcome for outcome in found if outcome.verdict == "keep"]
    if name == "start too low":
        withheld = np.mean(["systolic" not in outcome.values for outcome in found])
        print(f"  systolic withheld in {100 * withheld:.1f} %; mean and diastolic below are those of doubtful readings")
        given = list(found)
    if not any(outcome.values for outcome in given):
        return
    print(
        f"  {'kept readings':<22}{'':<11}{'n':>6}{'bias':>8}{'':>8}{'SD':>8}{'':>8}{'RMSE':>8}"
        f"{'in 95 %':>9}{'width':>8}{'own':>7}"
    )
    for label, group in groups(given):
        for quantity in QUANTITIES:
            print(error_row(label, group, quantity))
    if name != "undisturbed":
        return
    for quantity, (most_bias, most_sd) in TARGETS.items():
        error = np.array([outcome.values[quantity][0] for outcome in given if quantity in outcome.values])
        met = (most_bias is None or abs(error.mean()) <= most_bias) and error.std(ddof=1) <= most_sd
        wanted = f"SD <= {most_sd:g}" if most_bias is None else f"bias within {most_bias:g}, SD <= {most_sd:g}"
        print(f"  target {quantity}: {wanted}: {'met' if met else 'NOT MET'}")


if __name__ == "__main__":
    main()
