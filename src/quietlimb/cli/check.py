"""`quietlimb check`: instruments and cuffs at the bench, and the drift over many checks."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

import click

from quietlimb.cli.days import Day
from quietlimb.cli.faults import Batch, remark_on, wrong_use
from quietlimb.cli.numbers import Number
from quietlimb.cli.options import channel_option, json_option
from quietlimb.cli.outputs import refuse_to_overwrite_inputs
from quietlimb.cli.pictures import numbered, picture_option

if TYPE_CHECKING:
    from datetime import date

    from quietlimb.engine.recording import Recording
    from quietlimb.exchange.json_values import JsonObject
    from quietlimb.figures.look import Spec
    from quietlimb.instruments.checks import CheckResult, Kind, Reference

Command = TypeVar("Command", bound=Callable[..., object])

# The limits' codes, as in `instruments.limits`, which loads numbers that the command line does not need before.
STATIC_CODES = ("non-automated", "automated", "first-verification", "in-use")
LEAK_CODES = ("non-automated", "automated")
EXHAUST_CODES = ("adult", "neonatal")

_files = click.argument("paths", nargs=-1, required=True, metavar="FILE...")
_resolution = click.option(
    "--resolution",
    type=Number(least=0.01, most=10.0),
    default=1.0,
    show_default=True,
    metavar="MMHG",
    help="Smallest difference read from the instrument.",
)


def _limit(codes: tuple[str, ...]) -> Callable[[Command], Command]:
    return click.option(
        "--limit", type=click.Choice(codes), default=codes[0], show_default=True, help="By what to judge."
    )


def _reference_options(command: Command) -> Command:
    """What the manometer's certificate says."""
    for name, default, says in (
        ("--reference-uncertainty", 1.0, "Expanded uncertainty of the manometer, by its certificate."),
        ("--reference-correction", 0.0, "To be added to what the manometer shows."),
        ("--reference-resolution", 0.1, "Smallest difference read from the manometer."),
    ):
        command = click.option(
            name, type=Number(least=-20.0, most=20.0), default=default, show_default=True, metavar="MMHG", help=says
        )(command)
    return click.option(
        "--coverage-factor",
        type=Number(least=1.0, most=5.0),
        default=2.0,
        show_default=True,
        help="By which the certificate expanded it.",
    )(command)


def _reference(uncertainty: float, correction: float, resolution: float, coverage: float) -> Reference:
    from quietlimb.instruments.checks import CheckError, Reference

    try:
        return Reference(
            expanded_mmhg=uncertainty,
            coverage_factor=coverage,
            correction_mmhg=correction,
            resolution_mmhg=resolution,
        )
    except CheckError as error:
        raise click.UsageError(f"{error.says}; {error.remedy}") from None


@click.group(short_help="Checks of instruments and cuffs at the bench.")
def check() -> None:
    """Check instruments and cuffs: static accuracy, display, leak, exhaust, bleed valve, and drift over the years.

    Never on an animal: the cuff belongs on a rigid cylinder. Never beyond the range of the manometer. A check that
    fails ends with exit code 0 all the same: it was done.
    """


@check.command(short_help="Errors at rest beside a reference manometer.")
@_files
@_limit(STATIC_CODES)
@_resolution
@_reference_options
@picture_option
@json_option
def static(
    paths: tuple[str, ...],
    limit: str,
    resolution: float,
    reference_uncertainty: float,
    reference_correction: float,
    reference_resolution: float,
    coverage_factor: float,
    picture: Path | None,
    as_json: bool,
) -> None:
    """Static accuracy from columns reference_mmHg, instrument_mmHg, direction (up or down): one FILE an instrument."""
    from quietlimb.exchange.checks_csv import read_static_points
    from quietlimb.instruments.limits import STATIC_LIMITS
    from quietlimb.instruments.static import static_accuracy

    manometer = _reference(reference_uncertainty, reference_correction, reference_resolution, coverage_factor)

    def judge(path: str) -> _Judged:
        points = read_static_points(path, resolution_mmhg=resolution, reference=manometer)
        result = static_accuracy(points, limit)

        def draw() -> Spec:
            from quietlimb.figures.checks import static_figure

            return static_figure(points, result, STATIC_LIMITS[limit], title=Path(path).name)

        return result, None, draw

    _each("static", paths, judge, picture, as_json)


