"""Options that the commands of `compare` share, and the analysis that they make."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar, get_args

import click

from quietlimb.agreement.schemes import SCHEMES, ReferenceKind
from quietlimb.cli.numbers import Number

if TYPE_CHECKING:
    from quietlimb.agreement.plan import Analysis

Command = TypeVar("Command", bound=Callable[..., object])

# Named here so that help needs no statistics; a test holds them against these.
QUANTITIES = ("systolic", "mean", "diastolic")
TRUTHS = ("single", "constant", "changing")
WINDOWS = ("deflation", "before", "after", "around")
PICTURES = ("svg", "png", "pdf")
CONSCIOUSNESS = ("awake", "sedated", "anaesthetised")


class Bounds(click.ParamType[tuple[str, tuple[float, float]]]):
    """`systolic=90,160`."""

    name = "bounds"

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """The pressure, and where its low range ends and its high one begins."""
        name, equals, rest = str(value).partition("=")
        parts = rest.split(",")
        if name not in QUANTITIES or not equals or len(parts) != 2:
            self.fail(f"{value!r} is no range; write it as systolic=90,160", param, ctx)
        low, high = (Number().convert(part, param, ctx) for part in parts)
        if not low < high:
            self.fail(f"{value!r}: give the end of the low range first", param, ctx)
        return name, (low, high)


class CuffShares(click.ParamType[tuple[float, float]]):
    """`30,40`."""

    name = "shares"

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """Least and greatest cuff width over limb circumference, as shares."""
        parts = str(value).split(",")
        if len(parts) != 2:
            self.fail(f"{value!r} is no range; write it as 30,40", param, ctx)
        least, greatest = (Number(least=1.0, most=200.0).convert(part, param, ctx) / 100.0 for part in parts)
        if least > greatest:
            self.fail(f"{value!r}: give the least first", param, ctx)
        return least, greatest


def analysis_options(command: Command) -> Command:
    """What may be chosen in the analysis. None and empty mean: as the plan has it, or else the default."""
    options: tuple[Callable[[Command], Command], ...] = (
        click.option("--truth", type=click.Choice(TRUTHS), help="Between pairs of an animal: stood still, or changed."),
        click.option("--reference-is", type=click.Choice(get_args(ReferenceKind)), help="Kind of the reference."),
        click.option(
            "--quantity",
            "quantities",
            type=click.Choice(QUANTITIES),
            multiple=True,
            help="Which pressures; all if left out.",
        ),
        click.option(
            "--criteria",
            "schemes",
            type=click.Choice([*SCHEMES, "all"]),
            multiple=True,
            help="By which published criteria; veterinary-consensus unless told. Those for people are a yardstick.",
        ),
        click.option(
            "--bounds",
            type=Bounds(),
            multiple=True,
            metavar="PRESSURE=LOW,HIGH",
            help="End of the low and begin of the high range; thirds if left out.",
        ),
        click.option(
            "--error-ratio",
            type=Number(least=1e-3, most=1e3),
            help="Deming's line: variance of the tested method's error over the reference's; 1 unless told.",
        ),
        click.option(
            "--confidence",
            type=Number(least=50.0, most=99.9),
            metavar="PERCENT",
            help="Of all intervals; 95 unless told.",
        ),
    )
    return _with(command, options)


def output_options(command: Command) -> Command:
    """Where results go, beside the screen."""
    options: tuple[Callable[[Command], Command], ...] = (
        click.option("--plan", metavar="PLAN.json", help="Run as planned, and tell what departs from it."),
        click.option(
            "--details", is_flag=True, help="Of several criteria tell each in full, and not in one table alone."
        ),
        click.option("--pictures", type=click.Path(path_type=Path), metavar="FOLDER", help="Write the figures there."),
        click.option(
            "--picture-format", type=click.Choice(PICTURES), default="svg", show_default=True, help="Of the figures."
        ),
        click.option("--out", type=click.Path(path_type=Path), metavar="OUT.pdf", help="Write a report."),
        click.option(
            "--bundle", type=click.Path(path_type=Path), metavar="FOLDER", help="Write all that a reviewer re-runs."
        ),
        click.option(
            "--conversion",
            type=click.Path(path_type=Path),
            metavar="OUT.json",
            help="Write a conversion; needs --study and --sedation.",
        ),
        click.option(
            "--conversion-of",
            type=click.Choice(QUANTITIES),
            default="systolic",
            show_default=True,
            help="For --conversion: which pressure.",
        ),
        click.option("--study", help="For --conversion: citation of the study."),
        click.option("--conversion-version", default="1", show_default=True, help="For --conversion."),
        click.option(
            "--technique",
            type=click.Choice(("oscillometric", "doppler")),
            default="oscillometric",
            show_default=True,
            help="For --conversion: of the tested method.",
        ),
        click.option(
            "--sedation",
            type=click.Choice(CONSCIOUSNESS),
            help="For --conversion: the animals.",
        ),
        click.option("--instrument", help="For --conversion: the one that it is for; any unless told."),
        click.option(
            "--cuff-shares",
            type=CuffShares(),
            metavar="LEAST,GREATEST",
            help="For --conversion: cuff width in percent of the limb that it is for; any unless told.",
        ),
    )
    return _with(command, options)


def _with(command: Command, options: tuple[Callable[[Command], Command], ...]) -> Command:
    for option in reversed(options):
        command = option(command)
    return command


@dataclass(frozen=True, slots=True, kw_only=True)
class Outputs:
    """What `output_options` gave."""

    plan: str | None
    details: bool
    pictures: Path | None
    picture_format: str
    out: Path | None
    bundle: Path | None
    conversion: Path | None
    conversion_of: str
    study: str | None
    conversion_version: str
    technique: str
    sedation: str | None
    instrument: str | None
    cuff_shares: tuple[float, float] | None

    def __post_init__(self) -> None:
        if self.conversion is not None and (not self.study or self.sedation is None):
            raise click.UsageError(
                "--conversion needs --study, where it comes from, and --sedation, the state of its animals"
            )
        if self.out is not None and self.out.suffix.lower() != ".pdf":
            raise click.UsageError(f"{self.out} must end in .pdf")
        for file in (self.conversion, self.out):
            if file is not None and not file.parent.is_dir():
                raise click.UsageError(f"there is no folder {file.parent}")
        for folder in (self.pictures, self.bundle):
            if folder is not None and (folder.is_file() or (folder.is_dir() and any(folder.iterdir()))):
                raise click.UsageError(f"{folder} exists and is not an empty folder; name a new one")


def analysis_from(
    base: Analysis,
    *,
    truth: str | None,
    reference_is: str | None,
    quantities: tuple[str, ...],
    schemes: tuple[str, ...],
    bounds: tuple[tuple[str, tuple[float, float]], ...],
    error_ratio: float | None,
    confidence: float | None,
) -> Analysis:
    """The analysis that the options ask for; where they are silent, that of `base`, the plan's or the default."""
    from dataclasses import replace

    told: dict[str, Any] = {
        "truth": truth,
        "reference_is": reference_is,
        "quantities": tuple(name for name in QUANTITIES if name in quantities),
        "schemes": tuple(SCHEMES) if "all" in schemes else schemes,
        "bounds": dict(bounds),
        "error_ratio": error_ratio,
        "confidence": None if confidence is None else confidence / 100.0,
    }
    return replace(base, **{name: value for name, value in told.items() if value})
