"""`quietlimb simulate`: recordings and sessions whose truth is known, with the truth beside them."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from quietlimb.cli.faults import Batch, wrong_use
from quietlimb.cli.numbers import Number
from quietlimb.cli.options import Command, species_option
from quietlimb.engine.circumstances import Species

if TYPE_CHECKING:
    from quietlimb.simulator.level_course import Course

ENDINGS = (".csv", ".csv.gz")
COURSES: dict[str, Course] = {
    "level": "level",
    "falling": "falling",
    "slowly-falling": "slowly falling",
    "rising": "rising",
}
# Named here so that help needs no simulator; a test holds them against it.
FAMILIES: dict[str, str] = {
    "double-exponential": "double exponential",
    "arctangent": "arctangent",
    "log-sigmoid": "log-sigmoid",
    "logistic": "logistic",
    "skewed-arctangent": "skewed arctangent",
    "tube-law": "tube law",
    "exponential-linear": "exponential-linear",
}
SITES = ("forelimb", "hindlimb", "tail")
SCENARIOS = (
    "undisturbed",
    "mild-motion",
    "purring",
    "shivering",
    "ectopic",
    "sustained-motion",
    "empty-cuff",
    "start-too-low",
    "atrial-fibrillation",
    "repeated-motion",
    "tail-wagging",
    "limb-loaded",
    "cut-off",
    "fast-deflation",
    "leak",
    "loose-cuff",
    "narrow-cuff",
    "weak-pulse",
    "slow-pulse",
    "fast-pulse",
    "pressure-drift",
    "alternans",
    "pulse-deficit",
    "purring-alias",
)


class Hyphened(click.Choice[str]):
    """A choice among names with hyphens, where blanks may stand for them."""

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> str:
        """The name with hyphens."""
        return super().convert(str(value).strip().casefold().replace(" ", "-"), param, ctx)


@click.group(short_help="Invented recordings and sessions with known truth.")
def simulate() -> None:
    """Make invented recordings and sessions, with the truth beside them in NAME.truth.json."""


def shared_options(command: Command) -> Command:
    """Options of both kinds."""
    options: tuple[Callable[[Command], Command], ...] = (
        click.option("--seed", type=click.IntRange(min=0), default=1, show_default=True, help="Same seed, same files."),
        species_option(says="Cat or dog; drawn if left out."),
        click.option(
            "--family", type=Hyphened(list(FAMILIES)), help="Artery family; one of the first four is drawn if left out."
        ),
        click.option(
            "--scenario",
            type=Hyphened(SCENARIOS),
            default="undisturbed",
            show_default=True,
            help="What disturbs the limb.",
        ),
        click.option("--systolic", type=Number(), help="True systolic pressure in mmHg; drawn if left out."),
        click.option("--diastolic", type=Number(), help="True diastolic pressure in mmHg; drawn if left out."),
        click.option("--pulse-rate", type=Number(), help="True pulses a minute; drawn if left out."),
    )
    for option in reversed(options):
        command = option(command)
    return command


def _given(chosen: dict[str, Any]) -> Any:
    return {name: value for name, value in chosen.items() if value is not None}


def _refuse_used_files(*files: Path) -> None:
    for there in files:
        if there.exists():
            raise click.UsageError(f"{there} exists and would be lost; name a new file")


def _refuse_used_folder(folder: Path) -> None:
    # Recordings left from another call would pass for part of this one.
    if folder.is_file() or (folder.is_dir() and any(folder.iterdir())):
        raise click.UsageError(f"{folder} exists and is not an empty folder; name a new one")


@simulate.command(short_help="One recording, or many.")
@click.argument("out", type=click.Path(path_type=Path))
@click.option("--count", type=click.IntRange(1, 10_000), default=1, show_default=True, help="How many recordings.")
@shared_options
def recording(
    out: Path, count: int, seed: int, species: Species | None, family: str | None, scenario: str, **chosen: float | None
) -> None:
    """Write recordings to OUT: a .csv or .csv.gz file, or a new folder for --count of them, seeds counting up."""
    from quietlimb.cli.simulated_files import truth_file, write_recording_with_truth
    from quietlimb.simulator.recordings import simulate_recording

    single = out.name.casefold().endswith(ENDINGS)
    if single and count > 1:
        raise click.UsageError(f"{out} is one file and --count asks for {count}; name a folder")
    if single:
        _refuse_used_files(out, truth_file(out))
    else:
        _refuse_used_folder(out)
    batch = Batch()
    for k in range(count):
        target = out if single else out / f"recording-{k + 1:0{len(str(count))}d}.csv"
        with wrong_use():
            made = simulate_recording(
                seed + k, species=species, family=family and FAMILIES[family], scenario=scenario, **_given(chosen)
            )
        with batch.file(str(target)):
            write_recording_with_truth(made, target, seed=seed + k)
            click.echo(str(target))
    batch.end()


@simulate.command(short_help="The recordings of one session.")
@click.argument("out", type=click.Path(path_type=Path))
@click.option("--count", type=click.IntRange(1, 100), default=6, show_default=True, help="How many readings.")
@click.option("--course", type=click.Choice(list(COURSES)), default="level", show_default=True, help="Of the pressure.")
@click.option("--spoiled", type=click.IntRange(min=0), default=0, show_default=True, help="Readings lost to movement.")
@shared_options
def session(
    out: Path,
    count: int,
    course: str,
    spoiled: int,
    seed: int,
    species: Species | None,
    family: str | None,
    scenario: str,
    **chosen: float | None,
) -> None:
    """Write the recordings of one session to the new folder OUT."""
    from quietlimb.cli.simulated_files import truth_file, write_session_with_truth
    from quietlimb.simulator.sessions import simulate_session

    _refuse_used_folder(out)
    _refuse_used_files(truth_file(out))
    with wrong_use():
        made = simulate_session(
            seed,
            species=species,
            family=family and FAMILIES[family],
            readings=count,
            course=COURSES[course],
            spoiled=spoiled,
            scenario=scenario,
            **_given(chosen),
        )
    batch = Batch()
    with batch.file(str(out)):
        for target in write_session_with_truth(made, out, seed=seed):
            click.echo(str(target))
    batch.end()


@simulate.command(short_help="A cuff beside a catheter, several animals.")
@click.argument("out", type=click.Path(path_type=Path))
@click.option("--animals", type=click.IntRange(1, 200), default=8, show_default=True, help="How many animals.")
@click.option("--readings", type=click.IntRange(1, 50), default=5, show_default=True, help="How many of each animal.")
@click.option(
    "--line-hz",
    type=Number(least=2.0, most=100.0),
    default=40.0,
    show_default=True,
    metavar="HZ",
    help="Natural frequency of the catheter's line.",
)
@click.option(
    "--line-damping",
    type=Number(least=0.01, most=2.9),
    default=0.55,
    show_default=True,
    help="Its damping, as a share of the critical one.",
)
@click.option(
    "--site",
    type=click.Choice((*SITES, "drawn")),
    default="tail",
    show_default=True,
    help="Of all cuffs; 'drawn' draws one for each animal.",
)
@shared_options
def comparison(
    out: Path,
    animals: int,
    readings: int,
    line_hz: float,
    line_damping: float,
    site: str,
    seed: int,
    species: Species | None,
    family: str | None,
    scenario: str,
    **chosen: float | None,
) -> None:
    """Write recordings of cuff and artery to the new folder OUT, and a flush of the line to OUT.flush.csv."""
    from quietlimb.cli.simulated_files import write_comparison_with_truth, write_flush
    from quietlimb.simulator.catheter_line import CatheterLine
    from quietlimb.simulator.comparisons import simulate_comparison, simulate_flush

    _refuse_used_folder(out)
    flush = out.with_name(f"{out.name}.flush.csv")
    _refuse_used_files(flush)
    with wrong_use():
        line = CatheterLine(natural_hz=line_hz, damping=line_damping)
        made = list(
            simulate_comparison(
                seed,
                animals=animals,
                readings=readings,
                species=species,
                family=family and FAMILIES[family],
                scenario=scenario,
                line=line,
                **_given({**chosen, "site": None if site == "drawn" else site}),
            )
        )
    batch = Batch()
    with batch.file(str(out)):
        for target in write_comparison_with_truth(made, out, seed=seed):
            click.echo(str(target))
        write_flush(*simulate_flush(seed, line=line, species=species or "cat"), flush)
        click.echo(str(flush))
    batch.end()
