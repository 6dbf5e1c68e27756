"""How right a reading is, against simulation: recordings whose truth is known because the simulator chose it.

    python validation/reading.py --count 2000 --seed 21010101 > validation/reading.txt
    python validation/reading.py --strata "noise 5 to 20" --count 2000 --seed 21050101 > validation/reading_noisy.txt

The arteries are of families that the engine does not contain and that nothing was set on (double exponential,
arctangent, skewed arctangent, tube law). Priors, thresholds and the allowance for a foreign family were set on others
(log-sigmoid, logistic) with other seeds; these two have a table of their own, and count in the judgement of intervals
as two of six. Earlier tables of the four, of other seeds, had a systolic bias of -2.6 to -3.3 mmHg. For that the prior
on the harmonics of the pulse was looked for, later the rounding of averaged pulses and the allowance for what no such
artery explains; their sizes were set on other arteries. Seeds 20700101 to 20702101 were looked at last.

Truth is the mean over the beats of the reading of each beat's highest pressure, time mean and lowest pressure. Standing
of every figure: by construction, so it holds for simulated animals only.
"""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial

import numpy as np

from quietlimb.engine.circumstances import Species
from quietlimb.engine.reading import METHODS, Method, read
from quietlimb.engine.values import Estimate
from quietlimb.engine.version import ENGINE_VERSION
from quietlimb.simulator import simulate_recording
from quietlimb.simulator.subjects import Settings

FAMILIES = ("double exponential", "arctangent", "skewed arctangent", "tube law")
TUNED_ON = ("log-sigmoid", "logistic")
QUANTITIES = ("systolic", "mean", "diastolic", "pulse_rate")
GROUPS = ("cat", "dog", "linear", "steps")
STRATA = {
    "undisturbed": ("undisturbed",),
    "mildly disturbed": ("mild-motion", "ectopic", "shivering", "purring"),
    "hard": ("repeated-motion", "atrial-fibrillation", "fast-deflation", "leak"),
    "start too low": ("start-too-low",),
    "sustained motion": ("sustained-motion",),
    "empty cuff": ("empty-cuff",),
    "cut off": ("cut-off",),
    "limb loaded": ("limb-loaded",),
    "tail wagging": ("tail-wagging",),
    "weak pulse": ("weak-pulse",),
    "slow pulse": ("slow-pulse",),
    "fast pulse": ("fast-pulse",),
    "loose or narrow cuff": ("loose-cuff", "narrow-cuff"),
}
SCORED = ("undisturbed", "mildly disturbed", "hard")
# one third of each scored stratum
STRATA["all of these, families tuned on"] = (
    *(4 * STRATA["undisturbed"]),
    *STRATA["mildly disturbed"],
    *STRATA["hard"],
)
# Few animals that are drawn have so much noise, so it is chosen: each peak to noise is as likely as its double.
NOISY = "noise 5 to 20"
STRATA[NOISY] = (*(4 * STRATA["undisturbed"]), *STRATA["mildly disturbed"])
FEWER = 400  # recordings of a stratum that is not in this list
ALL_OF = (*SCORED, "start too low", "sustained motion", "empty cuff", "all of these, families tuned on", NOISY)
NONE_KEPT = ("empty cuff", "sustained motion", "cut off", "limb loaded", "tail wagging")
CLEAR_FROM, NOISY_FROM = 20.0, 5.0  # peak over the standard error of one pulse height
# greatest bias, greatest standard deviation; the last: share within so many per cent
TARGETS: dict[str, dict[str, tuple[float | None, float]]] = {
    "clear": {"systolic": (2.0, 5.0), "mean": (1.5, 3.5), "diastolic": (2.0, 5.0), "pulse_rate": (95.0, 3.0)},
    "noisy": {"systolic": (2.0, 5.0), "mean": (1.5, 3.5), "diastolic": (2.0, 5.0), "pulse_rate": (95.0, 5.0)},
    "hard": {"systolic": (None, 8.0), "mean": (None, 6.0), "diastolic": (None, 8.0), "pulse_rate": (90.0, 5.0)},
}
HELD = (93.0, 97.0, 90.0)  # per cent of 95 % intervals: as a whole from, to; in each group from
ANCHORS = """Beside it, against catheters, not simulation (as the trade's dossier has them; devices of many kinds):
  people, a fit to each patient: SD 6.3 to 7.6 (Liu et al. 2017, IEEE JTEHM 5:1900110)
  cats, anaesthetised: systolic 4.2 +- 14.5, mean -1.9 +- 7.4, diastolic -6.1 +- 6.7 (Cerejo et al., limits over 1.96)
  dogs, anaesthetised: SD 18.6 systolic, 12.1 mean, 9.0 diastolic (Am J Vet Res 2020;81:635)
  what the human standard asks of a device: mean error within 5, SD within 8 (ISO 81060-2)"""
