"""How often the intervals of a comparison hold the truth, in simulated comparisons whose truth is known.

    python validation/comparison_intervals.py --runs 2000 --seed 90210 > validation/comparison_intervals.txt

Every run draws a comparison anew: true pressures are normal with mean 140 and SD 25 mmHg, the tested method reads
3 mmHg too high, either method errs by a normal law of SD 5 mmHg, and with several pairs an animal the tested method has
a level of its own in each (SD 3 mmHg). One pair an animal; three replicates of a constant truth; and linked pairs,
whose true pressure has SD 20 mmHg between animals and 15 within, with equal or unequal numbers of pairs. Truths are
computed from these figures; those of kappa and of detection by integrating the bivariate normal law, that of trending
from two million changes drawn apart.

Everything is simulated, and normal: nothing here says how intervals fare with real differences, whose tails are longer.
"""

from __future__ import annotations

import argparse
import math
import time
from collections import defaultdict
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from quietlimb.agreement.categories import category_table, detection, weights_of
from quietlimb.agreement.concordance import concordance, coverage, deviation
from quietlimb.agreement.conversion import estimate_conversion
from quietlimb.agreement.correlation import correlation
from quietlimb.agreement.criteria import animal_mean_sd
from quietlimb.agreement.differences import bias_of, proportional_bias
from quietlimb.agreement.interval import Interval
from quietlimb.agreement.intraclass import intraclass
from quietlimb.agreement.limits import MULTIPLIER, limits_of_agreement
from quietlimb.agreement.pairs import Pairs
from quietlimb.agreement.regression import deming, passing_bablok
from quietlimb.agreement.repeatability import repeatability
from quietlimb.agreement.shares import share_of, shares_within
from quietlimb.agreement.trending import EXCLUSION, trending
from quietlimb.engine.circumstances import Circumstances
from quietlimb.engine.conversion import convert
from quietlimb.engine.errors import ConversionError
from quietlimb.engine.values import Estimate

Values = NDArray[np.float64]
Told = Iterator[tuple[str, Interval, float]]

MEAN, BIAS, ERROR, LEVEL = 140.0, 3.0, 5.0, 3.0
BETWEEN, WITHIN = 20.0, 15.0
TRUE_SD = math.hypot(BETWEEN, WITHIN)
EDGES = np.array([140.0, 160.0, 180.0])
LOW_TARGET, HIGH_TARGET = 94.0, 96.0  # per cent, for a nominal 95
AROUND = Circumstances(species="cat", site="tail")


@dataclass(frozen=True, slots=True, kw_only=True)
class Truth:
    """What is true of every comparison in which the tested method's level in an animal has SD `level`."""

    level: float
    sd: float
    r: float
    concordance: float
    kappa: float
    sensitivity: float


def truth_of(level: float) -> Truth:
    """From the parameters of the simulation."""
    tested, reference, together = TRUE_SD**2 + level**2 + ERROR**2, TRUE_SD**2 + ERROR**2, TRUE_SD**2
    law = stats.multivariate_normal([MEAN, MEAN + BIAS], [[reference, together], [together, tested]])
    edges = np.concatenate(([-1e4], EDGES, [1e4]))
    below = np.array([[law.cdf([a, b]) for b in edges] for a in edges])
    cells = below[1:, 1:] - below[:-1, 1:] - below[1:, :-1] + below[:-1, :-1]
    weights = weights_of(4, "quadratic")
    chance = float(cells.sum(axis=1) @ weights @ cells.sum(axis=0))
    high = cells[2:]
    return Truth(
        level=level,
        sd=math.sqrt(level**2 + 2.0 * ERROR**2),
        r=together / math.sqrt(tested * reference),
        concordance=2.0 * together / (tested + reference + BIAS**2),
        kappa=(float((weights * cells).sum()) - chance) / (1.0 - chance),
        sensitivity=float(high[:, 2:].sum() / high.sum()),
    )


