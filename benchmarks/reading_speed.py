"""How fast recordings are read, beside a plain script and beside the filter that such a script begins with.

    python benchmarks/reading_speed.py > benchmarks/reading_speed.txt

Everything is measured in one run, in turn: filter, script, engine, filter, script, engine ... so that a machine that
slows down slows all of them. One thread. The recordings are simulated: 60 s at 100 Hz, half of them deflated in steps.
`--quick` is a short run that shows that everything works; its figures are not worth quoting.
"""

from __future__ import annotations

import os

THREADS = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "VECLIB_MAXIMUM_THREADS")
os.environ.update(dict.fromkeys(THREADS, "1"))  # numpy reads them when it is imported
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)  # a warm start is one of compiled modules, as an installed package has

import argparse  # noqa: E402
import platform  # noqa: E402
import statistics  # noqa: E402
import subprocess  # noqa: E402
import sys  # noqa: E402
import tempfile  # noqa: E402
import time  # noqa: E402
import tracemalloc  # noqa: E402
from collections.abc import Callable, Sequence  # noqa: E402
from concurrent.futures import ProcessPoolExecutor  # noqa: E402
from dataclasses import dataclass, field  # noqa: E402
from pathlib import Path  # noqa: E402

import numpy as np  # noqa: E402
import scipy  # noqa: E402
from numpy.typing import NDArray  # noqa: E402
from plain_script import PULSE_HZ, read_plainly  # noqa: E402
from scipy.signal import butter, sosfiltfilt  # noqa: E402

from quietlimb.engine.circumstances import Circumstances  # noqa: E402
from quietlimb.engine.reading import read  # noqa: E402
from quietlimb.engine.recording import Recording, recording  # noqa: E402
from quietlimb.engine.version import ENGINE_VERSION  # noqa: E402
from quietlimb.exchange.recording_csv import write_recording  # noqa: E402
from quietlimb.simulator import simulate_recording  # noqa: E402

SEED = 6_200_000
SECONDS, RATE_HZ = 60, 100
BLOCK = 25
MINUTES, LONG_HZ = (1, 3, 10), 1000
HEAVY = ("numpy", "scipy", "click", "altair", "vl_convert", "typst", "pandas", "matplotlib", "jsonschema")


@dataclass(frozen=True, slots=True, kw_only=True)
class Timed:
    """Seconds by the clock on the wall and of the processor, one of each a round."""

    wall_s: list[float] = field(default_factory=list)
    cpu_s: list[float] = field(default_factory=list)


def in_turn(contenders: dict[str, Callable[[], object]], rounds: int) -> dict[str, Timed]:
    """Every contender once a round, in the same order, after a round that is not counted."""
    timed = {name: Timed() for name in contenders}
    for k in range(-1, rounds):
        for name, run in contenders.items():
            wall, cpu = time.perf_counter(), time.process_time()
            run()
            wall, cpu = time.perf_counter() - wall, time.process_time() - cpu
            if k >= 0:
                timed[name].wall_s.append(wall)
                timed[name].cpu_s.append(cpu)
    return timed


def spread(values: Sequence[float], scale: float = 1.0) -> str:
    """Median and, in brackets, least and greatest."""
    return f"{scale * statistics.median(values):9.2f} ({scale * min(values):.2f} to {scale * max(values):.2f})"


def minute_long(count: int) -> list[Recording]:
    """Simulated recordings of 60 s at 100 Hz: the end of the inflation, the deflation, the dump."""
    made = []
    for k in range(count):
        rng = np.random.default_rng(SEED + k)
        systolic = float(rng.uniform(110.0, 180.0))
        diastolic = systolic - float(rng.uniform(35.0, 60.0))
        start, stop = systolic + 35.0, diastolic - 35.0
        steps = round((start - stop) / 6.0)
        simulated = simulate_recording(
            SEED + k,
            systolic=systolic,
            diastolic=diastolic,
            peak_height_mmhg=1.0,
            sampling_hz=float(RATE_HZ),
            start_mmhg=start,
            stop_mmhg=stop,
            inflation="pump",
            deflation="steps" if k % 2 else "linear",
            deflation_mmhg_per_s=(start - stop) / 57.0,
            step_mmhg=(start - stop) / steps,
            step_s=57.0 / (steps + 1),
        ).recording
        size = SECONDS * RATE_HZ
        pressure = simulated.cuff_pressure_mmhg[-size:]
        assert pressure.size == size, "the deflation is too short"
        made.append(recording(np.arange(size) / RATE_HZ, pressure, simulated.circumstances))
    return made


