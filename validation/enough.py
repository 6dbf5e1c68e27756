"""Whether the advice to stop reading can be trusted: widths foretold against widths found, and what stopping leads to.

    python validation/enough.py --sessions 134 --seed 20501102 > validation/enough.txt

First table: the half-width of the systolic 95 % interval expected after one, two and three more readings, from series
of 3 to 7, against the half-width that the simulated animal's next readings then gave. Second table: sessions read on
until the advice says enough, at most to twelve readings, by the numbers alone and with the protocol's count as well;
how often the interval held the level at its end, how often the charted value fell into another category than the
truth, and the same where the category was called told. A rule that stops when it looks good could fool itself; this
is where it would show.

Everything is simulated: nothing here says how a real animal would fare.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from quietlimb.engine.circumstances import Circumstances
from quietlimb.engine.session.charting import chart
from quietlimb.engine.session.enough import CATEGORY_TOLD, Enough, enough
from quietlimb.engine.session.expected import MOST_MORE, expected_half_widths
from quietlimb.engine.session.series import Series, series_from_values
from quietlimb.engine.standards.acvim_2018 import ACVIM_2018
from quietlimb.simulator.level_course import LevelCourse
from quietlimb.simulator.series import KINDS, Kind, SimulatedSeries, simulate_series

Values = NDArray[np.float64]
SHARES = (0.0, 0.1, 0.25)
FEWEST, MOST = 3, 12
CAT = Circumstances(species="cat")


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--sessions", type=int, default=134, help="a kind and share of spoiled readings (default 134)")
    parser.add_argument("--seed", type=int, default=20501102, help="of the whole study (default 20501102)")
    chosen = parser.parse_args()
    print(f"Simulated sessions: {chosen.sessions} for each kind and share of spoiled readings, seed {chosen.seed}.\n")
    _print_widths(chosen.sessions, chosen.seed)
    _print_stopping(chosen.sessions, chosen.seed)


def _first(simulated: SimulatedSeries, n: int) -> Series:
    return series_from_values(
        circumstances=CAT,
        minute=list(simulated.minute[:n]),
        systolic=list(simulated.systolic[:n]),
        mean=list(simulated.mean[:n]),
        diastolic=list(simulated.diastolic[:n]),
    )


def _sessions(sessions: int, seed: int, part: int, readings: int) -> list[tuple[Kind, float, int, SimulatedSeries]]:
    return [
        (kind, share, k, simulate_series([seed, part, i, j, k], kind=kind, readings=readings, spoiled_share=share))
        for i, kind in enumerate(KINDS)
        for j, share in enumerate(SHARES)
        for k in range(sessions)
    ]


def _print_widths(sessions: int, seed: int) -> None:
    rows: dict[str, list[tuple[Values, Values]]] = {}
    for kind, share, k, simulated in _sessions(sessions, seed, 1, 7 + MOST_MORE):
        n = 3 + k % 5
        expected = np.array(expected_half_widths(chart(_first(simulated, n))))
        found = np.array([_half_width(_first(simulated, n + more)) for more in range(MOST_MORE + 1)])
        for row in ("all", kind, f"spoiled {100 * share:.0f} %", f"{n} readings"):
            rows.setdefault(row, []).append((expected, found))
    print("Half-width [mmHg] now, and after one, two and three more readings")
    print(f"{'':16s}{'N':>6s}{'now':>7s}{'expected':>25s}{'found':>22s}{'expected / found':>24s}")
    for row in ("all", *KINDS, *(f"spoiled {100 * s:.0f} %" for s in SHARES), *(f"{n} readings" for n in range(3, 8))):
        expected, found = (np.mean(column, axis=0) for column in zip(*rows[row], strict=True))
        ratio = expected[1:] / found[1:]
        print(
            f"{row:16s}{len(rows[row]):6d}{expected[0]:7.1f}    "
            + "".join(f"{each:7.1f}" for each in expected[1:])
            + "  "
            + "".join(f"{each:7.1f}" for each in found[1:])
            + "   "
            + "".join(f"{each:7.2f}" for each in ratio)
        )


def _half_width(series: Series) -> float:
    systolic = chart(series).systolic
    assert systolic is not None
    return 0.5 * (systolic.high - systolic.low)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stopped:
    """Where a session ended."""

    readings: int
    advised: bool
    held: bool
    wrong: bool
    told: bool
    error: float


def _print_stopping(sessions: int, seed: int) -> None:
    rows: dict[tuple[str, str], list[Stopped]] = {}
    for kind, share, _, simulated in _sessions(sessions, seed, 2, MOST):
        stops: dict[str, Stopped] = {}
        for n in range(FEWEST, MOST + 1):
            judged = _judged(simulated, n)
            for rule in ("numbers alone", "and protocol"):
                if rule not in stops and (_is_enough(judged[0], rule) or n == MOST):
                    stops[rule] = _stopped(simulated, n, *judged, advised=_is_enough(judged[0], rule))
            if len(stops) == 2:
                break
        stops["five readings"] = _stopped(simulated, 5, *_judged(simulated, 5), advised=True)
        for rule, stopped in stops.items():
            for row in ("all", kind, f"spoiled {100 * share:.0f} %"):
                rows.setdefault((row, rule), []).append(stopped)
    print("\nReading on until it is enough (wanted half-width 8 mmHg); beside it five readings whatever they show")
    print(
        f"{'':16s}{'rule':16s}{'N':>6s}{'readings':>10s}{'stopped %':>11s}{'RMSE':>7s}{'cover %':>13s}"
        f"{'wrong category %':>18s}{'told %':>8s}{'wrong where told %':>20s}"
    )
    for row in ("all", *KINDS, *(f"spoiled {100 * s:.0f} %" for s in SHARES)):
        for rule in ("numbers alone", "and protocol", "five readings"):
            print(_row(row, rule, rows[row, rule]))


def _judged(simulated: SimulatedSeries, n: int) -> tuple[Enough, float, float, float]:
    charted = chart(_first(simulated, n))
    advice = enough(charted)
    assert advice is not None
    assert charted.systolic is not None
    return advice, charted.systolic.low, charted.systolic.value, charted.systolic.high


def _is_enough(advice: Enough, rule: str) -> bool:
    return advice.by_numbers and (rule == "numbers alone" or advice.by_protocol)


def _stopped(
    simulated: SimulatedSeries, n: int, advice: Enough, low: float, value: float, high: float, *, advised: bool
) -> Stopped:
    truth = _level_at(simulated.course, simulated, n)
    return Stopped(
        readings=n,
        advised=advised,
        held=low <= truth <= high,
        wrong=ACVIM_2018.category_of(value) != ACVIM_2018.category_of(truth),
        told=advice.category_probability >= CATEGORY_TOLD,
        error=value - truth,
    )


def _level_at(course: LevelCourse, simulated: SimulatedSeries, n: int) -> float:
    """The true systolic pressure when reading n was taken."""
    excess = course.excess(simulated.minute)
    return float(simulated.truth.systolic + excess[n - 1] - excess[-1])


def _row(row: str, rule: str, stops: list[Stopped]) -> str:
    def mean(name: str, chosen: list[Stopped] = stops) -> float:
        return float(np.mean([getattr(stop, name) for stop in chosen])) if chosen else float("nan")

    told = [stop for stop in stops if stop.told]
    held = mean("held")
    held_error = float(np.sqrt(held * (1.0 - held) / len(stops)))
    error = np.array([stop.error for stop in stops])
    return (
        f"{row:16s}{rule:16s}{len(stops):6d}{mean('readings'):10.1f}{100 * mean('advised'):11.0f}"
        f"{float(np.sqrt(np.mean(error**2))):7.2f}{100 * held:8.1f}±{100 * held_error:4.1f}"
        f"{100 * mean('wrong'):18.1f}{100 * mean('told'):8.0f}{100 * mean('wrong', told):20.1f}"
    )


if __name__ == "__main__":
    main()
