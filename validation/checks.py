"""Whether the intervals of checks of instruments hold, and how soon the drift chart sounds, and how often for nothing.

    OMP_NUM_THREADS=1 python validation/checks.py --runs 2000 --seed 20310104 > validation/checks.txt

Under five minutes on one core; more threads for its small matrices only get in each other's way.

Leaks: recordings of a closed cuff that settles by 0.5 to 6 % with 2 to 20 s and leaks by 0 to 12 mmHg/min; the truth is
the mean leak over the hold, without the settling. Static accuracy: instruments off by zero, gain, friction and bending;
the manometer is off by an error of its own, both are read with their rounding. Drift: checks each half year, the first
of them at zero error; the chart knows of a check what 1 mmHg of rounding says.

Everything is simulated: nothing here says how a real instrument would fare.
"""

from __future__ import annotations

import argparse
import math
from collections import Counter
from collections.abc import Iterator
from datetime import date

import numpy as np

from quietlimb.engine.values import Cited
from quietlimb.instruments.checks import DisplayPoints, LeakPoints, Reference, StaticPoints
from quietlimb.instruments.drift import USUAL_SD, Drift, DriftPoint, drift
from quietlimb.instruments.leak import fitted_holds, judged_holds, leak
from quietlimb.instruments.static import display, static_accuracy
from quietlimb.simulator.closed_cuff import ClosedCuff, draw_closed_cuff, record_closed_cuff
from quietlimb.simulator.sensor import Sensor

LEAKS = (0.0, 1.0, 2.0, 3.0, 5.0, 6.0, 8.0, 12.0)
LEVELS = (0.0, 50.0, 100.0, 150.0, 200.0, 250.0)
LIMIT = Cited(3.0, "mmHg", "Quietlimb", "the limit of this study", "invented")
CHECKS = 20
HALF_YEAR = 182.625


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--runs", type=int, default=2000, help="of each row (default 2000)")
    parser.add_argument("--seed", type=int, default=20310104, help="of the whole study (default 20310104)")
    chosen = parser.parse_args()
    print(f"Simulated checks: {chosen.runs} runs of each row, seed {chosen.seed}.\n")
    _print_leaks(chosen.runs, chosen.seed)
    _print_values(chosen.runs, chosen.seed)
    _print_static(chosen.runs, chosen.seed)
    _print_false_alarms(chosen.runs, chosen.seed)
    _print_detection(chosen.runs, chosen.seed)
    _print_forecast(chosen.runs, chosen.seed)


def share(hits: int, of: int) -> str:
    """A share in percent with its Monte Carlo error."""
    if not of:
        return "-"
    p = hits / of
    return f"{100.0 * p:.1f}+-{100.0 * math.sqrt(p * (1.0 - p) / of):.1f}"


# -- leak -------------------------------------------------------------------------------------------------------------


def true_leak(cuff: ClosedCuff, closed_mmhg: float, begin_s: float, end_s: float) -> float:
    """Mean loss through the leak between two moments after closing. [mmHg/min]"""
    since = np.linspace(begin_s, end_s, 2001)
    fading = cuff.leak_mmhg_per_min / 60.0 / closed_mmhg
    return 60.0 * float(np.mean(fading * cuff.course(since, closed_mmhg)))


def _print_leaks(runs: int, seed: int) -> None:
    print("Leak from a recording at 250 mmHg, limit 4 mmHg/min; leaks 0, 1, 2, 3 against 5, 6, 8, 12 mmHg/min")
    print("                          held %   half-width median (95 of 100)   RMSE   not judged %   wrong verdict %")
    for name, hold_s, step in (
        ("60 s, usual sensor", 60.0, None),
        ("60 s, steps of 1 mmHg", 60.0, 1.0),
        ("300 s, steps of 1 mmHg", 300.0, 1.0),
    ):
        held, widths, errors, open_, wrong = 0, [], [], 0, 0
        rng = np.random.default_rng([seed, 1, int(hold_s), int(step or 0)])
        for _run in range(runs):
            lost = float(rng.choice(LEAKS))
            cuff = draw_closed_cuff(rng, lost)
            sensor = None if step is None else Sensor(sampling_hz=50.0, noise_mmhg=0.03, quantum_mmhg=step)
            made = record_closed_cuff(int(rng.integers(2**40)), cuff, hold_s=hold_s, sensor=sensor)
            fits = fitted_holds(made)
            result = judged_holds(fits)
            longest = max(fits, key=lambda fit: fit.seconds)
            # The pump stops where the pressure is highest, give or take the sensor's steps.
            closed_s = float(made.time_s[int(made.cuff_pressure_mmhg.argmax())])
            begin, end = longest.start_s - closed_s, longest.end_s - closed_s
            truth = true_leak(cuff, 250.0, max(begin, 0.0), end)
            held += longest.low <= truth <= longest.high
            widths.append(0.5 * (longest.high - longest.low))
            errors.append(longest.rate - truth)
            open_ += result.verdict == "not-judged"
            wrong += result.passed is not None and result.passed != (lost < 4.0)
        half = np.quantile(widths, (0.5, 0.95))
        rmse = math.sqrt(float(np.mean(np.square(errors))))
        print(
            f"{name:22} {share(held, runs):>11}   {half[0]:8.2f} ({half[1]:.2f})   {rmse:18.2f}   "
            f"{share(open_, runs):>10}   {share(wrong, runs - open_):>10}"
        )
    print()