def long_recording(minutes: int) -> Recording:
    """A slow straight fall with three pulses a second, largest at 110 mmHg, made by formula: 1000 samples a second."""
    time_s = np.arange(minutes * 60 * LONG_HZ) / LONG_HZ
    base = np.linspace(185.0, 55.0, time_s.size)
    pulse = np.sin(np.pi * (3.0 * time_s % 1.0)) ** 4
    noise = 0.02 * np.random.default_rng(SEED).normal(size=time_s.size)
    height = np.exp(-0.5 * ((base - 110.0) / 22.0) ** 2)
    return recording(time_s, base + height * pulse + noise, Circumstances(species="cat"))


def batch(count: int, rounds: int) -> None:
    """Filter, script and engine on the same recordings."""
    made = minute_long(count)
    samples: list[tuple[NDArray[np.float64], NDArray[np.float64]]] = [(m.time_s, m.cuff_pressure_mmhg) for m in made]
    band = butter(2, PULSE_HZ, "bandpass", fs=RATE_HZ, output="sos")
    contenders: dict[str, Callable[[], object]] = {
        "zero-phase filter alone": lambda: [sosfiltfilt(band, pressure) for _, pressure in samples],
        "plain script": lambda: [read_plainly(seconds, pressure) for seconds, pressure in samples],
        "read, artery fit, a batch": lambda: read(made),
        "read, artery fit, one by one": lambda: [read(one) for one in made],
        "read, fixed ratios, a batch": lambda: read(made, method="fixed ratios"),
        "read, steepest flanks, a batch": lambda: read(made, method="steepest flanks"),
    }
    timed = in_turn(contenders, rounds)
    plain = timed["plain script"]
    print(f"\n{count} recordings of {SECONDS} s at {RATE_HZ} Hz, {rounds} rounds in turn; ms a recording")
    print(f"  {'':<32}{'median (least to greatest), wall':<36}{'processor':<32}times the plain script")
    for name, found in timed.items():
        each = [own / other for own, other in zip(found.cpu_s, plain.cpu_s, strict=True)]
        scale = 1000.0 / count
        print(f"  {name:<32}{spread(found.wall_s, scale):<36}{spread(found.cpu_s, scale):<32}{spread(each)}")
    kept = [one.verdict for one in read(made)].count("keep")
    print(f"  verdict keep: {kept} of {count}. The engine's pressures have intervals, the script's have none")


def memory(counts: Sequence[int]) -> None:
    """What a batch takes on top of the recordings: at its height, and what the readings keep."""
    few = minute_long(BLOCK)
    read(few[:2])
    print("\nMemory of a batch beside that of its recordings, as Python and numpy ask for it [MB]")
    print(f"  {'recordings':>10}{'at its height':>16}{'kB a recording':>17}{'kept after':>14}{'kB a recording':>17}")
    for count in counts:
        made = [
            recording(few[k % BLOCK].time_s, few[k % BLOCK].cuff_pressure_mmhg + 1e-6 * k, few[k % BLOCK].circumstances)
            for k in range(count)
        ]
        tracemalloc.start()
        readings = read(made)
        kept, height = tracemalloc.get_traced_memory()
        tracemalloc.stop()
        assert len(readings) == count
        print(
            f"  {count:>10}{height / 2**20:>16.1f}{height / 1024 / count:>17.0f}"
            f"{kept / 2**20:>14.1f}{kept / 1024 / count:>17.0f}"
        )


def read_block(block: list[Recording]) -> int:
    """How many of a block are kept; a small answer, so that the reading is timed and not the sending."""
    return sum(reading.verdict == "keep" for reading in read(block))


def two_cores(count: int, rounds: int) -> None:
    """The same blocks by one worker and by two."""
    made = minute_long(count)
    blocks = [made[k : k + BLOCK] for k in range(0, count, BLOCK)]
    with ProcessPoolExecutor(1) as one, ProcessPoolExecutor(2) as two:
        timed = in_turn(
            {"one": lambda: list(one.map(read_block, blocks)), "two": lambda: list(two.map(read_block, blocks))}, rounds
        )
    faster = [a / b for a, b in zip(timed["one"].wall_s, timed["two"].wall_s, strict=True)]
    print(f"\nWorkers, {count} recordings in blocks of {BLOCK}, {rounds} rounds in turn; wall, ms a recording")
    for name in timed:
        print(f"  {name:<32}{spread(timed[name].wall_s, 1000.0 / count)}")
    print(f"  {'one over two':<32}{spread(faster)}")


