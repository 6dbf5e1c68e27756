"""`quietlimb report`: one page for the record."""

from __future__ import annotations

from pathlib import Path
from typing import Literal

import click

from quietlimb.cli.animal import AnimalTold, animal_options
from quietlimb.cli.faults import Batch
from quietlimb.cli.options import (
    METHODS,
    channel_option,
    method_option,
    organs_option,
    refuse_rules_of_another_species,
    rules_option,
    species_option,
)
from quietlimb.cli.outputs import refuse_to_overwrite_inputs
from quietlimb.engine.circumstances import Species
from quietlimb.engine.interpretation.interpretation import Organ, OrganState


def _a_page(_context: click.Context, _parameter: click.Parameter, out: Path) -> Path:
    if out.suffix.casefold() != ".pdf":
        raise click.BadParameter(f"{out} must end in .pdf")
    return out


@click.command(short_help="One page for the record, and a note to paste.")
@click.argument("path", metavar="PATH")
@click.option(
    "--out",
    type=click.Path(dir_okay=False, path_type=Path),
    callback=_a_page,
    required=True,
    help="The PDF to write; its name ends in .pdf. A file of that name is replaced.",
)
@click.option(
    "--paper", type=click.Choice(["a4", "us-letter"]), default="a4", show_default=True, help="Size of the page."
)
@click.option("--note", is_flag=True, help="Also print the chart note, to paste into the record.")
@species_option()
@channel_option
@method_option
@rules_option
@organs_option
@animal_options
def report(
    path: str,
    out: Path,
    paper: Literal["a4", "us-letter"],
    note: bool,
    species: Species | None,
    channel: str | None,
    method: str,
    rules: str,
    organs: dict[Organ, OrganState],
    animal: AnimalTold,
) -> None:
    """Write one page for the record of the session in PATH, a folder of recordings or a CSV file of readings."""
    from quietlimb.cli.session import chart_session
    from quietlimb.figures.export import svg
    from quietlimb.figures.session import session_figure
    from quietlimb.reports.note import chart_note
    from quietlimb.reports.page import PAGE_PICTURE_PX, report_pdf

    refuse_rules_of_another_species(rules, species)
    refuse_to_overwrite_inputs([out], [path])
    batch = Batch()
    with batch.file(path):
        session = chart_session(
            path,
            batch,
            channel=channel,
            species=species,
            method=METHODS[method],
            organs=organs,
            animal=animal,
            rules=rules,
        )
        picture = svg(session_figure(session.charted, session.interpretation, width=PAGE_PICTURE_PX))
        page = report_pdf(session.charted, session.interpretation, paper=paper, figure_svg=picture)
        out.write_bytes(page)
        click.echo(f"{path}: report in {out}", err=True)
        if note:
            click.echo(chart_note(session.charted, session.interpretation), nl=False)
    batch.end()
