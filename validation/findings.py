"""Which findings simulated recordings of every scenario bring, and which they bring where nothing is wrong.

    python validation/findings.py --count 200 --seed 21110101 > validation/findings.txt

One block a scenario: verdicts, how often the 95 % intervals of kept readings hold, and each finding with the per cent
of recordings that it was made in: any, as a note, as a doubt, spoiling. The scenario `undisturbed` tells how often a
finding is made for nothing. Where something moved, a line tells for how long a recording, on average, beside the
seconds that the findings tell (0 without one), by verdict. These are of pulses that are surely disturbed, at cuff
pressures from 15 mmHg below the diastolic to 15 above the systolic pressure. Artery families and species as in
`reading.py`, on other seeds. No target is judged. Standing of every figure: by construction, so it holds for simulated
animals only.
"""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor

import numpy as np
from reading import FAMILIES, QUANTITIES

from quietlimb.engine.circumstances import Species
from quietlimb.engine.reading import Reading, read
from quietlimb.engine.values import Estimate
from quietlimb.engine.version import ENGINE_VERSION
from quietlimb.simulator import SCENARIOS, simulate_recording
from quietlimb.simulator.recordings import SimulatedRecording

Pair = tuple[SimulatedRecording, Reading]
SEVERITIES = ("note", "doubt", "spoils")
MOVED = ("limb-moved", "limb-kept-moving")


def readings(scenario: str, seeds: Sequence[int]) -> list[Pair]:
    """Simulated recordings of a scenario with their readings, in the order of the seeds."""
    made = []
    for seed in seeds:
        species: Species = "cat" if "purring" in scenario or seed % 2 else "dog"
        family = FAMILIES[seed // 2 % len(FAMILIES)]
        made.append(simulate_recording(seed, species=species, family=family, scenario=scenario))
    return list(zip(made, read([one.recording for one in made]), strict=True))


def held(pairs: Sequence[Pair]) -> str:
    """How often the intervals of kept readings hold the truth, quantity by quantity."""
    told = []
    for name in QUANTITIES:
        inside = []
        for made, reading in pairs:
            estimate: Estimate | None = getattr(reading, name)
            truth: float | None = getattr(made.truth, name)
            if reading.verdict == "keep" and estimate is not None and truth is not None:
                inside.append(estimate.low <= truth <= estimate.high)
        told.append(f"{name} {sum(inside)} of {len(inside)}")
    return ", ".join(told)


def seconds_moved(pairs: Sequence[Pair]) -> str:
    """Mean time that something moved and mean time told, by verdict; empty where nothing ever moved."""
    if not any(made.truth.moved_s for made, _ in pairs):
        return ""
    parts = []
    for verdict in ("keep", "doubtful", "discard"):
        of_verdict = [(made, reading) for made, reading in pairs if reading.verdict == verdict]
        if not of_verdict:
            continue
        true = np.mean([sum(end - begin for begin, end in made.truth.moved_s) for made, _ in of_verdict])
        told = np.mean([sum(f.numbers["seconds"] for f in one.findings if f.code in MOVED) for _, one in of_verdict])
        parts.append(f"{verdict} {true:.1f}, told {told:.1f}")
    return f"  seconds moved: {'; '.join(parts)}"


def block(scenario: str, pairs: Sequence[Pair]) -> list[str]:
    """The lines of one scenario; the commonest finding first."""
    verdicts = Counter(reading.verdict for _, reading in pairs)
    lines = [
        f"{scenario}: {', '.join(f'{name} {verdicts[name]}' for name in ('keep', 'doubtful', 'discard'))}",
        f"  held of kept: {held(pairs)}",
    ]
    if moved := seconds_moved(pairs):
        lines.append(moved)
    counted: dict[str, Counter[str]] = {}
    for _, reading in pairs:
        worst = {f.code: f.severity for f in sorted(reading.findings, key=lambda f: SEVERITIES.index(f.severity))}
        for code, severity in worst.items():
            counted.setdefault(code, Counter())[severity] += 1
    for code, severities in sorted(counted.items(), key=lambda item: (-item[1].total(), item[0])):
        shares = 100.0 * np.array([severities.total(), *(severities[name] for name in SEVERITIES)]) / len(pairs)
        lines.append(f"  {code:<24}" + "".join(f"{share:>8.1f}" for share in shares))
    return lines


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, default=200, help="recordings a scenario (default 200)")
    parser.add_argument("--seed", type=int, default=21110101, help="first seed (default 21110101)")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--scenarios", nargs="*", choices=list(SCENARIOS), default=list(SCENARIOS))
    wish = parser.parse_args()
    seeds = [wish.seed + k for k in range(wish.count)]
    of_each = f"{wish.count} recordings each, seeds from {wish.seed}"
    print(f"Findings by scenario: artery fit, engine {ENGINE_VERSION}, {of_each}")
    print(f"Per cent of recordings.{'':<3}{'any':>8}{'note':>8}{'doubt':>8}{'spoils':>8}")
    with ProcessPoolExecutor(wish.workers) as pool:
        asked = wish.scenarios
        for scenario, pairs in zip(asked, pool.map(readings, asked, [seeds] * len(asked)), strict=True):
            print()
            print("\n".join(block(scenario, pairs)), flush=True)


if __name__ == "__main__":
    main()
