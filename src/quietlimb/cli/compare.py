"""`quietlimb compare`: a method held against a reference."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from quietlimb.cli.compare_options import Outputs, analysis_from, analysis_options, output_options
from quietlimb.cli.faults import Batch, wrong_use
from quietlimb.cli.options import json_option
from quietlimb.cli.outputs import refuse_to_overwrite_inputs
from quietlimb.engine.errors import QuietlimbError

if TYPE_CHECKING:
    from quietlimb.agreement.pair_rows import PairRows
    from quietlimb.agreement.plan import Analysis
    from quietlimb.agreement.summary import Comparison
    from quietlimb.agreement.synchrony import Rule

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


def run(
    path: str, rows: PairRows, outputs: Outputs, chosen: dict[str, Any], as_json: bool, rule: Rule | None = None
) -> None:
    """Compare, tell, and write what was asked for.

    rule : by which the rows were made of two channels
    """
    from dataclasses import replace

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
    rows, analysis = as_run(rows, replace(analysis, rule=rule))
    compared = compare_rows(rows, analysis)
    departs = () if plan is None else deviations(plan.plan, rows, analysis)
    told = comparison_object(
        rows, [(each.comparison, each.lacks) for each in compared], analysis, plan=plan, departs=departs
    )
    if as_json:
        click.echo(dump_line(told))
    else:
        click.echo("\n".join(comparison_lines(path, rows, compared, plan=plan, departs=departs)))
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
                f"a conversion is for one {name}, and the pairs tell {', '.join(sorted(map(str, told)))}",
                f"give pairs of one {name}, told in a column '{name}'",
                path=str(outputs.conversion),
            )
        whose[name] = told.pop()
    found = estimate_conversion(
        rows.pairs(outputs.conversion_of),  # type: ignore[arg-type]
        converts_to=rows.reference_name,
        technique=outputs.technique,  # type: ignore[arg-type]
        sedation=outputs.sedation,  # type: ignore[arg-type]
        study=outputs.study,
        version=outputs.conversion_version,
        **whose,
    )
    outputs.conversion.write_text(conversion_text(found, invented=rows.invented), encoding="utf-8")
    click.echo(f"conversion in {outputs.conversion}; nothing uses it unless it is named", err=True)


def _parted(options: dict[str, Any]) -> tuple[Outputs, dict[str, Any]]:
    return (
        Outputs(**{name: options[name] for name in OUTPUTS}),
        {name: value for name, value in options.items() if name not in OUTPUTS},
    )


def _refuse_overwriting(outputs: Outputs, inputs: list[str]) -> None:
    written = [file for file in (outputs.out, outputs.conversion) if file is not None]
    refuse_to_overwrite_inputs(written, [*inputs, *([outputs.plan] if outputs.plan else [])])


def _batch(as_json: bool) -> Batch:
    from quietlimb.exchange.comparison_json import comparison_error_object
    from quietlimb.exchange.json_values import dump_line

    def tell(path: str, error: QuietlimbError) -> None:
        click.echo(dump_line(comparison_error_object(path, error)))

    return Batch(tell if as_json else None)