def concordance_of_change(rng: np.random.Generator, n: int = 2_000_000) -> float:
    """Share of changes that go together among those beyond the exclusion, from changes drawn for this alone."""
    true = rng.normal(0.0, WITHIN * math.sqrt(2.0), n)
    a, b = (true + rng.normal(0.0, ERROR * math.sqrt(2.0), n) for _ in range(2))
    kept = np.maximum(np.abs(a), np.abs(b)) > EXCLUSION.value
    return float((a * b > 0.0)[kept].mean())


def names(sizes: Values) -> list[str]:
    return [f"animal {i}" for i, m in enumerate(sizes) for _ in range(int(m))]


def draw(rng: np.random.Generator, kind: str, sizes: Values) -> Pairs:
    """One comparison: `kind` is the truth of `Pairs`, `sizes` the pairs of each animal."""
    n, k = int(sizes.sum()), sizes.size
    if kind == "single":
        true, level = rng.normal(MEAN, TRUE_SD, n), np.zeros(n)
    else:
        between = TRUE_SD if kind == "constant" else BETWEEN
        true = np.repeat(rng.normal(MEAN, between, k), sizes)
        level = np.repeat(rng.normal(0.0, LEVEL, k), sizes)
        if kind == "changing":
            true = true + rng.normal(0.0, WITHIN, n)
    return Pairs(
        quantity="systolic",
        animal=names(sizes),
        tested=true + BIAS + level + rng.normal(0.0, ERROR, n),
        reference=true + rng.normal(0.0, ERROR, n),
        truth=kind,
    )


def of_all(pairs: Pairs, truth: Truth) -> Told:
    """What every kind of pairs gives."""
    bias, limits = bias_of(pairs), limits_of_agreement(pairs)
    yield "bias", bias.bias, BIAS
    yield "SD of differences", bias.sd, truth.sd
    half = MULTIPLIER * truth.sd
    yield f"lower limit, {limits.how}", limits.lower, BIAS - half
    yield f"upper limit, {limits.how}", limits.upper, BIAS + half
    yield "upper limit, approximate", limits.approximate()[1], BIAS + half
    if limits.tolerance is not None:
        low, high = limits.tolerance
        held = coverage_between(low, high, truth.sd)
        yield "95 % lie between the joint limits", Interval(estimate=held, low=0.95, high=1.0), max(held, 0.0)
    found = deviation(pairs)
    yield "total deviation index", found.index, index_of(truth.sd)
    yield "coverage probability", found.coverage, coverage(BIAS, truth.sd, 10.0)
    share = shares_within(pairs, (10.0,))[0].share
    yield "share within 10, plain", share.plain, coverage(BIAS, truth.sd, 10.0)
    yield "share within 10, by animal", share.by_animal, coverage(BIAS, truth.sd, 10.0)
    yield "concordance coefficient", concordance(pairs), truth.concordance
    line = deming(pairs, error_ratio=(truth.level**2 + ERROR**2) / ERROR**2)
    yield "Deming slope", line.slope, 1.0
    yield "Deming intercept", line.intercept, BIAS
    yield "slope of difference on mean", proportional_bias(pairs).slope, 0.0


def of_single(pairs: Pairs, truth: Truth) -> Told:
    yield from of_all(pairs, truth)
    yield "correlation, pooled", correlation(pairs).pooled, truth.r
    line = passing_bablok(pairs)
    yield "Passing-Bablok slope", line.slope, 1.0
    yield "Passing-Bablok intercept", line.intercept, BIAS
    yield from of_categories(pairs, truth)
    table = np.column_stack([pairs.tested, pairs.reference])
    yield "intraclass (3,1)", intraclass(table).consistency_single, TRUE_SD**2 / (TRUE_SD**2 + ERROR**2)


def of_categories(pairs: Pairs, truth: Truth) -> Told:
    weighted = category_table(pairs).quadratic
    if weighted is not None:
        yield "weighted kappa, quadratic", weighted, truth.kappa
    found = detection(pairs, 160.0, "high").sensitivity
    if found is not None:
        yield "sensitivity for high", found.by_animal, truth.sensitivity


