"""What is told while the pressure falls, against simulation: how soon, how often for nothing, and how much it changes.

    python validation/live.py --count 200 --seed 22310101 > validation/live.txt

Recordings are fed by tenths of a second to `engine.live.Watch`. Artery families as in `reading.py`: the engine contains
none. The limits of the remarks were set on two other families (log-sigmoid, logistic), seeds 31000000 to 31200000. A
movement is found when the limb is said to move between its start and a second after its end. Standing of every figure:
by construction, so it holds for simulated animals only.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass

import numpy as np
from reading import FAMILIES

from quietlimb.engine.circumstances import Species
from quietlimb.engine.judgement.course import FAST_MMHG_PER_PULSE
from quietlimb.engine.live import Moment, Watch
from quietlimb.engine.live import watch as watch_module
from quietlimb.engine.reading import Reading
from quietlimb.engine.recording import Recording
from quietlimb.engine.version import ENGINE_VERSION
from quietlimb.simulator import simulate_recording
from quietlimb.simulator.recordings import SimulatedRecording, Truth

QUANTITIES = ("systolic", "mean", "diastolic")
CALM = ("undisturbed", "unlike others")
UNLIKE_OTHERS = (
    "purring",
    "shivering",
    "ectopic",
    "atrial-fibrillation",
    "slow-pulse",
    "fast-pulse",
    "leak",
    "alternans",
    "pressure-drift",
    "cut-off",
)
ROWS = {
    "undisturbed": ("undisturbed",),
    "start too low": ("start-too-low",),
    "unlike others": UNLIKE_OTHERS,
    "short motion": ("mild-motion", "repeated-motion"),
    "motion throughout": ("sustained-motion", "tail-wagging"),
    "fast deflation": ("fast-deflation",),
}
PIECE_S = 0.1
MOVING = ("limb-moving", "limb-moved-too-long")
FOUND_UNTIL_S = 1.0  # after the end of a movement
LARGE_MMHG = 3.0  # peak to peak; smaller ones are no larger than many an animal's pulses
MOTIONS = ("short motion", "motion throughout")
Values = dict[str, tuple[float, float, float]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What was told of one recording.

    per_pulse_mmhg : fall of the cuff from one true pulse to the next
    movements    : of each, from its start to the remark, None where none came [s]; and its size, peak to peak [mmHg]
    alarms       : how often the limb began to be said to move
    deflating_s  : how long that was watched
    said         : codes said while the pressure fell
    said_after   : codes said when the cuff was empty
    first        : each value with its interval as first shown, and when [mmHg, s]
    at_enough    : the values when it was said that it is enough, and how long before the end of the deflation
    end          : the values of the finished recording
    verdict      : of the finished recording
    found        : codes of its findings
    result_cpu_s : processor time of the call that brought the result [s]
    """

    truth: Truth
    per_pulse_mmhg: float
    movements: tuple[tuple[float | None, float], ...]
    alarms: int
    deflating_s: float
    said: frozenset[str]
    said_after: frozenset[str]
    first: Values
    at_enough: tuple[Values, float] | None
    end: Values
    verdict: str
    found: frozenset[str]
    result_cpu_s: float


def values_of(reading: Reading | None) -> Values:
    """The values that a reading gives, each with its interval."""
    given = {name: getattr(reading, name) for name in QUANTITIES} if reading is not None else {}
    return {name: (one.value, one.low, one.high) for name, one in given.items() if one is not None}


def watch(whole: Recording) -> tuple[list[Moment], float]:
    """The moments of a recording fed by tenths of a second, and the processor time of the one that brought the end."""
    watching, moments, result_cpu_s = Watch(whole.circumstances), [], 0.0
    piece = max(1, round(PIECE_S * whole.sampling_rate_hz))
    for k in range(0, whole.time_s.size, piece):
        began = time.process_time()
        moments.append(watching.add(whole.time_s[k : k + piece], whole.cuff_pressure_mmhg[k : k + piece]))
        if moments[-1].finished is not None:
            result_cpu_s = time.process_time() - began
    return moments, result_cpu_s


def per_pulse(made: SimulatedRecording) -> float:
    """Fall of the cuff from one true pulse to the next, over the whole deflation. [mmHg]"""
    begins, ends = made.truth.deflation_s
    first, last = np.interp((begins, ends), made.recording.time_s, made.recording.cuff_pressure_mmhg)
    return float((first - last) / (ends - begins) * 60.0 / (made.truth.pulse_rate or np.inf))