TOGETHER = 50


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """One recording: kind, verdict, peak to noise; each value's error, own SD, interval width and score, whether held.

    The interval score is the width, and 40 times the distance by which the truth lies outside (Gneiting and Raftery).
    """

    scenario: str
    noise: float
    rate: float
    family: str
    deflation: str
    species: str
    verdict: str
    values: dict[str, tuple[float, float, float, float, bool]]


def outcomes(
    scenarios: Sequence[str],
    seeds: Sequence[int],
    *,
    method: Method,
    families: Sequence[str] = FAMILIES,
    noisy: bool = False,
) -> list[Outcome]:
    """Simulated and read, in the order of the seeds; noisy: with a peak to noise from 5 to 20."""
    simulated = []
    for seed in seeds:
        scenario = scenarios[seed % len(scenarios)]
        species: Species = "cat" if scenario == "purring" or seed // len(scenarios) % 2 else "dog"
        family = families[seed // (2 * len(scenarios)) % len(families)]
        settings: Settings = {}
        if noisy:
            drawn = np.random.default_rng([seed, 1]).uniform()
            settings["peak_to_noise"] = NOISY_FROM * (CLEAR_FROM / NOISY_FROM) ** drawn
        simulated.append(simulate_recording(seed, species=species, family=family, scenario=scenario, **settings))
    found = []
    for one, reading in zip(simulated, read([one.recording for one in simulated], method=method), strict=True):
        values = {}
        for name in QUANTITIES:
            estimate: Estimate | None = getattr(reading, name)
            truth = getattr(one.truth, name)
            if estimate is not None and truth is not None:
                held = estimate.low <= truth <= estimate.high
                width = estimate.high - estimate.low
                outside = max(estimate.low - truth, truth - estimate.high, 0.0)
                values[name] = (estimate.value - truth, estimate.own_sd, width, width + 40.0 * outside, held)
        found.append(
            Outcome(
                scenario=one.scenario,
                noise=one.truth.peak_to_noise or 0.0,
                rate=one.truth.pulse_rate or 0.0,
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
    error, own, width, score, held = (np.array(column, dtype=float) for column in zip(*rows, strict=True))
    sd = error.std(ddof=1)
    kurtosis = np.mean((error - error.mean()) ** 4) / error.var() ** 2
    sd_error = sd * np.sqrt(max(kurtosis - 1.0, 0.0) / (4.0 * n))
    return (
        f"  {label:<22}{name:<11}{n:>6}{error.mean():>8.2f} +-{sd / np.sqrt(n):>5.2f}{sd:>8.2f} +-{sd_error:>5.2f}"
        f"{np.sqrt(np.mean(error**2)):>8.2f}{100 * held.mean():>9.1f}{np.median(width):>8.1f}{score.mean():>8.1f}"
        f"{own.mean():>7.2f}"
    )


def groups(found: Sequence[Outcome]) -> Iterator[tuple[str, list[Outcome]]]:
    """All, then by family, kind of deflation, species, scenario and noise."""
    yield "all", list(found)
    attributes: tuple[Callable[[Outcome], str], ...] = (
        lambda o: o.family,
        lambda o: o.deflation,
        lambda o: o.species,
        lambda o: o.scenario,
        lambda o: "noise 20 and up" if o.noise >= CLEAR_FROM else "5 to 20" if o.noise >= NOISY_FROM else "under 5",
    )
    for attribute in attributes:
        present = sorted({attribute(outcome) for outcome in found})
        for value in present if len(present) > 1 else ():
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
    parser.add_argument("--seed", type=int, default=21010101, help="first seed (default 21010101)")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--method", choices=METHODS, default=METHODS[0])
    parser.add_argument("--strata", nargs="*", choices=list(STRATA), default=[name for name in STRATA if name != NOISY])
    wish = parser.parse_args()
    print(f"Readings against simulation: {wish.method}, engine {ENGINE_VERSION}, seeds from {wish.seed}")
    print(f"Artery families: {', '.join(FAMILIES)}; the engine contains none. Errors in mmHg (pulse rate: /min).")
    everything: dict[str, list[Outcome]] = {}
    with ProcessPoolExecutor(wish.workers) as pool:
        for name in wish.strata:
            count = wish.count if name in ALL_OF else min(wish.count, FEWER)
            seeds = [wish.seed + k for k in range(count)]
            families = TUNED_ON if "tuned" in name else FAMILIES
            blocks = [seeds[k : k + TOGETHER] for k in range(0, len(seeds), TOGETHER)]
            one = partial(outcomes, STRATA[name], method=wish.method, families=families, noisy=name == NOISY)
            jobs = [pool.submit(one, block) for block in blocks]
            found = [outcome for job in jobs for outcome in job.result()]
            report(name, found)
            everything[name] = found
    scored = {name: [o for o in found if o.verdict == "keep"] for name, found in everything.items()}
    calm = scored.get("undisturbed", []) + scored.get("mildly disturbed", []) + scored.get(NOISY, [])
    print("\nAgainst the targets (kept readings)")
    judge("undisturbed and mildly disturbed, noise 20 and up", "clear", [o for o in calm if o.noise >= CLEAR_FROM])
    noisy = [o for o in calm if NOISY_FROM <= o.noise < CLEAR_FROM]
    judge("the same, noise 5 to 20, by the same bias and SD (floor.txt has its own target)", "noisy", noisy)
    judge("hard", "hard", scored.get("hard", []))
    judge_verdicts(everything)
    judge_intervals([o for name in (*SCORED, "all of these, families tuned on") for o in scored.get(name, [])])
    print(f"\n{ANCHORS}")


def judge_verdicts(everything: dict[str, list[Outcome]]) -> None:
    """Print how many of each stratum are kept, beside what is wanted."""
    print("  verdicts")
    for name, least in (("undisturbed", 97.0), ("mildly disturbed", 97.0), ("hard", 60.0)):
        if name in everything:
            share = 100.0 * float(np.mean([o.verdict == "keep" for o in everything[name]]))
            print(f"    {name:<20}{share:.1f} % kept, target >= {least:g} %: {'met' if share >= least else 'NOT MET'}")
    for name in NONE_KEPT:
        if name in everything:
            kept = sum(o.verdict == "keep" for o in everything[name])
            told = f"{kept} of {len(everything[name])} kept"
            print(f"    {name:<20}{told}, target none: {'met' if kept == 0 else 'NOT MET'}")
    if "start too low" in everything:
        withheld = 100.0 * float(np.mean(["systolic" not in o.values for o in everything["start too low"]]))
        met = "met" if withheld >= 99.0 else "NOT MET"
        print(f"    {'start too low':<20}systolic withheld in {withheld:.1f} %, target >= 99 %: {met}")


def judge_intervals(kept: Sequence[Outcome]) -> None:
    """Print how many truths the 95 % intervals hold, each family weighed alike, and the group that fares worst."""
    low, high, least = HELD
    count = len({outcome.family for outcome in kept})
    told = {len(FAMILIES): "four", len(FAMILIES) + len(TUNED_ON): "six"}.get(count, str(count))
    print(f"  95 % intervals, {told} families weighed alike: {len(kept)}")
    for quantity in QUANTITIES:
        rows = [o for o in kept if quantity in o.values]
        if len(rows) < 3:
            continue
        families = sorted({o.family for o in rows})

        def held(group: Sequence[Outcome], quantity: str = quantity) -> float:
            return 100.0 * float(np.mean([o.values[quantity][4] for o in group]))

        whole = float(np.mean([held([o for o in rows if o.family == family]) for family in families]))
        parts = [(held(group), label) for label, group in groups(rows) if label in (*families, *GROUPS)]
        worst, label = min(parts)
        width = float(np.median([o.values[quantity][2] for o in rows]))
        score = float(np.mean([o.values[quantity][3] for o in rows]))
        met = low <= whole <= high and worst >= least
        print(
            f"    {quantity:<11}{whole:.1f} % held, least {worst:.1f} % ({label}); width {width:.1f}, "
            f"score {score:.1f}; target {low:g} to {high:g}, each >= {least:g}: {'met' if met else 'NOT MET'}"
        )


def judge(label: str, kind: str, kept: Sequence[Outcome]) -> None:
    """Print bias and SD of one stratum beside its targets."""
    print(f"  {label}: {len(kept)}")
    for quantity, (first, second) in TARGETS[kind].items():
        rows = [(o.values[quantity][0], o.rate) for o in kept if quantity in o.values]
        if len(rows) < 3:
            continue
        error, rate = np.array(rows).T
        if quantity == "pulse_rate":
            share = 100.0 * float(np.mean(np.abs(error) <= second / 100.0 * rate))
            met, told, wanted = share >= (first or 0.0), f"{share:.1f} % within {second:g} %", f">= {first:g} %"
        else:
            bias, sd = float(error.mean()), float(error.std(ddof=1))
            met = (first is None or abs(bias) <= first) and sd <= second
            told = f"bias {bias:+.2f}, SD {sd:.2f}"
            wanted = f"SD <= {second:g}" if first is None else f"bias within {first:g}, SD <= {second:g}"
        print(f"    {quantity:<11}{told:<28}target {wanted}: {'met' if met else 'NOT MET'}")


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
        f"{'in 95 %':>9}{'width':>8}{'score':>8}{'own':>7}"
    )
    for label, group in groups(given):
        for quantity in QUANTITIES:
            print(error_row(label, group, quantity))


if __name__ == "__main__":
    main()