def _print_values(runs: int, seed: int) -> None:
    print("Leak from first and last value, settled, time off by up to 1 s")
    print("                          held %   half-width median")
    for seconds in (60.0, 300.0):
        rng = np.random.default_rng([seed, 2, int(seconds)])
        held, widths = 0, []
        for _run in range(runs):
            lost, start = float(rng.choice(LEAKS)), float(rng.uniform(200.0, 260.0))
            real = seconds + float(rng.uniform(-1.0, 1.0))
            end = start - lost * real / 60.0
            points = LeakPoints(start_mmhg=(round(start),), end_mmhg=(round(end),), held_s=(seconds,))
            found = leak(points).figures["leak"]
            held += found.low <= lost <= found.high
            widths.append(0.5 * (found.high - found.low))
        print(f"{seconds:4.0f} s                {share(held, runs):>11}   {np.median(widths):8.2f}")
    print()


# -- static accuracy --------------------------------------------------------------------------------------------------


def _print_static(runs: int, seed: int) -> None:
    print("Static accuracy, 0 to 250 mmHg up and down; manometer 1 mmHg (k = 2), read to 0.1")
    print("                        at the worst point %   worst of all %   mean %   hysteresis %   display, 2 points %")
    for resolution, expanded in ((1.0, 1.0), (2.0, 1.0), (0.1, 1.0), (1.0, 0.2)):
        rng = np.random.default_rng([seed, 3, int(10 * resolution), int(10 * expanded)])
        held: Counter[str] = Counter()
        for _run in range(runs):
            held.update(_one_instrument(rng, resolution, expanded))
        names = ("at", "all", "mean", "hysteresis", "display")
        cells = "   ".join(f"{share(held[name], runs):>12}" for name in names)
        print(f"read to {resolution:g}, manometer {expanded:g}   {cells}")
    print()


def _one_instrument(rng: np.random.Generator, resolution: float, expanded: float) -> Iterator[str]:
    """Which intervals held the truth, of one instrument."""
    reference = Reference(expanded_mmhg=expanded, resolution_mmhg=0.1)
    zero, gain, friction, bend = rng.normal(0.0, (1.0, 0.008, 0.7, 1.0))
    levels = np.array([*LEVELS, *reversed(LEVELS)])
    down = np.arange(levels.size) >= len(LEVELS)
    # The pump does not stop on the mark; the manometer shows the pressure less its own error.
    pressure = levels + rng.uniform(-2.0, 2.0, levels.size) * (levels > 0.0)
    span = pressure / 250.0
    true = zero + gain * pressure + np.where(down, 1.0, -1.0) * abs(friction) * np.sin(math.pi * np.clip(span, 0, 1))
    true = true + bend * span * (1.0 - span)
    off = float(rng.normal(0.0, 0.5 * expanded))
    shown = np.round((pressure + off) / 0.1) * 0.1
    instrument = np.round((pressure + true) / resolution) * resolution
    points = StaticPoints(
        reference_mmhg=tuple(shown.tolist()),
        instrument_mmhg=tuple(instrument.tolist()),
        direction=tuple("down" if each else "up" for each in down),
        resolution_mmhg=resolution,
        reference=reference,
    )
    found = static_accuracy(points).figures
    worst, mean, hysteresis = found["worst_error"], found["mean_error"], found["hysteresis"]
    at = int(np.argmin(np.abs(shown - worst.at_mmhg) + 100.0 * ~np.isclose(instrument - shown, worst.value)))
    if worst.low <= true[at] <= worst.high:
        yield "at"
    half = worst.high - worst.value
    if abs(abs(worst.value) - float(np.abs(true).max())) <= half:
        yield "all"
    if mean.low <= float(true.mean()) <= mean.high:
        yield "mean"
    falling = true[down] - np.interp(pressure[down], pressure[~down], true[~down])
    if abs(abs(hysteresis.value) - float(np.abs(falling).max())) <= hysteresis.high - hysteresis.value:
        yield "hysteresis"
    two = [2, 4]
    beside = display(
        DisplayPoints(
            manometer_mmhg=tuple(shown[two].tolist()),
            display_mmhg=tuple(instrument[two].tolist()),
            resolution_mmhg=resolution,
            reference=reference,
        )
    ).figures["worst_error"]
    if abs(abs(beside.value) - float(np.abs(true[two]).max())) <= beside.high - beside.value:
        yield "display"