@check.command(short_help="A display beside a hand-held manometer.")
@_files
@_resolution
@_reference_options
@json_option
def display(
    paths: tuple[str, ...],
    resolution: float,
    reference_uncertainty: float,
    reference_correction: float,
    reference_resolution: float,
    coverage_factor: float,
    as_json: bool,
) -> None:
    """A display beside a manometer (manometer_mmHg, display_mmHg): usable between formal tests, or not."""
    from quietlimb.exchange.checks_csv import read_display_points
    from quietlimb.instruments.static import display as judged

    manometer = _reference(reference_uncertainty, reference_correction, reference_resolution, coverage_factor)

    def judge(path: str) -> _Judged:
        return judged(read_display_points(path, resolution_mmhg=resolution, reference=manometer)), None, None

    _each("display", paths, judge, None, as_json)


@check.command(short_help="How fast a closed cuff loses its pressure.")
@_files
@_limit(LEAK_CODES)
@_resolution
@channel_option
@picture_option
@json_option
def leak(
    paths: tuple[str, ...],
    limit: str,
    resolution: float,
    channel: str | None,
    picture: Path | None,
    as_json: bool,
) -> None:
    """Leak, from columns start_mmHg, end_mmHg, held_s, or from the recording of a cuff that was held closed.

    A recording should begin before the inflation; settling is told apart from the leak. Pictures are of recordings.
    """
    from quietlimb.exchange.checks_csv import holds_leak_points, read_leak_points
    from quietlimb.exchange.recording_file import holds_channels
    from quietlimb.instruments.leak import fitted_holds, judged_holds
    from quietlimb.instruments.leak import leak as judged

    def judge(path: str) -> _Judged:
        if not holds_channels(path) and not path.casefold().endswith(".dat") and holds_leak_points(path):
            return judged(read_leak_points(path, resolution_mmhg=resolution), limit), None, None
        recording = _recording(path, channel)
        holds = fitted_holds(recording)
        result = judged_holds(holds, limit)

        def draw() -> Spec:
            from quietlimb.figures.checks import leak_figure

            return leak_figure(holds, result, recording.circumstances, title=Path(path).name)

        return result, recording, draw

    _each("leak", paths, judge, picture, as_json)


_standard = click.option(
    "--pressure-uncertainty",
    "standard",
    type=Number(least=0.0, most=10.0),
    default=0.5,
    show_default=True,
    metavar="MMHG",
    help="Standard uncertainty of the recorded pressure.",
)


@check.command(short_help="How fast the opened valve lets a cuff out.")
@_files
@_limit(EXHAUST_CODES)
@_standard
@channel_option
@json_option
def exhaust(paths: tuple[str, ...], limit: str, standard: float, channel: str | None, as_json: bool) -> None:
    """Exhaust from a recording: 260 to 15 mmHg within 10 s (adult), or 150 to 5 mmHg within 5 s (neonatal)."""
    from quietlimb.instruments.valve import exhaust as judged

    def judge(path: str) -> _Judged:
        recording = _recording(path, channel)
        return judged(recording, limit, standard_mmhg=standard), recording, None

    _each("exhaust", paths, judge, None, as_json)


@check.command(short_help="How evenly the bleed valve lets the pressure fall.")
@_files
@_standard
@channel_option
@json_option
def bleed(paths: tuple[str, ...], standard: float, channel: str | None, as_json: bool) -> None:
    """Bleed valve from a recording, set once: 2 to 3 mmHg/s between 250 and 50 mmHg."""
    from quietlimb.instruments.valve import bleed_rate

    def judge(path: str) -> _Judged:
        recording = _recording(path, channel)
        return bleed_rate(recording, standard_mmhg=standard), recording, None

    _each("bleed", paths, judge, None, as_json)


