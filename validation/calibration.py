"""Whether the intervals of a reading hold what they promise, at every width and not only at 95 %.

    python validation/calibration.py --count 350 --seed 20810101 > validation/calibration.txt

The recordings are those of `validation/reading.py` (its scored strata, its families, its verdicts); kept readings only.
A reading's error is taken for normal about its value, with own and shared variance added, as its 95 % interval is. For
each pressure two things are counted:

- how many truths lie inside the central interval of 10, 20, ... 99 %. More than promised: intervals too wide.
- the probability integral transform: the share of the reading's distribution below the truth, in ten equal bins. Level
  when all is well; heaped in the middle when intervals are too wide, at both ends when too narrow, at one end when the
  readings are biased (at the upper end: read too low).

Standing of every figure: by construction, so it holds for simulated animals only.
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from reading import SCORED, STRATA, TOGETHER, Outcome, outcomes
from scipy.special import ndtr, ndtri

from quietlimb.engine.reading import METHODS
from quietlimb.engine.version import ENGINE_VERSION
from quietlimb.figures.export import save
from quietlimb.figures.inline import inline
from quietlimb.figures.look import LOOKS, SMALL_SIZE, Look, Spec, config, title

Array = NDArray[np.float64]

PRESSURES = ("systolic", "mean", "diastolic")
NOMINAL = np.array([0.10, 0.20, 0.30, 0.40, 0.50, 0.60, 0.70, 0.80, 0.90, 0.95, 0.99])
BINS = 10
HALF_95 = float(ndtri(0.975))
PICTURE = Path(__file__).resolve().parents[1] / "docs" / "pictures" / "calibration.png"
WIDTH, HEIGHT, LOW_HEIGHT = 180, 180, 90


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Calibration:
    """One pressure of n kept readings.

    observed : share of truths inside each central interval of `NOMINAL`
    bins     : share of truths in each tenth of the readings' distributions
    """

    name: str
    n: int
    observed: Array
    bins: Array

    def binomial_sd(self, share: Array) -> Array:
        """What counting n readings leaves uncertain about such a share."""
        return np.asarray(np.sqrt(share * (1.0 - share) / self.n))


def calibrated(name: str, error: Array, sd: Array) -> Calibration:
    """Calibration of errors (value minus truth) (n,) against the standard deviations that were told (n,)."""
    below = ndtr(-error / sd)
    central = np.abs(2.0 * below - 1.0)
    return Calibration(
        name=name,
        n=int(error.size),
        observed=np.array([np.mean(central <= share) for share in NOMINAL]),
        bins=np.histogram(below, bins=BINS, range=(0.0, 1.0))[0] / error.size,
    )


def calibration(found: Sequence[Outcome]) -> list[Calibration]:
    """Of each pressure, over the kept readings that give it."""
    kept = [outcome for outcome in found if outcome.verdict == "keep"]
    results = []
    for name in PRESSURES:
        rows = [outcome.values[name] for outcome in kept if name in outcome.values]
        if rows:
            # own and shared variance together are in the width of the 95 % interval
            error, _, width, _, _ = np.array(rows, dtype=float).T
            results.append(calibrated(name, error, width / (2.0 * HALF_95)))
    return results


def print_table(label: str, results: Sequence[Calibration]) -> None:
    """Print both counts of one stratum, in per cent."""
    print(f"\n{label}")
    print(f"  {'inside the central, %':<24}{'n':>6}" + "".join(f"{100 * share:>7.0f}" for share in NOMINAL))
    for one in results:
        print(f"  {one.name:<24}{one.n:>6}" + "".join(f"{100 * share:>7.1f}" for share in one.observed))
    tenths = "".join(f"{k / BINS:>7.1f}" for k in range(1, BINS + 1))
    print(f"  {'truth up to, share':<24}{'':>6}" + tenths)
    for one in results:
        print(f"  {one.name:<24}{one.n:>6}" + "".join(f"{100 * share:>7.1f}" for share in one.bins))
    if results:
        worst = 100.0 * float(max(one.binomial_sd(np.array([0.5]))[0] for one in results))
        tenth = 100.0 * float(max(one.binomial_sd(np.array([1.0 / BINS]))[0] for one in results))
        print(f"  Monte Carlo error: up to {worst:.1f} inside an interval, {tenth:.1f} in a bin that should hold 10")


def picture(results: Sequence[Calibration], lines: tuple[str, ...]) -> Spec:
    """Observed over nominal share, and below it the histogram, for each pressure."""
    import altair as alt

    look = LOOKS["light"]
    block = title(look, invented=None, heading="Do the intervals hold what they promise?", lines=lines)
    rows = [alt.hconcat(*(panel(one, look, k == 0) for k, one in enumerate(results))) for panel in (_shares, _bins)]
    half, most = int(np.argmin(np.abs(NOMINAL - 0.5))), int(np.argmin(np.abs(NOMINAL - 0.95)))
    told = "; ".join(
        f"{one.name}: {100 * one.observed[half]:.0f} % inside the 50 % and {100 * one.observed[most]:.0f} % inside the "
        "95 % interval"
        for one in results
    )
    spec: Spec = (
        alt.vconcat(*rows)
        .properties(
            title=alt.TitleParams(**block) if block else alt.Undefined,
            description=f"Share of truths inside central intervals, and probability integral transform. {told}.",
        )
        .to_dict()
    )
    spec["config"] = config(look)
    spec["padding"] = 8
    return spec


def _shares(one: Calibration, look: Look, first: bool) -> Any:
    import altair as alt

    scale = alt.Scale(domain=[0, 100], nice=False)
    ticks = alt.Axis(values=[0, 25, 50, 75, 100], title=f"{one.name}: nominal, %", grid=False)
    x = alt.X("nominal:Q", scale=scale, axis=ticks)

    def y(name: str) -> Any:
        heading = "inside the interval, %" if first else None
        return alt.Y(f"{name}:Q", scale=scale, axis=alt.Axis(values=[0, 25, 50, 75, 100], title=heading))

    fine = np.linspace(0.0, 1.0, 41)
    spread = 1.96 * one.binomial_sd(fine)
    band = [
        {"nominal": 100 * p, "low": 100 * max(p - s, 0.0), "high": 100 * min(p + s, 1.0)}
        for p, s in zip(fine.tolist(), spread.tolist(), strict=True)
    ]
    points = [
        {"nominal": 100 * p, "observed": 100 * o} for p, o in zip(NOMINAL.tolist(), one.observed.tolist(), strict=True)
    ]
    return alt.layer(
        alt.Chart(inline(band)).mark_area(color=look.hairline, opacity=0.8).encode(x=x, y=y("low"), y2="high:Q"),
        alt.Chart(inline(band)).mark_line(color=look.quiet, strokeWidth=1).encode(x=x, y=y("nominal")),
        alt.Chart(inline(points)).mark_line(color=look.accent, strokeWidth=1.5).encode(x=x, y=y("observed")),
        alt.Chart(inline(points)).mark_point(color=look.accent, filled=True, size=30).encode(x=x, y=y("observed")),
    ).properties(width=WIDTH, height=HEIGHT)


def _bins(one: Calibration, look: Look, first: bool) -> Any:
    import altair as alt

    top = float(max(30.0, 5.0 * np.ceil(20.0 * one.bins.max())))
    level = 100.0 / BINS
    rows = [
        {"from": k / BINS, "to": (k + 1) / BINS, "share": 100 * share, "none": 0.0}
        for k, share in enumerate(one.bins.tolist())
    ]
    scale = alt.Scale(domain=[0.0, 1.0], nice=False)
    x_axis = alt.Axis(values=[0.0, 0.5, 1.0], title="where the truth lies in the distribution told", grid=False)
    x_axis.titleFontSize = SMALL_SIZE
    x = alt.X("from:Q", scale=scale, axis=x_axis)

    def y(name: str) -> Any:
        axis = alt.Axis(title="of the truths, %" if first else None, tickCount=3)
        return alt.Y(f"{name}:Q", scale=alt.Scale(domain=[0, top], nice=False), axis=axis)

    spread = 196.0 * float(one.binomial_sd(np.array([1.0 / BINS]))[0])
    band = [{"low": max(level - spread, 0.0), "high": level + spread, "level": level}]
    return alt.layer(
        alt.Chart(inline(rows))
        .mark_rect(color=look.depths[1], stroke=look.ground)
        .encode(x=x, x2="to:Q", y=y("none"), y2="share:Q"),
        alt.Chart(inline(band)).mark_rect(color=look.quiet, opacity=0.25).encode(y=y("low"), y2="high:Q"),
        alt.Chart(inline(band)).mark_rule(color=look.quiet).encode(y=y("level")),
    ).properties(width=WIDTH, height=LOW_HEIGHT)


def main(arguments: list[str] | None = None) -> None:
    """Print the table and draw the picture, of all scored strata together."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, default=350, help="recordings a stratum (default 350)")
    parser.add_argument("--seed", type=int, default=20810101, help="first seed (default 20810101)")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--method", choices=METHODS, default=METHODS[0])
    parser.add_argument("--picture", type=Path, default=PICTURE, help="where the picture goes: .png, .svg or .pdf")
    wish = parser.parse_args(arguments)
    print(f"Calibration against simulation: {wish.method}, engine {ENGINE_VERSION}, seeds from {wish.seed}")
    print(f"Kept readings of {wish.count} recordings a stratum; every figure in the table but n in per cent.")
    seeds = [wish.seed + k for k in range(wish.count)]
    blocks = [seeds[k : k + TOGETHER] for k in range(0, len(seeds), TOGETHER)]
    together: list[Outcome] = []
    with ProcessPoolExecutor(wish.workers) as pool:
        for stratum in SCORED:
            jobs = [pool.submit(outcomes, STRATA[stratum], block, method=wish.method) for block in blocks]
            found = [outcome for job in jobs for outcome in job.result()]
            print_table(stratum, calibration(found))
            together += found
    results = calibration(together)
    print_table("together", results)
    kept = sum(outcome.verdict == "keep" for outcome in together)
    lines = (
        f"{kept} kept readings of {len(together)} simulated recordings ({', '.join(SCORED)}), seeds from {wish.seed}",
        "line and bins: counted; grey: what would be seen of perfect intervals, 95 % of the time",
    )
    save(picture(results, lines), wish.picture)


if __name__ == "__main__":
    main()