def of_constant(pairs: Pairs, truth: Truth) -> Told:
    yield from (each for each in of_all(pairs, truth) if not each[0].startswith(("Deming", "slope")))
    k = len(pairs.animals)
    m = pairs.n / k
    line = deming(pairs, error_ratio=(truth.level**2 + ERROR**2 / m) / (ERROR**2 / m))
    yield "Deming slope of the means", line.slope, 1.0
    yield "repeatability", repeatability(pairs, "tested").coefficient, MULTIPLIER * math.sqrt(2.0) * ERROR
    one_way = intraclass(pairs.tested.reshape(k, -1)).one_way_single
    yield "intraclass (1,1)", one_way, (TRUE_SD**2 + LEVEL**2) / (TRUE_SD**2 + LEVEL**2 + ERROR**2)


def of_changing(pairs: Pairs, truth: Truth, of_change: float) -> Told:
    yield from of_all(pairs, truth)
    found = correlation(pairs)
    yield "correlation, pooled", found.pooled, truth.r
    if found.within is not None:
        yield "correlation, within animals", found.within, WITHIN**2 / (WITHIN**2 + ERROR**2)
    yield from of_categories(pairs, truth)
    changes = trending(pairs).concordance
    if changes is not None:
        yield "trending", changes.by_animal, of_change
    if len(set(np.bincount(pairs.index))) == 1:
        m = pairs.n / len(pairs.animals)
        yield "SD of animals' mean errors", animal_mean_sd(pairs), math.sqrt(LEVEL**2 + 2.0 * ERROR**2 / m)


def of_conversion(rng: np.random.Generator, title: str) -> Told:
    """The slope, a pair of a new animal, and the mean of eight readings of one, whose pressure they are to tell."""
    sizes, kind, scatters, within, error = CONVERSIONS[title]
    try:
        found = estimate_conversion(
            drawn_for_conversion(rng, sizes, kind, scatters, within, error),
            reference_is="indirect" if scatters else "intra-arterial",
            converts_to="invented reference",
            species="cat",
            site="tail",
            technique="oscillometric",
            sedation="awake",
            study="simulated",
            version="0",
        )
    except ConversionError:  # too few animals for so much scatter: none is made
        yield "slope", Interval(estimate=math.nan, low=math.nan, high=math.nan), 1.0
        return
    half = float(stats.t.ppf(0.975, found.df)) * found.slope_sd
    yield "slope", Interval(estimate=found.slope, low=found.slope - half, high=found.slope + half), 1.0
    true = float(rng.normal(MEAN, math.hypot(BETWEEN, within)))
    level = float(rng.normal(0.0, LEVEL))
    for name, readings, wanted in (
        ("converted, a reading of a new animal", 1, true + float(rng.normal(0.0, error if scatters else 0.0))),
        ("converted, the mean of 8 of a new animal", 8, true),
    ):
        own = error / math.sqrt(readings)
        tested = true + BIAS + level + float(rng.normal(0.0, own))
        if found.low <= tested <= found.high:
            # of a single reading the conversion knows the scatter; a mean tells its own beside
            spread = 0.0 if readings == 1 else own
            ends = tested - 1.96 * spread, tested + 1.96 * spread
            given = Estimate(value=tested, low=ends[0], high=ends[1], own_sd=spread, shared_sd=0.0)
            got = convert(given, found, AROUND, "systolic").converted
            yield name, Interval(estimate=got.value, low=got.low, high=got.high), wanted


def drawn_for_conversion(
    rng: np.random.Generator, sizes: Values, kind: str, scatters: bool, within: float, error: float
) -> Pairs:
    """As `draw`, with a movement within animals, a scatter of the tested method, and a reference that may have none."""
    true = np.repeat(rng.normal(MEAN, BETWEEN, sizes.size), sizes)
    if kind != "constant":
        true = true + rng.normal(0.0, within, true.size)
    level = np.repeat(rng.normal(0.0, LEVEL, sizes.size), sizes)
    return Pairs(
        quantity="systolic",
        animal=names(sizes),
        tested=true + BIAS + level + rng.normal(0.0, error, true.size),
        reference=true + rng.normal(0.0, error if scatters else 0.0, true.size),
        truth=kind,
    )