def outcome(scenario: str, seed: int, family: str) -> Outcome:
    """One recording, simulated and watched."""
    species: Species = "cat" if scenario == "purring" or seed % 2 else "dog"
    made = simulate_recording(seed, species=species, family=family, scenario=scenario)
    moments, result_cpu_s = watch(made.recording)
    falling = [moment for moment in moments if moment.phase == "deflating"]
    moving = np.array([any(remark.code in MOVING[:1] for remark in moment.remarks) for moment in falling])
    told = np.array([any(remark.code in MOVING for remark in moment.remarks) for moment in falling])
    at = np.array([moment.time_s for moment in falling])
    movements: list[tuple[float | None, float]] = []
    for (begins, ends), swing in zip(made.truth.moved_s, made.truth.moved_mmhg, strict=True):
        within = (at > begins) & (at < ends + FOUND_UNTIL_S)
        before = told[at <= begins]
        if before.size and before[-1] and told[within].any():
            continue  # still told of the movement before
        movements.append((float(at[within & told][0] - begins) if (within & told).any() else None, swing))
    first: Values = {}
    at_enough = None
    for moment in falling:
        for name, value in values_of(moment.reading).items():
            first.setdefault(name, value)
        if at_enough is None and any(remark.code == "enough" for remark in moment.remarks):
            at_enough = values_of(moment.reading), made.truth.deflation_s[1] - moment.time_s
    ended = next((moment.finished for moment in moments if moment.finished is not None), None)
    reading = None if ended is None else ended.reading
    return Outcome(
        truth=made.truth,
        per_pulse_mmhg=per_pulse(made),
        movements=tuple(movements),
        alarms=int(np.count_nonzero(np.diff(moving.astype(int), prepend=0) == 1)),
        deflating_s=PIECE_S * len(falling),
        said=frozenset(remark.code for moment in falling for remark in moment.remarks),
        said_after=frozenset(remark.code for moment in moments[-1:] for remark in moment.remarks),
        first=first,
        at_enough=at_enough,
        end=values_of(reading),
        verdict="refused" if reading is None else reading.verdict,
        found=frozenset() if reading is None else frozenset(finding.code for finding in reading.findings),
        result_cpu_s=result_cpu_s,
    )


