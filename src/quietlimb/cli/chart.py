"""`quietlimb chart`: sessions to charted pressures and their meaning."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from quietlimb.cli.animal import AnimalTold, animal_options
from quietlimb.cli.faults import Batch
from quietlimb.cli.numbers import Number
from quietlimb.cli.options import (
    METHODS,
    VARIABILITIES,
    channel_option,
    json_option,
    method_option,
    organs_option,
    refuse_rules_of_another_species,
    rules_option,
    species_option,
)
from quietlimb.cli.outputs import refuse_to_overwrite_inputs
from quietlimb.cli.paths import matches
from quietlimb.cli.pictures import numbered, picture_option
from quietlimb.engine.circumstances import Species
from quietlimb.engine.errors import QuietlimbError
from quietlimb.engine.interpretation.interpretation import Organ, OrganState

if TYPE_CHECKING:
    from quietlimb.engine.session.guideline import Variability


@click.command(short_help="Sessions to charted pressures and their meaning.")
@click.argument("paths", nargs=-1, required=True, metavar="PATH...")
@species_option()
@channel_option
@method_option
@click.option(
    "--variability",
    type=click.Choice(VARIABILITIES),
    default="range",
    show_default=True,
    help="How the guideline's rule on consistency is figured.",
)
@click.option(
    "--wanted",
    type=Number(least=1.0, most=50.0),
    default=8.0,
    show_default=True,
    metavar="MMHG",
    help="How far the interval may reach to either side before more readings are asked for.",
)
@rules_option
@organs_option
@animal_options
@click.option(
    "--conversion",
    metavar="FILE",
    help="Show beside the measured pressure what another method would have shown, by a conversion of `compare`.",
)
@picture_option
@json_option
def chart(
    paths: tuple[str, ...],
    species: Species | None,
    channel: str | None,
    method: str,
    variability: Variability,
    wanted: float,
    rules: str,
    organs: dict[Organ, OrganState],
    animal: AnimalTold,
    conversion: str | None,
    picture: Path | None,
    as_json: bool,
) -> None:
    """Chart sessions: the level reached, the guideline average beside it, and what the pressure means.

    PATH is a folder of recordings or a CSV file of readings; each path is one session.
    """
    from quietlimb.cli.session import chart_session
    from quietlimb.cli.session_text import session_lines
    from quietlimb.engine.session.enough import enough
    from quietlimb.engine.standards.rule_sets import rule_set
    from quietlimb.exchange.conversion_json import read_conversion
    from quietlimb.exchange.converted_json import beside
    from quietlimb.exchange.errors import FileError, one_line
    from quietlimb.exchange.json_values import dump_line
    from quietlimb.exchange.results_json import charted_error_object, charted_object
    from quietlimb.figures.invented import is_invented

    def tell(path: str, error: QuietlimbError) -> None:
        told = charted_error_object(path, error)
        if isinstance(error, FileError) and error.path != path:
            # The session is the folder; which of its files is at fault must not be lost.
            told["error"]["says"] = f"{one_line(error.path)}: {error.says}"
        click.echo(dump_line(told))

    refuse_rules_of_another_species(rules, species)
    batch = Batch(tell if as_json else None)
    chosen = None
    if conversion is not None:
        with batch.file(conversion):
            chosen = read_conversion(conversion)
        if batch.failed:
            batch.end()  # charted without what was asked for, it would look as if nothing had been converted
    sessions: list[str] = []
    for given in paths:
        with batch.file(given):
            sessions.extend(matches(given))
    if picture is not None:
        refuse_to_overwrite_inputs([numbered(picture, k + 1, len(sessions)) for k in range(len(sessions))], sessions)
    for ordinal, path in enumerate(sessions, start=1):
        with batch.file(path):
            session = chart_session(
                path,
                batch,
                channel=channel,
                species=species,
                method=METHODS[method],
                variability=variability,
                organs=organs,
                animal=animal,
                rules=rules,
            )
            charted, interpretation = session.charted, session.interpretation
            found = enough(charted, wanted_mmhg=wanted, rules=rules)
            there = charted.series.circumstances
            converted = None
            if chosen is not None:
                measured = getattr(charted, chosen.conversion.quantity)
                named = rule_set(rules, there.species) if charted.gets_category else None
                converted = beside(chosen, measured, there, rules=named, invented=is_invented(there))
            if as_json:
                click.echo(dump_line(charted_object(path, charted, interpretation, found, converted)))
            else:
                click.echo("\n".join([*session_lines(path, charted, interpretation, found, converted), ""]))
            if picture is not None:
                from quietlimb.figures.export import save
                from quietlimb.figures.session import session_figure

                target = numbered(picture, ordinal, len(sessions))
                save(session_figure(charted, interpretation, title=Path(path).name), target)
                click.echo(f"{path}: picture in {target}", err=True)
    batch.end()
