"""Why mildly disturbed recordings are not kept, and how right their values would have been.

    python validation/not_kept.py --count 1200 --seed 22710101 > validation/not_kept.txt

One line for each set of findings that made a reading doubtful or spoiled it, beside the kept ones. The values are those
that the artery fit found, whether the reading gives them or not. A rule would be too strict where the errors are no
larger than in kept recordings and the 95 % intervals hold as often.

Families are those that rules may be set on (log-sigmoid and logistic), seeds none of the scored ones. No target.
Oracle: by construction. `n` is all recordings of the line; the errors are of those that have an oscillogram.
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from reading import STRATA, TUNED_ON

from quietlimb.engine import reading
from quietlimb.engine.circumstances import Species
from quietlimb.engine.methods.artery_fit import ArteryFit, fit_artery
from quietlimb.engine.values import TWO_SIDED_95
from quietlimb.engine.version import ENGINE_VERSION
from quietlimb.simulator import simulate_recording

Samples = NDArray[np.float64]
SCENARIOS = STRATA["mildly disturbed"]
QUANTITIES = ("systolic", "mean", "diastolic")
TOGETHER = 50


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Outcome:
    """One recording.

    why      : codes of what made it doubtful or spoiled it, each with its severity; empty where it is kept
    scenario : under which it was simulated
    error    : (3,) of the fit's values [mmHg]; nan without an oscillogram
    half     : (3,) half of their 95 % intervals [mmHg]; nan likewise
    """

    why: str
    scenario: str
    error: Samples
    half: Samples


def outcomes(seeds: Sequence[int]) -> list[Outcome]:
    """Simulated and read, in the order of the seeds."""
    made = []
    for seed in seeds:
        scenario = SCENARIOS[seed % len(SCENARIOS)]
        species: Species = "cat" if scenario == "purring" or seed // len(SCENARIOS) % 2 else "dog"
        family = TUNED_ON[seed // (2 * len(SCENARIOS)) % len(TUNED_ON)]
        made.append(simulate_recording(seed, species=species, family=family, scenario=scenario))
    looks = [reading._look(one.recording) for one in made]
    fittable = [(k, o, look.train) for k, look in enumerate(looks) if (o := look.oscillogram) and look.train]
    fitted = fit_artery([o for _, o, _ in fittable], [train for *_, train in fittable])
    fits: dict[int, ArteryFit] = dict(zip([k for k, _, _ in fittable], fitted, strict=True))
    found = []
    for k, (one, look) in enumerate(zip(made, looks, strict=True)):
        fit = fits.get(k)
        findings = reading._conclude(look, fit, "artery fit").findings
        codes = {f"{finding.code} ({finding.severity})" for finding in findings if finding.severity != "note"}
        error = half = np.full(3, np.nan)
        if fit is not None:
            error = fit.values - np.array([getattr(one.truth, quantity) for quantity in QUANTITIES])
            half = TWO_SIDED_95 * np.sqrt(np.diag(fit.own_cov) + np.diag(fit.shared_cov))
        found.append(Outcome(why=", ".join(sorted(codes)), scenario=one.scenario, error=error, half=half))
    return found


def row(label: str, of_row: Sequence[Outcome], count: int) -> str:
    """One line of the table."""
    scenarios = "".join(f"{sum(o.scenario == scenario for o in of_row):>6}" for scenario in SCENARIOS)
    told = f"{len(of_row):>5}{100.0 * len(of_row) / count:>7.2f}{scenarios}"
    error, half = (np.array([getattr(o, name) for o in of_row]) for name in ("error", "half"))
    seen = np.isfinite(error[:, 0])
    if seen.any():
        rmse = np.sqrt(np.mean(error[seen] ** 2, axis=0))
        held = 100.0 * np.mean(np.abs(error[seen]) <= half[seen], axis=0)
        told += "".join(f"{value:>7.1f}" for value in rmse) + "".join(f"{value:>7.0f}" for value in held)
    return f"{told:<85}  {label}".rstrip()


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, default=1200, help="recordings (default 1200)")
    parser.add_argument("--seed", type=int, default=22710101, help="first seed (default 22710101)")
    parser.add_argument("--workers", type=int, default=1)
    wish = parser.parse_args()
    seeds = list(range(wish.seed, wish.seed + wish.count))
    with ProcessPoolExecutor(wish.workers) as pool:
        parts = [seeds[k : k + TOGETHER] for k in range(0, len(seeds), TOGETHER)]
        found = [outcome for part in pool.map(outcomes, parts) for outcome in part]
    print(f"Mildly disturbed, why not kept: engine {ENGINE_VERSION}, {wish.count} recordings, seeds from {wish.seed}")
    names = "".join(f"{name[:5]:>6}" for name in SCENARIOS)
    print(f"{'n':>5}{'%':>7}{names}{'RMSE, mmHg':>21}{'per cent held':>21}")
    print(f"{'':>12}{'':>24}" + 2 * "".join(f"{name[:4]:>7}" for name in QUANTITIES))
    print(row("kept", [o for o in found if not o.why], wish.count))
    reasons = [o.why for o in found if o.why]
    for why in sorted(set(reasons), key=lambda why: (-reasons.count(why), why)):
        print(row(why, [o for o in found if o.why == why], wish.count))


if __name__ == "__main__":
    main()