def row_of(row: str, seeds: Sequence[int], look_every_s: float, families: Sequence[str] = FAMILIES) -> list[Outcome]:
    """The outcomes of one row, in the order of the seeds."""
    watch_module.LOOK_EVERY_S = look_every_s
    scenarios = ROWS[row]
    return [
        outcome(scenarios[seed % len(scenarios)], seed, families[seed // (2 * len(scenarios)) % len(families)])
        for seed in seeds
    ]


def share(flags: Iterable[bool]) -> str:
    """Per cent with the count, and twice the Monte Carlo error."""
    told = list(flags)
    if not told:
        return "none"
    part = float(np.mean(told))
    error = 200.0 * np.sqrt(part * (1.0 - part) / len(told))
    return f"{100.0 * part:.1f} % (+-{error:.1f}; {sum(told)} of {len(told)})"


def spread(values: Sequence[float]) -> str:
    """Median and 95th percentile."""
    return f"median {np.median(values):.2f}, 95th percentile {np.quantile(values, 0.95):.2f}" if values else "none"


def motion_lines(row: str, found: Sequence[Outcome]) -> list[str]:
    """How soon and how surely movements are told."""
    movements = [movement for one in found for movement in one.movements]
    large = [delay for delay, swing in movements if swing >= LARGE_MMHG]
    delays = [delay for delay, _ in movements if delay is not None]
    return [
        f"  movements told        {share([delay is not None for delay, _ in movements])}",
        f"  within a second       {share([delay is not None and delay <= 1.0 for delay, _ in movements])}",
        f"    of {LARGE_MMHG:g} mmHg and more {share([delay is not None and delay <= 1.0 for delay in large])}",
        f"  delay of those [s]    {spread(delays)}",
        f"  moved too long        {share(['limb-moved-too-long' in one.said for one in found])}; of readings discarded "
        f"for motion {share(['limb-moved-too-long' in one.said for one in found if 'limb-kept-moving' in one.found])}",
    ]


def calm_lines(found: Sequence[Outcome]) -> list[str]:
    """What is said where nothing is wrong."""
    minutes = sum(one.deflating_s for one in found) / 60.0
    return [
        f"  limb-moving           {sum(one.alarms for one in found) / minutes:.2f} a calm minute ({minutes:.0f} min)",
        f"  limb-moved-too-long   {share(['limb-moved-too-long' in one.said for one in found])}",
        f"  falling-too-fast      {share(['falling-too-fast' in one.said for one in found])}",
        f"  inflate-higher        {share(['inflate-higher' in one.said for one in found])} while falling, "
        f"{share(['inflate-higher' in one.said_after for one in found])} at the end",
    ]


def fast_lines(found: Sequence[Outcome]) -> list[str]:
    """How often a fall is called too fast that is, and that is not."""
    lines = []
    for label, fast in ((f"over {FAST_MMHG_PER_PULSE:g} mmHg a pulse", True), ("slower", False)):
        said = ["falling-too-fast" in one.said for one in found if (one.per_pulse_mmhg > FAST_MMHG_PER_PULSE) is fast]
        lines.append(f"  falling-too-fast      {label}: {share(said)}")
    return lines


def value_lines(found: Sequence[Outcome]) -> list[str]:
    """How good values are as first shown, and when it is said that it is enough; of readings kept in the end."""
    kept = [one for one in found if one.verdict == "keep"]
    lines = [f"  of {len(kept)} kept in the end"]
    shown: Callable[[Outcome], Values]
    for label, shown in (("first shown", lambda one: one.first), ("at the end", lambda one: one.end)):
        for name in QUANTITIES:
            rows = [(shown(one)[name], getattr(one.truth, name)) for one in kept if name in shown(one)]
            width = np.median([value[2] - value[1] for value, _ in rows])
            held = share([value[1] <= truth <= value[2] for value, truth in rows])
            lines.append(f"    {label:<12}{name:<11}95 % intervals held {held}, width {width:.1f} mmHg")
    for name in QUANTITIES:
        moved = [abs(one.first[name][0] - one.end[name][0]) for one in kept if name in one.first and name in one.end]
        lines.append(f"    first shown to end    {name:<11}{spread(moved)} mmHg")
    return lines


def enough_lines(found: Sequence[Outcome]) -> list[str]:
    """How much the end would have changed after it was said that it is enough."""
    told = [(one, *one.at_enough) for one in found if one.at_enough is not None]
    lines = [
        f"  enough said           {share([one.at_enough is not None for one in found])}; before the end of the "
        f"deflation [s] {spread([before for _, _, before in told])}",
        f"    then kept at the end  {share([one.verdict == 'keep' for one, _, _ in told])}",
    ]
    for name in QUANTITIES:
        moved = [abs(then[name][0] - one.end[name][0]) for one, then, _ in told if name in one.end]
        held = [then[name][1] <= getattr(one.truth, name) <= then[name][2] for one, then, _ in told]
        lines.append(f"    enough to end         {name:<11}{spread(moved)} mmHg; interval then held {share(held)}")
    return lines


def lines_of(row: str, found: Sequence[Outcome]) -> list[str]:
    """The block of one row."""
    verdicts = [one.verdict for one in found]
    told = ", ".join(f"{name} {verdicts.count(name)}" for name in ("keep", "doubtful", "discard", "refused"))
    lines = [f"\n{row}: {told}"]
    if row in CALM:
        lines += calm_lines(found)
    if row in MOTIONS:
        lines += motion_lines(row, found)
    if row == "start too low":
        lines.append(
            f"  inflate-higher        {share(['inflate-higher' in one.said for one in found])} while falling, "
            f"{share(['inflate-higher' in one.said_after for one in found])} at the end"
        )
    if row == "fast deflation":
        lines += fast_lines(found)
    if row in (*CALM, "short motion"):
        lines += [*value_lines(found), *enough_lines(found)]
    return lines


def costs() -> list[str]:
    """Processor time of one look at 60 s of 200 Hz, and of a tenth of a second without a look."""
    looks, others = [], []
    for seed in range(8):
        made = simulate_recording(
            22_300_000 + seed, sampling_hz=200.0, deflation="linear", deflation_mmhg_per_s=1.9, stop_mmhg=40.0,
            start_mmhg=155.0, systolic=125.0, diastolic=75.0,
        )  # fmt: skip
        whole, watching = made.recording, Watch(made.recording.circumstances)
        seen: Reading | None = None
        for k in range(0, whole.time_s.size, 20):
            began = time.process_time()
            moment = watching.add(whole.time_s[k : k + 20], whole.cuff_pressure_mmhg[k : k + 20])
            took = 1000.0 * (time.process_time() - began)
            new, seen = moment.reading is not seen, moment.reading
            if moment.phase == "deflating" and moment.time_s - made.truth.deflation_s[0] > 55.0:
                (looks if new else others).append(took)
    return [
        f"a look at 55 to 60 s of 200 samples a second: {spread(looks)} ms, {len(looks)} looks",
        f"a tenth of a second without a look: {spread(others)} ms",
    ]


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, default=200, help="recordings a row (default 200)")
    parser.add_argument("--seed", type=int, default=22310101, help="first seed (default 22310101)")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--rows", nargs="*", choices=list(ROWS), default=list(ROWS))
    parser.add_argument(
        "--look-every",
        type=float,
        default=watch_module.LOOK_EVERY_S,
        help="seconds from look to look (as shipped: 0.5)",
    )
    wish = parser.parse_args()
    seeds = [wish.seed + k for k in range(wish.count)]
    print(f"Live: engine {ENGINE_VERSION}, {wish.count} recordings a row, seeds from {wish.seed}")
    print(f"Looks every {wish.look_every:g} s of the source's time (as shipped: {watch_module.LOOK_EVERY_S:g}).")
    print(f"Artery families: {', '.join(FAMILIES)}; the engine contains none. (+- is twice the Monte Carlo error.)")
    everything: list[Outcome] = []
    with ProcessPoolExecutor(wish.workers) as pool:
        for row in wish.rows:
            blocks = [seeds[k : k + 20] for k in range(0, len(seeds), 20)]
            found = [
                one
                for block in pool.map(row_of, [row] * len(blocks), blocks, [wish.look_every] * len(blocks))
                for one in block
            ]
            print("\n".join(lines_of(row, found)), flush=True)
            everything += found
    print("\nProcessor time")
    print(
        f"  result, in the call that ends an inflation: {spread([one.result_cpu_s * 1000.0 for one in everything])} ms"
    )
    for line in costs():
        print(f"  {line}")


if __name__ == "__main__":
    main()