def long(rounds: int) -> None:
    """Whether the time grows as the samples do."""
    made = {minutes: long_recording(minutes) for minutes in MINUTES}
    timed = in_turn({str(m): lambda one=one: read(one) for m, one in made.items()}, rounds)
    print(f"\nOne recording at {LONG_HZ} Hz, three pulses a second, {rounds} rounds in turn; processor")
    print(f"  {'minutes':>7}{'samples':>10}{'verdict':>10}    {'seconds':<28}microseconds a sample")
    for minutes, one in made.items():
        found, size = timed[str(minutes)].cpu_s, one.time_s.size
        print(f"  {minutes:>7}{size:>10}{read(one).verdict:>10}{spread(found):<32}{spread(found, 1e6 / size)}")


ENGINE = """
import sys
import quietlimb.engine.reading
print(*sys.modules)
"""
LOADED = """
import sys
from click.testing import CliRunner
from quietlimb.cli.main import quietlimb
result = CliRunner().invoke(quietlimb, ["read", sys.argv[1]])
assert result.exit_code == 0, result.output
print(*sys.modules)
"""
NEEDED = """
import ast, sys
from pathlib import Path
import quietlimb
needed = set()
for name in sys.argv[1:]:
    file = Path(quietlimb.__file__).parent.joinpath(*name.split(".")[1:])
    file = file / "__init__.py" if file.is_dir() else file.with_suffix(".py")
    for node in ast.parse(file.read_text(encoding="utf-8")).body:  # an import within a function waits
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("scipy"):
            needed |= {f"scipy.{a.name}" for a in node.names} if node.module == "scipy" else {node.module}
print(*sorted(needed))
"""


def printed_by(program: str, *arguments: str) -> list[str]:
    """The words that a small program prints, run in an interpreter of its own."""
    done = subprocess.run([sys.executable, "-c", program, *arguments], capture_output=True, text=True, check=True)
    return done.stdout.split()


def command_line(rounds: int) -> None:
    """`quietlimb read FILE` beside the bare import of what the engine itself names, each in a new process, warm."""
    with tempfile.TemporaryDirectory() as folder:
        file = str(Path(folder) / "recording.csv")
        write_recording(minute_long(1)[0], Path(file))
        loaded = printed_by(LOADED, file)
        ours = [name for name in printed_by(ENGINE) if name.split(".")[0] == "quietlimb"]
        imports = f"import {', '.join(['numpy', *printed_by(NEEDED, *ours)])}"
        commands = {
            "python -c pass": [sys.executable, "-c", "pass"],
            f'python -c "{imports}"': [sys.executable, "-c", imports],
            "quietlimb read FILE": [str(Path(sys.executable).with_name("quietlimb")), "read", file],
        }

        def runner(command: list[str]) -> Callable[[], object]:
            return lambda: subprocess.run(command, capture_output=True, check=True)

        timed = in_turn({name: runner(command) for name, command in commands.items()}, rounds)
    print(f"\nCommand line, warm, {rounds} rounds in turn; wall, ms")
    for name, found in timed.items():
        print(f"  {name:<40}{spread(found.wall_s, 1000.0)}")
    _, bare, command = timed.values()
    more = [own - other for own, other in zip(command.wall_s, bare.wall_s, strict=True)]
    print(f"  {'more than the bare import':<40}{spread(more, 1000.0)}; allowed: 250")
    packages = {name.split(".")[0] for name in loaded}
    print(f"  heavy packages loaded: {', '.join(name for name in HEAVY if name in packages)}")
    parts = {".".join(name.split(".")[:2]) for name in loaded if name.startswith("scipy.")}
    print(f"  parts of scipy loaded: {', '.join(sorted(p for p in parts if '._' not in p)) or 'none'}")


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--quick", action="store_true", help="few recordings, few rounds")
    wish = parser.parse_args()
    before = os.getloadavg()[0]
    numbers = f"Python {platform.python_version()}, numpy {np.__version__}, scipy {scipy.__version__}"
    print(f"Speed of reading: engine {ENGINE_VERSION}, {numbers}, one thread")
    print(f"{os.cpu_count()} processors; load {before:.1f} before the start")
    batch(count=10 if wish.quick else 60, rounds=2 if wish.quick else 5)
    memory((25, 50) if wish.quick else (50, 200, 400))
    two_cores(count=50 if wish.quick else 100, rounds=1 if wish.quick else 5)
    long(rounds=1 if wish.quick else 3)
    command_line(rounds=3 if wish.quick else 10)
    print(
        f"\nLoad {os.getloadavg()[0]:.1f} at the end. Above 1, or above 2 beside two workers, others were at work too:"
    )
    print("wall times are longer then, and a second worker gains less, than on a machine of one's own.")


if __name__ == "__main__":
    main()
