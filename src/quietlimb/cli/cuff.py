"""`quietlimb cuff`: which cuff for this limb."""

from __future__ import annotations

import click

from quietlimb.cli.faults import wrong_use
from quietlimb.cli.numbers import Number, NumberCommand
from quietlimb.cli.options import json_option, species_option
from quietlimb.engine.circumstances import Species


@click.command(cls=NumberCommand, short_help="Which cuff widths fit a limb.")
@click.argument("circumference_cm", type=Number(), metavar="CIRCUMFERENCE_CM")
@species_option(required=True, says="The animal.")
@click.option(
    "--width", "widths", type=Number(), multiple=True, help="Bladder width in the house, cm; may be repeated."
)
@json_option
def cuff(circumference_cm: float, species: Species, widths: tuple[float, ...], as_json: bool) -> None:
    """Judge cuff widths for a limb of CIRCUMFERENCE_CM, the best first."""
    from quietlimb.cli.layout import table, wrapped
    from quietlimb.exchange.json_values import dump_line
    from quietlimb.exchange.results_json import cuff_object
    from quietlimb.instruments.cuffs import circumference_remark, cuff_choices
    from quietlimb.words.cuffs import fit_words, how_to_measure, judged_by, remark_sentence

    with wrong_use():
        choices = cuff_choices(circumference_cm, species, widths or None)
    if as_json:
        click.echo(dump_line(cuff_object(circumference_cm, species, choices)))
        return
    # Of all widths that exist, those far off are no choice; of those in the house each deserves its answer.
    shown = [choice for choice in choices if widths or not choice.fit.startswith("far")]
    rows = [(f"{choice.width_cm:g} cm", f"{100 * choice.ratio:.1f} %", fit_words(choice.fit)) for choice in shown]
    lines = [f"{species}, limb {circumference_cm:g} cm"]
    lines += table(("width", "of limb", "fit"), rows, left=frozenset({"fit"})) if rows else ["  no width fits"]
    remark = circumference_remark(circumference_cm, species)
    if remark is not None:
        lines += wrapped(remark_sentence(remark, circumference_cm=circumference_cm, species=species))
    click.echo("\n".join([*lines, *wrapped(judged_by(species)), *wrapped(how_to_measure())]))