# -- drift ------------------------------------------------------------------------------------------------------------


def _checked(rng: np.random.Generator, sd: float, per_year: float, count: int) -> list[DriftPoint]:
    return [
        DriftPoint(
            on=date.fromordinal(date(2020, 1, 7).toordinal() + round(k * HALF_YEAR)),
            error_mmhg=float(per_year * k / 2.0 + rng.normal(0.0, sd)),
        )
        for k in range(count)
    ]


def _sounded(found: Drift, *rules: str) -> int | None:
    """0-based place of the first check at which one of the rules sounded."""
    assert found.chart is not None
    return next((signal.at for signal in found.chart.signals if signal.rule in rules), None)


def _print_false_alarms(runs: int, seed: int) -> None:
    print(f"Drift chart, nothing changes: sounds at least once within {CHECKS} checks, % of runs")
    print(f"(spread known to the chart {USUAL_SD.value:g} mmHg)     jump   slow-drift   restless   any   a check, any")
    for sd in (0.15, 0.29, 0.45, 0.6):
        rng = np.random.default_rng([seed, 4, int(100 * sd)])
        found = [drift(_checked(rng, sd, 0.0, CHECKS), LIMIT) for _run in range(runs)]
        each = [sum(_sounded(one, rule) is not None for one in found) for rule in ("jump", "slow-drift", "restless")]
        sounding = sum(len({signal.at for signal in one.chart.signals}) for one in found if one.chart is not None)
        cells = "   ".join(f"{share(count, runs):>9}" for count in each)
        any_ = sum(_sounded(one, "jump", "slow-drift", "restless") is not None for one in found)
        print(f"real spread {sd:.2f}          {cells}   {share(any_, runs):>9}   {100 * sounding / runs / CHECKS:.2f}")
    print()


def _print_detection(runs: int, seed: int) -> None:
    print(
        "Drift chart, the error grows from the first check on, real spread 0.29 mmHg, limit 3 mmHg, half-yearly checks"
    )
    print("mmHg/year   passes at check   first sound, median (90 of 100)   before it passes %   service told before %")
    for per_year in (0.3, 0.5, 1.0, 2.0):
        rng = np.random.default_rng([seed, 5, int(10 * per_year)])
        passes = int(2.0 * LIMIT.value / per_year) + 1  # 0-based place of the first check with a true error beyond it
        first, told = [], 0
        for _run in range(runs):
            points = _checked(rng, 0.29, per_year, passes + 1)
            # As it would be lived through: after each check the chart is drawn anew from all so far.
            lived = [drift(points[: k + 1], LIMIT) for k in range(2, passes + 1)]
            sounds = (k for k, found in enumerate(lived, start=2) if found.chart is not None and found.chart.signals)
            first.append(next(sounds, passes + 1))
            told += any(found.forecast.reach == "within-reach" for found in lived[:-1])
        middle = np.quantile(np.array(first) + 1, (0.5, 0.9))
        before = sum(place < passes for place in first)
        print(
            f"{per_year:9.1f}   {passes + 1:15d}   {middle[0]:15.0f} ({middle[1]:.0f})   {share(before, runs):>24}   "
            f"{share(told, runs):>16}"
        )
    print()


def _print_forecast(runs: int, seed: int) -> None:
    print(
        "Forecast: where the interval has an end, it holds the day on which the error passes 3 mmHg; real spread 0.29"
    )
    print("mmHg/year   checks   within reach %   early end before the day %   both ends given %   both hold it %")
    for per_year, count in ((0.5, 6), (0.5, 10), (1.0, 5), (0.0, 8)):
        rng = np.random.default_rng([seed, 6, int(10 * per_year), count])
        within, early, both, held = 0, 0, 0, 0
        for _run in range(runs):
            found = drift(_checked(rng, 0.29, per_year, count), LIMIT)
            forecast = found.forecast
            if forecast.earliest is None:
                continue
            within += 1
            truth = found.points[0].on.toordinal() + (LIMIT.value / per_year * 365.25 if per_year else math.inf)
            early += forecast.earliest.toordinal() <= truth + 1
            if forecast.latest is not None:
                both += 1
                held += forecast.earliest.toordinal() - 1 <= truth <= forecast.latest.toordinal() + 1
        print(
            f"{per_year:9.1f}   {count:6d}   {share(within, runs):>12}   {share(early, within):>20}   "
            f"{share(both, runs):>18}   {share(held, both):>14}"
        )


if __name__ == "__main__":
    main()