def of_raters(rng: np.random.Generator, n: int) -> Told:
    """Four raters who stand for others, drawn anew each time."""
    table = rng.normal(MEAN, TRUE_SD, (n, 1)) + rng.normal(0.0, LEVEL, (1, 4)) + rng.normal(0.0, ERROR, (n, 4))
    wanted = TRUE_SD**2 / (TRUE_SD**2 + LEVEL**2 + ERROR**2)
    yield "intraclass (2,1), four raters", intraclass(table).two_way_single, wanted


def of_rare(rng: np.random.Generator, k: int, m: int) -> Told:
    """A share of 0.8 in animals that differ: the chance of a hit is 0.6 in half of them and 1.0 in the others."""
    chance = np.repeat(np.where(rng.random(k) < 0.5, 0.6, 1.0), m)
    found = share_of(rng.random(k * m) < chance, np.repeat(np.arange(k), m))
    yield "share of 0.8, animals that differ, plain", found.plain, 0.8
    yield "share of 0.8, animals that differ, by animal", found.by_animal, 0.8


def coverage_between(low: float, high: float, sd: float) -> float:
    return float(stats.norm.cdf((high - BIAS) / sd) - stats.norm.cdf((low - BIAS) / sd))


def index_of(sd: float) -> float:
    return sd * math.sqrt(float(stats.ncx2.ppf(0.9, 1, (BIAS / sd) ** 2)))


def tabulated(title: str, runs: int, tell: Callable[[], Told]) -> tuple[list[str], list[str]]:
    """The lines of one table, and what in it misses its target."""
    seen: dict[str, list[tuple[bool, bool, float]]] = defaultdict(list)
    for _ in range(runs):
        for name, interval, truth in tell():
            if interval.is_known:
                seen[name].append((truth < interval.low, truth > interval.high, interval.high - interval.low))
            else:
                seen[name].append((False, False, math.nan))
    heads = "".join(f"{head:>7}" for head in ("runs", "none", "cover", "error", "above", "below", "width"))
    lines, missed = ["", title, f"{'interval':46}{heads}  target"], []
    for name, rows in seen.items():
        table = np.array(rows, dtype=float)
        known = table[np.isfinite(table[:, 2]) | (table[:, 2] == math.inf)]
        n = len(known)
        if n == 0:
            lines.append(f"{name:46}{0:7d}{len(rows):7d}")
            continue
        above, below = 100.0 * known[:, 0].mean(), 100.0 * known[:, 1].mean()
        cover = 100.0 - above - below
        error = 100.0 * math.sqrt(max(cover / 100.0 * (1.0 - cover / 100.0), 1.0 / n) / n)
        target = "met"
        if not LOW_TARGET <= cover <= HIGH_TARGET:
            edge, word = (LOW_TARGET, "short") if cover < LOW_TARGET else (HIGH_TARGET, "long")
            target = "undecided" if abs(cover - edge) <= 2.0 * error else f"NOT MET, {word}"
        if target.startswith("NOT"):
            missed.append(f"{title}: {name} {cover:.1f} ± {error:.1f}")
        width = float(np.median(known[:, 2]))
        figures = f"{cover:7.1f}{error:7.2f}{above:7.1f}{below:7.1f}{width:7.3g}"
        lines.append(f"{name:46}{n:7d}{len(rows) - n:7d}{figures}  {target}")
    return lines, missed


