"""`quietlimb compare`: a method held against a reference."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from quietlimb.cli.compare_options import (
    CONSCIOUSNESS,
    QUANTITIES,
    WINDOWS,
    Command,
    Outputs,
    analysis_from,
    analysis_options,
    output_options,
)
from quietlimb.cli.days import Day
from quietlimb.cli.faults import Batch, remark_on, wrong_use
from quietlimb.cli.numbers import Number
from quietlimb.cli.options import METHODS, channel_option, json_option, method_option, species_option
from quietlimb.cli.outputs import refuse_to_overwrite_inputs
from quietlimb.cli.paths import recording_files
from quietlimb.engine.circumstances import Species
from quietlimb.engine.errors import QuietlimbError

if TYPE_CHECKING:
    from quietlimb.agreement.pair_rows import PairRows
    from quietlimb.agreement.plan import Analysis
    from quietlimb.agreement.summary import Comparison

OUTPUTS = tuple(Outputs.__dataclass_fields__)


@click.group(short_help="A method held against a reference.")
def compare() -> None:
    """Hold a method against a reference: bias, limits of agreement, published criteria, and what is still missing."""


@compare.command(short_help="Pairs from a table.")
@click.argument("path", metavar="PAIRS.csv")
@analysis_options
@output_options
@json_option
def pairs(path: str, as_json: bool, **options: Any) -> None:
    """Compare the pairs of a table, one determination a row.

    Columns: animal, and tested_systolic_mmHg with reference_systolic_mmHg, or of mean and diastolic; then occasion,
    species, site, condition, first, failed. A row at fault is told and left out, the rest goes on.
    """
    from quietlimb.exchange.pairs_csv import read_pairs

    outputs, chosen = _parted(options)
    _refuse_overwriting(outputs, [path])
    batch = _batch(as_json)
    with batch.file(path):
        file = read_pairs(path, truth=chosen["truth"])
        for error in file.left_out:
            batch.report(path, error)
        run(path, file.rows, outputs, chosen, as_json)
    batch.end()


def run(path: str, rows: PairRows, outputs: Outputs, chosen: dict[str, Any], as_json: bool) -> None:
    """Compare, tell, and write what was asked for."""
    from quietlimb.agreement.comparing import as_run, compare_rows
    from quietlimb.agreement.plan import Analysis, deviations
    from quietlimb.cli.compare_text import comparison_lines
    from quietlimb.exchange.comparison_json import comparison_object
    from quietlimb.exchange.json_values import dump_line
    from quietlimb.exchange.plan_json import read_plan

    plan = None if outputs.plan is None else read_plan(outputs.plan)
    base = Analysis() if plan is None else plan.plan.analysis
    with wrong_use():
        analysis = analysis_from(base, **chosen)
    rows, analysis = as_run(rows, replace(analysis, rule=rows.rule))
    compared = compare_rows(rows, analysis)
    departs = () if plan is None else deviations(plan.plan, rows, analysis)
    told = comparison_object(
        rows, [(each.comparison, each.lacks) for each in compared], analysis, plan=plan, departs=departs
    )
    if as_json:
        click.echo(dump_line(told))
    else:
        click.echo(
            "\n".join(comparison_lines(path, rows, compared, plan=plan, departs=departs, details=outputs.details))
        )
        click.echo("\n".join(["Methods paragraph", told["methods"], ""]))
    _write(outputs, rows, [each.comparison for each in compared], analysis, told)


def _write(
    outputs: Outputs, rows: PairRows, compared: list[Comparison], analysis: Analysis, told: dict[str, Any]
) -> None:
    if outputs.pictures is not None:
        from quietlimb.figures.comparison import comparison_figures
        from quietlimb.figures.export import save

        outputs.pictures.mkdir(parents=True, exist_ok=True)
        for name, spec in comparison_figures(rows, compared):
            target = outputs.pictures / f"{name}.{outputs.picture_format}"
            save(spec, target)
            click.echo(f"picture in {target}", err=True)
    if outputs.conversion is not None:
        _write_conversion(outputs, rows)
    if outputs.out is not None:
        from quietlimb.reports.comparison import comparison_pdf

        outputs.out.write_bytes(comparison_pdf(rows, compared, told))
        click.echo(f"report in {outputs.out}", err=True)
    if outputs.bundle is not None:
        from quietlimb.reports.comparison_bundle import write_bundle

        write_bundle(outputs.bundle, rows, compared, analysis, told, plan=outputs.plan)
        click.echo(f"bundle in {outputs.bundle}; re-run it by: quietlimb compare rerun {outputs.bundle}", err=True)


def _write_conversion(outputs: Outputs, rows: PairRows) -> None:
    from quietlimb.agreement.conversion import estimate_conversion
    from quietlimb.exchange.conversion_json import conversion_text
    from quietlimb.exchange.errors import FileError

    assert outputs.conversion is not None
    assert outputs.study is not None
    whose: dict[str, Any] = {}
    for name in ("species", "site"):
        told = {getattr(row, name) for row in rows.rows}
        if len(told) != 1 or None in told:
            raise FileError(
                f"{name}-mixed",
                f"a conversion is for one {name}, and the pairs tell "
                + (", ".join(sorted(str(each) for each in told if each is not None)) or "none")
                + (", some none" if None in told and len(told) > 1 else ""),
                f"give pairs of one {name}, told in a column '{name}'",
                path=str(outputs.conversion),
            )
        whose[name] = told.pop()
    instrument, cuff_shares = _bound_to(outputs, rows)
    found = estimate_conversion(
        rows.pairs(outputs.conversion_of),  # type: ignore[arg-type]
        reference_is=rows.reference_is or "indirect",
        converts_to=rows.reference_name,
        technique=outputs.technique,  # type: ignore[arg-type]
        sedation=outputs.sedation,  # type: ignore[arg-type]
        study=outputs.study,
        version=outputs.conversion_version,
        instrument=instrument,
        cuff_shares=cuff_shares,
        **whose,
    )
    outputs.conversion.write_text(conversion_text(found, invented=rows.invented), encoding="utf-8")
    click.echo(f"conversion in {outputs.conversion}; nothing uses it unless it is named", err=True)
    open_to = [name for name, told in (("instrument", instrument), ("cuff", cuff_shares)) if told is None]
    if open_to:
        click.echo(f"It is for any {' and any '.join(open_to)}: say so where it was found with one.", err=True)


def _bound_to(outputs: Outputs, rows: PairRows) -> tuple[str | None, tuple[float, float] | None]:
    """Instrument and cuffs that a conversion is for: as asked for, or else as all rows tell.

    Raises
    ------
    FileError : rows tell another instrument, cuffs beyond the range, or another state of the animals.
    """
    from quietlimb.exchange.errors import FileError

    def refuse(name: str, told: str, asked: str) -> FileError:
        return FileError(
            f"other-{name}",
            f"the conversion is asked for {name} {asked}, and among the pairs is {told}",
            "correct the option, or give the pairs that it is for",
            path=str(outputs.conversion),
        )

    states = {row.condition for row in rows.rows if row.condition in CONSCIOUSNESS}
    for state in sorted(states - {outputs.sedation}):
        raise refuse("sedation", str(state), str(outputs.sedation))
    names = {row.instrument for row in rows.rows}
    if outputs.instrument is not None:
        for other in sorted(name for name in names - {outputs.instrument} if name is not None):
            raise refuse("instrument", other, outputs.instrument)
    instrument = outputs.instrument or (names.pop() if len(names) == 1 else None)
    told = [None if row.cuff_percent is None else row.cuff_percent / 100.0 for row in rows.rows]
    known = [share for share in told if share is not None]
    if outputs.cuff_shares is None:
        return instrument, (min(known), max(known)) if known and None not in told else None
    low, high = outputs.cuff_shares
    for share in known:
        if not low <= share <= high:
            raise refuse("cuff", f"one of {share:.0%} of the limb", f"of {low:.0%} to {high:.0%}")
    return instrument, outputs.cuff_shares


def _parted(options: dict[str, Any]) -> tuple[Outputs, dict[str, Any]]:
    return (
        Outputs(**{name: options[name] for name in OUTPUTS}),
        {name: value for name, value in options.items() if name not in OUTPUTS},
    )


def _refuse_overwriting(outputs: Outputs, inputs: list[str]) -> None:
    written = [file for file in (outputs.out, outputs.conversion) if file is not None]
    refuse_to_overwrite_inputs(written, [*inputs, *([outputs.plan] if outputs.plan else [])])


def _batch(as_json: bool, schema: str = "quietlimb/comparison/1") -> Batch:
    from quietlimb.exchange.comparison_json import comparison_error_object
    from quietlimb.exchange.json_values import dump_line

    def tell(path: str, error: QuietlimbError) -> None:
        click.echo(dump_line(comparison_error_object(path, error, schema)))

    return Batch(tell if as_json else None)


def recording_options(command: Command) -> Command:
    """Where the pressures stand in the files."""
    for option in (
        click.option("--artery", metavar="LABEL", help="The arterial pressure, by label or number, in EDF and WFDB."),
        channel_option,
        species_option(),
    ):
        command = option(command)
    return command


@compare.command(short_help="Pairs from two-channel recordings.")
@click.argument("folder", metavar="FOLDER")
@click.option(
    "--window", type=click.Choice(WINDOWS), help="Beats that a reading is held against; deflation unless planned."
)
@click.option("--seconds", type=Number(least=1.0, most=120.0), help="Length of a window before or after; 10.")
@click.option("--beats", type=click.IntRange(1, 100), help="Fewest beats for a reference; 5.")
@click.option("--later", type=Number(least=-60.0, most=60.0), help="By how many seconds the artery's clock is late; 0.")
@click.option("--flush", metavar="FILE", help="A fast flush of the same line, where the recordings hold none.")
@click.option("--plug-in", metavar="MODULE:FUNCTION", help="Read the cuff by your own function. This runs its code.")
@click.option("--tested-name", help="What the tested method is called; the method of reading unless told.")
@click.option("--reference-name", default="arterial catheter", show_default=True, help="What the reference is called.")
@click.option("--blinded/--not-blinded", default=None, help="Whether each was read without the other.")
@click.option("--pairs-out", type=click.Path(path_type=Path), metavar="PAIRS.csv", help="Write the pairs as a table.")
@method_option
@recording_options
@analysis_options
@output_options
@json_option
def recordings(
    folder: str,
    window: str | None,
    seconds: float | None,
    beats: int | None,
    later: float | None,
    flush: str | None,
    plug_in: str | None,
    tested_name: str | None,
    reference_name: str,
    blinded: bool | None,
    pairs_out: Path | None,
    method: str,
    channel: str | None,
    artery: str | None,
    species: Species | None,
    as_json: bool,
    **options: Any,
) -> None:
    """Make pairs of recordings that hold a cuff and an artery, by a rule, and compare them.

    FOLDER holds a file for each determination: CSV with a column arterial_pressure_mmHg, EDF+ or WFDB with a second
    signal. The same animal has the same name in each ('# animal: ...'). What is told of the line (arterial_zero_mmHg,
    transducer_below_heart_cm, a flush) is judged.
    """
    from quietlimb.agreement.line_summary import summarise_lines
    from quietlimb.agreement.window_rule import Rule
    from quietlimb.cli.compare_recordings import by_ours, pairs_of_recordings
    from quietlimb.cli.plug_in import load_plug_in, read_by_plug_in
    from quietlimb.exchange.pairs_csv import pairs_text
    from quietlimb.exchange.plan_json import read_plan
    from quietlimb.words.arterial_line import line_fault_sentences

    outputs, chosen = _parted(options)
    function = None if plug_in is None else load_plug_in(plug_in)
    reads = by_ours(METHODS[method]) if function is None else lambda found: (read_by_plug_in(function, found), None)
    batch = _batch(as_json)
    with batch.file(folder):
        files = list(recording_files(folder))
        _refuse_overwriting(outputs, files)
        if pairs_out is not None:
            refuse_to_overwrite_inputs([pairs_out], files)
        planned = None if outputs.plan is None else read_plan(outputs.plan).plan.analysis.rule
        told: dict[str, Any] = {"window": window, "seconds": seconds, "fewest_beats": beats, "later_s": later}
        with wrong_use():
            rule = replace(planned or Rule(), **{name: value for name, value in told.items() if value is not None})
        made = pairs_of_recordings(
            files,
            reads,
            rule,
            batch,
            tested_name=tested_name or plug_in or method,
            reference_name=reference_name,
            truth=chosen["truth"],
            blinded=blinded,
            channel=channel,
            artery=artery,
            species=species,
            flush=flush,
        )
        if pairs_out is not None:
            pairs_out.write_text(pairs_text(made.rows), encoding="utf-8")
            click.echo(f"pairs in {pairs_out}", err=True)
        try:
            run(folder, made.rows, outputs, chosen, as_json)
        except QuietlimbError:  # then no output holds it, and the line may be the reason
            lines = summarise_lines(made.rows)
            for sentence in [] if lines is None else line_fault_sentences(lines):
                remark_on(folder)(sentence)
            raise
    batch.end()


@compare.command(short_help="Methods of reading, ranked.")
@click.argument("folder", metavar="FOLDER")
@click.option(
    "--plug-in",
    "plug_ins",
    multiple=True,
    metavar="MODULE:FUNCTION",
    help="A function of your own, also as file.py:function. This runs its code.",
)
@click.option("--truth-table", metavar="CSV", help="Known pressures: file, systolic_mmHg, mean_mmHg, diastolic_mmHg.")
@recording_options
@json_option
def methods(
    folder: str,
    plug_ins: tuple[str, ...],
    truth_table: str | None,
    channel: str | None,
    artery: str | None,
    species: Species | None,
    as_json: bool,
) -> None:
    """Rank methods of reading, ours and your own, on recordings whose pressures are known.

    Known are those of a truth table, of NAME.truth.json beside a simulated recording, or of the artery in the file. A
    function takes a Recording and returns systolic, mean and diastolic pressure.
    """
    from quietlimb.agreement.pair_rows import QUANTITIES as pressures  # noqa: N811
    from quietlimb.agreement.ranking import rank
    from quietlimb.cli.compare_recordings import cases_of, told_once
    from quietlimb.cli.compare_text import ranking_lines
    from quietlimb.cli.plug_in import load_plug_in
    from quietlimb.exchange.json_values import dump_line
    from quietlimb.exchange.methods_json import methods_object

    functions = [(named, load_plug_in(named)) for named in dict.fromkeys(plug_ins)]
    batch = _batch(as_json, "quietlimb/methods/1")
    with batch.file(folder):
        files = list(recording_files(folder))
        cases, invented, failures = cases_of(
            files,
            tuple(METHODS.values()),
            functions,
            batch,
            truth=truth_table,
            channel=channel,
            artery=artery,
            species=species,
        )
        of_plug_ins = Batch()  # the JSON object tells of them itself
        for path, error in told_once(failures):
            of_plug_ins.report(path, error)
        batch.failed = batch.failed or of_plug_ins.failed
        if not cases:
            batch.end()
        names = (*METHODS.values(), *(name for name, _ in functions))
        ranked: dict[str, Any] = {quantity: rank(cases, names, quantity) for quantity in pressures}
        if as_json:
            click.echo(dump_line(methods_object(folder, ranked, len(cases), invented, failures)))
        else:
            click.echo("\n".join(ranking_lines(folder, ranked, len(cases), names[0], invented)))
    batch.end()


@compare.command(short_help="How many animals.")
@click.option(
    "--bias", type=Number(least=-100.0, most=100.0), default=0.0, show_default=True, help="Expected, in mmHg."
)
@click.option(
    "--between-sd", type=Number(least=0.0, most=100.0), required=True, help="Of the animals' own differences."
)
@click.option(
    "--within-sd",
    type=Number(least=0.0, most=100.0),
    default=0.0,
    show_default=True,
    help="Of differences of an animal.",
)
@click.option(
    "--readings", type=click.IntRange(1, 50), multiple=True, help="Of each animal; may be given often. 1, 3, 5, 10."
)
@click.option("--limit-within", type=Number(least=0.1, most=100.0), help="Know either limit to so many mmHg.")
@click.option("--bias-within", type=Number(least=0.1, most=100.0), help="Know the bias to so many mmHg.")
@click.option("--tolerable", type=Number(least=1.0, most=200.0), help="Show that limits lie within so many mmHg ...")
@click.option(
    "--power",
    "wanted",
    type=Number(least=1.0, most=99.9),
    default=80.0,
    show_default=True,
    help="... in so many percent.",
)
@click.option("--seed", type=click.IntRange(min=0), default=1, show_default=True, help="Of the simulation.")
@json_option
def size(
    bias: float,
    between_sd: float,
    within_sd: float,
    readings: tuple[int, ...],
    limit_within: float | None,
    bias_within: float | None,
    tolerable: float | None,
    wanted: float,
    seed: int,
    as_json: bool,
) -> None:
    """Plan how many animals, and how many readings of each: by formula, and by simulation beside it."""
    from quietlimb.agreement.design import Expected, size_rows
    from quietlimb.cli.compare_text import size_lines
    from quietlimb.exchange.json_values import dump_line
    from quietlimb.exchange.size_json import size_object

    if limit_within is None and bias_within is None and tolerable is None:
        raise click.UsageError("say what is wanted: --limit-within, --bias-within or --tolerable")
    with wrong_use():
        expected = Expected(bias=bias, between_sd=between_sd, within_sd=within_sd)
        found = size_rows(
            expected,
            readings=tuple(sorted(set(readings))) or (1, 3, 5, 10),
            limit_within=limit_within,
            bias_within=bias_within,
            tolerable=tolerable,
            power_wanted=wanted / 100.0,
            seed=seed,
        )
    if as_json:
        click.echo(dump_line(size_object(expected, found, seed=seed)))
    else:
        click.echo("\n".join(size_lines(expected, found, seed=seed)))


@compare.command(short_help="An analysis plan, before the data.")
@click.argument("out", type=click.Path(path_type=Path), metavar="PLAN.json")
@click.option("--title", required=True, help="Of the study.")
@click.option("--question", required=True, help="What is to be answered.")
@click.option("--tested", required=True, help="Name of the tested method, as the pairs will tell it.")
@click.option("--reference", required=True, help="Name of the reference.")
@click.option("--primary", type=click.Choice(QUANTITIES), default="systolic", show_default=True, help="What decides.")
@click.option("--animals", type=click.IntRange(2, 10_000), required=True, help="How many.")
@click.option("--readings", type=click.IntRange(1, 1000), help="Of each animal.")
@click.option("--reasons", default="", help="For the number of animals.")
@click.option("--window", type=click.Choice(WINDOWS), help="For two-channel recordings: which beats.")
@click.option("--seconds", type=Number(least=1.0, most=120.0), default=10.0, help="Length of that window.")
@click.option("--beats", type=click.IntRange(1, 100), default=5, help="Fewest beats in it.")
@click.option("--on", "on", type=Day(), metavar="DATE", help="Day of the plan; today unless told.")
@analysis_options
@json_option
def plan(
    out: Path,
    title: str,
    question: str,
    tested: str,
    reference: str,
    primary: str,
    animals: int,
    readings: int | None,
    reasons: str,
    window: str | None,
    seconds: float,
    beats: int,
    on: date | None,
    as_json: bool,
    **chosen: Any,
) -> None:
    """Write an analysis plan, to be made before the data, and print its fingerprint.

    Write the fingerprint down where others can see when: in a protocol, a letter, a register. A plan that exists is
    never overwritten.
    """
    from quietlimb.agreement.plan import Analysis, Plan
    from quietlimb.agreement.window_rule import Rule
    from quietlimb.exchange.json_values import dump_line
    from quietlimb.exchange.plan_json import plan_text, read_plan
    from quietlimb.exchange.study_json import PLANNED, planned_object

    if out.exists():
        raise click.UsageError(f"{out} exists and would be lost; name a new file")
    with wrong_use():
        rule = None if window is None else Rule(window=window, seconds=seconds, fewest_beats=beats)  # type: ignore[arg-type]
        made = Plan(
            title=title,
            question=question,
            tested=tested,
            reference=reference,
            primary=primary,  # type: ignore[arg-type]
            animals=animals,
            readings=readings,
            made_on=(on or date.today()).isoformat(),
            reasons=reasons,
            analysis=analysis_from(Analysis(rule=rule), **chosen),
        )
    batch = _batch(as_json, PLANNED)
    with batch.file(str(out)):
        out.write_text(plan_text(made), encoding="utf-8")
        written = read_plan(out)
        if as_json:
            click.echo(dump_line(planned_object(str(out), written)))
        else:
            click.echo(f"{out}: fingerprint {written.fingerprint}")
    batch.end()


@compare.command(short_help="What is still missing.")
@click.argument("path", metavar="PAIRS.csv")
@analysis_options
@json_option
def missing(path: str, as_json: bool, **chosen: Any) -> None:
    """Show what a comparison still lacks: animals, pairs, low, normal and high pressures, species by species."""
    from quietlimb.agreement.comparing import as_run, compare_rows
    from quietlimb.agreement.plan import Analysis
    from quietlimb.cli.compare_text import recruitment_lines, recruitment_table
    from quietlimb.exchange.json_values import dump_line
    from quietlimb.exchange.pairs_csv import read_pairs
    from quietlimb.exchange.study_json import MISSING, missing_object

    batch = _batch(as_json, MISSING)
    with batch.file(path):
        file = read_pairs(path, truth=chosen["truth"])
        for error in file.left_out:
            batch.report(path, error)
        with wrong_use():
            analysis = analysis_from(Analysis(), **chosen)
        compared = compare_rows(*as_run(file.rows, analysis))
        if as_json:
            lacking = [lacks for each in compared for lacks in each.lacks]
            click.echo(dump_line(missing_object(path, lacking, invented=file.rows.invented)))
        for each in () if as_json else compared:
            click.echo(f"{each.comparison.quantity.capitalize()} pressure")
            click.echo("\n".join(recruitment_table(each.lacks)))
            for lacks in each.lacks:
                click.echo("\n".join(recruitment_lines(lacks)))
            click.echo("")
    batch.end()


@compare.command(short_help="Run a bundle again.")
@click.argument("bundle", type=click.Path(path_type=Path), metavar="BUNDLE")
@json_option
def rerun(bundle: Path, as_json: bool) -> None:
    """Run the comparison of a bundle again, and say whether its results come out the same."""
    from quietlimb.exchange.json_values import dump_line
    from quietlimb.exchange.study_json import RERUN, rerun_object
    from quietlimb.reports.comparison_bundle import rerun_bundle

    batch = _batch(as_json, RERUN)
    with batch.file(str(bundle)):
        found = rerun_bundle(bundle)
        of_bundle = Batch()  # the JSON object tells of it itself
        for name in found.changed:
            error = QuietlimbError("bundle-changed", f"{name} is not what was bundled", "ask for the bundle again")
            of_bundle.report(str(bundle), error)
        if not found.identical:
            versions = f"Quietlimb {found.engine_then} then, {found.engine_now} now"
            says = f"the results differ ({versions})" if found.differing else "the results are written otherwise"
            of_bundle.report(str(bundle), QuietlimbError("results-differ", says, "see the lines below"))
        if found.lines:
            says = f"the samples of the flushes tell the lines otherwise ({len(found.lines)} figures)"
            of_bundle.report(str(bundle), QuietlimbError("lines-differ", says, "see the lines below"))
        batch.failed = of_bundle.failed
        if as_json:
            names = ("identical", "changed", "differing", "flushes", "lines", "engine_then")
            told = {name: getattr(found, name) for name in names}
            click.echo(dump_line(rerun_object(str(bundle), **told)))
        elif found.identical and found.changed:
            click.echo(
                f"{bundle}: the results are the same to the byte (Quietlimb {found.engine_now}), but the bundle is not "
                f"as it was made: {', '.join(found.changed)}"
            )
        elif found.identical:
            click.echo(f"{bundle}: the results are the same to the byte (Quietlimb {found.engine_now})")
        else:
            for each in found.differing:
                click.echo(f"  {each.where}: {_brief(each.then)} and now {_brief(each.now)}")
        if found.flushes and not as_json:
            again = "" if found.lines else ": natural frequency and damping are the same"
            click.echo(f"{bundle}: samples of a flush for {found.flushes} rows{again}")
            for each in found.lines:
                click.echo(f"  {each.where}: {_brief(each.then)} and from the samples {_brief(each.now)}")
    batch.end()


def _brief(value: Any) -> str:
    text = json.dumps(value)
    return text if len(text) <= 60 else f"{text[:57]}..."