@check.command(short_help="The errors of many checks, and when they pass the limit.")
@click.argument("path", metavar="FILE")
@_limit(STATIC_CODES)
@click.option("--since", type=Day(), metavar="DATE", help="Of the last adjustment.")
@picture_option
@json_option
def drift(path: str, limit: str, since: date | None, picture: Path | None, as_json: bool) -> None:
    """A control chart over the checks in FILE (columns date, error_mmHg, perhaps standard_mmHg), and a forecast.

    The error is that of the worst point, with its sign. A limit that grows with pressure counts with its smallest
    value.
    """
    from quietlimb.cli.layout import bullets, table, wrapped
    from quietlimb.exchange.checks_csv import read_drift_points
    from quietlimb.exchange.checks_json import drift_error_object, drift_object
    from quietlimb.exchange.json_values import dump_line
    from quietlimb.instruments.drift import drift as judged
    from quietlimb.instruments.limits import STATIC_LIMITS
    from quietlimb.words.checks import drift_sentences
    from quietlimb.words.sources import source_and_standing

    if picture is not None:
        refuse_to_overwrite_inputs([picture], [path])
    batch = Batch((lambda at, error: click.echo(dump_line(drift_error_object(at, error)))) if as_json else None)
    with batch.file(path):
        found = judged(read_drift_points(path), STATIC_LIMITS[limit].most, since=since)
        if as_json:
            click.echo(dump_line(drift_object(path, found)))
        else:
            ewma = [None] * len(found.points) if found.chart is None else found.chart.ewma_mmhg.tolist()
            rows = [
                (point.on.isoformat(), f"{point.error_mmhg:+z.1f}", "-" if mean is None else f"{mean:+z.1f}")
                for point, mean in zip(found.points, ewma, strict=True)
            ]
            source = source_and_standing(found.limit.source, found.limit.standing)
            lines = [path, *table(("date", "error", "weighted mean"), rows), *bullets(drift_sentences(found))]
            click.echo("\n".join([*lines, *wrapped(f"Limit {found.limit.value:g} mmHg {source}.")]))
        if picture is not None:
            from quietlimb.figures.checks import drift_figure

            _save(drift_figure(found, title=Path(path).name), picture, path)
    batch.end()


# A check with the recording it rests on, where it is one, and its picture, where it has one.
_Judged = tuple["CheckResult", "Recording | None", "Callable[[], Spec] | None"]


def _each(
    kind: Kind, paths: Sequence[str], judge: Callable[[str], _Judged], picture: Path | None, as_json: bool
) -> None:
    """Every file judged and told; what is wrong with one does not stop the others."""
    from quietlimb.exchange.checks_json import check_error_object, check_object
    from quietlimb.exchange.json_values import dump_line
    from quietlimb.words.checks import check_cautions

    def echo(told: JsonObject) -> None:
        click.echo(dump_line(told))

    if picture is not None:
        refuse_to_overwrite_inputs([numbered(picture, k + 1, len(paths)) for k in range(len(paths))], paths)
    batch = Batch((lambda path, error: echo(check_error_object(path, kind, error))) if as_json else None)
    told = False
    for ordinal, path in enumerate(paths, start=1):
        with batch.file(path):
            with wrong_use():
                result, recording, draw = judge(path)
            if as_json:
                echo(check_object(path, result, None if recording is None else recording.circumstances.instrument))
            else:
                click.echo("\n".join([*_lines(path, result, recording), ""]))
                told = True
            if picture is not None:
                if draw is None:
                    remark_on(path)("no picture: first and last values alone draw no course")
                else:
                    _save(draw(), numbered(picture, ordinal, len(paths)), path)
    if told:
        from quietlimb.cli.layout import bullets

        click.echo("\n".join(bullets(check_cautions())))
    batch.end()


def _lines(path: str, result: CheckResult, recording: Recording | None) -> list[str]:
    from quietlimb.cli.layout import bullets, table, wrapped
    from quietlimb.exchange.errors import one_line
    from quietlimb.figures.invented import invented_words
    from quietlimb.words import checks as words

    invented = None if recording is None else invented_words(recording.circumstances)
    lines = [one_line(path) + (f" ({invented})" if invented else "")]
    lines += wrapped(words.check_sentence(result))
    rows = [
        (
            words.figure_name(name),
            words.figure_value(figure),
            "" if figure.at_mmhg is None else f"{figure.at_mmhg:.0f}",
            words.short_verdict(figure.verdict),
        )
        for name, figure in result.figures.items()
    ]
    if len(rows) > 1:
        lines += table(
            ("figure", "value (95 % interval)", "at mmHg", "verdict"), rows, left=frozenset({"figure", "verdict"})
        )
    told = [f"{words.says(finding)} {words.remedy(finding) or ''}".strip() for finding in result.findings]
    return lines + bullets(told)


def _recording(path: str, channel: str | None) -> Recording:
    from quietlimb.exchange.recording_file import read_recording

    # A bench has no animal, but every recording tells a species; it changes nothing here.
    return read_recording(path, channel=channel, defaults={"species": "cat"}, tell=remark_on(path))


def _save(spec: Spec, target: Path, path: str) -> None:
    from quietlimb.figures.export import save

    save(spec, target)
    click.echo(f"{path}: picture in {target}", err=True)