ALONE = {f"one pair each of {k} animals": np.ones(k, dtype=int) for k in (8, 25, 85)}
STILL = {f"{k} animals, three replicates of a constant truth": np.full(k, 3) for k in (8, 25)}
LINKED = {
    "8 animals, 5 linked pairs each": np.full(8, 5),
    "12 animals, 2 to 9 linked pairs": np.array([2, 3, 4, 5, 6, 7, 8, 9, 2, 3, 4, 5]),
    "33 animals, 3 linked pairs each": np.full(33, 3),
}
# Pairs of each animal, truth, whether the reference scatters too, movement in an animal, scatter of the tested method.
CONVERSIONS: dict[str, tuple[Values, str, bool, float, float]] = {
    **{f"conversion, {title}": (sizes, "changing", True, WITHIN, ERROR) for title, sizes in LINKED.items()},
    "conversion, a catheter, 12 animals, 5 linked pairs each": (np.full(12, 5), "changing", False, WITHIN, ERROR),
    "conversion, a catheter, 20 animals, 5 pairs that hardly moved": (np.full(20, 5), "changing", False, 3.0, 8.0),
    "conversion, 20 animals, 4 replicates of a constant truth": (np.full(20, 4), "constant", True, 0.0, 8.0),
    "conversion, one pair each of 40 animals": (np.full(40, 1), "single", True, 0.0, ERROR),
}
RATERS = {f"{k} targets, four raters": k for k in (8, 30)}
RARE = {f"{k} animals, {m} chances each": (k, m) for k, m in ((8, 5), (25, 4), (85, 3))}
TABLES = (*ALONE, *STILL, *LINKED, *CONVERSIONS, *RATERS, *RARE)


def computed(job: tuple[int, int, int]) -> tuple[list[str], list[str], float]:
    """One table by its number, runs and seed: its lines, what it misses, and the seconds it took."""
    number, runs, seed = job
    title = TABLES[number]
    rng = np.random.default_rng([seed, number])
    began = time.process_time()
    tell: Callable[[], Told]
    if title in ALONE:
        truth = truth_of(0.0)
        tell = lambda: of_single(draw(rng, "single", ALONE[title]), truth)  # noqa: E731
    elif title in STILL:
        truth = truth_of(LEVEL)
        tell = lambda: of_constant(draw(rng, "constant", STILL[title]), truth)  # noqa: E731
    elif title in LINKED:
        truth, change = truth_of(LEVEL), concordance_of_change(rng)
        tell = lambda: of_changing(draw(rng, "changing", LINKED[title]), truth, change)  # noqa: E731
    elif title in CONVERSIONS:
        tell = lambda: of_conversion(rng, title)  # noqa: E731
    elif title in RATERS:
        tell = lambda: of_raters(rng, RATERS[title])  # noqa: E731
    else:
        tell = lambda: of_rare(rng, *RARE[title])  # noqa: E731
    lines, missed = tabulated(title, runs, tell)
    return lines, missed, time.process_time() - began


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--runs", type=int, default=2000)
    parser.add_argument("--seed", type=int, default=90210)
    parser.add_argument("--workers", type=int, default=2)
    given = parser.parse_args()
    print(f"Coverage of nominal 95 % intervals, {given.runs} simulated comparisons each, seed {given.seed}.")
    print("cover: per cent of the intervals that hold the truth, with its Monte Carlo error. above, below: per cent")
    print("that lie wholly above or below it. none: runs that gave no interval. width: median. Target: 94 to 96 per")
    print("cent, undecided where twice the error reaches across. Joint limits: how often 95 % of all differences lie")
    print("between. A simulated comparison differs from a real one in that its differences are normal.", flush=True)
    missed: list[str] = []
    seconds = 0.0
    with ProcessPoolExecutor(given.workers) as pool:
        for lines, short, took in pool.map(computed, [(i, given.runs, given.seed) for i in range(len(TABLES))]):
            print("\n".join(lines), flush=True)
            missed += short
            seconds += took
    print(f"\n{len(missed)} intervals miss their target:")
    for each in missed:
        print(f"  {each}")
    print(f"\nComputed in {seconds / 60.0:.1f} min of one core.", flush=True)


if __name__ == "__main__":
    main()
