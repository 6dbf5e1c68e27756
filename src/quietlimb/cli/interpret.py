"""`quietlimb interpret`: what a systolic pressure means."""

from __future__ import annotations

import math
from typing import get_args

import click

from quietlimb.cli.faults import wrong_use
from quietlimb.cli.options import json_option, organs_option, species_option
from quietlimb.engine.circumstances import Species, Technique
from quietlimb.engine.interpretation.interpretation import Organ, OrganState


@click.command(short_help="What one systolic pressure means.")
@click.argument("systolic", type=float, metavar="SYSTOLIC")
@species_option(required=True, says="The animal.")
@click.option(
    "--sd", type=click.FloatRange(0.0, 100.0), help="Standard deviation of SYSTOLIC in mmHg; exact if left out."
)
@click.option(
    "--method",
    type=click.Choice(get_args(Technique)),
    default="oscillometric",
    show_default=True,
    help="How it was measured; sets the usual change from day to day.",
)
@organs_option
@json_option
def interpret(
    systolic: float,
    species: Species,
    sd: float | None,
    method: Technique,
    organs: dict[Organ, OrganState],
    as_json: bool,
) -> None:
    """Tell category, organ check list, next steps and cautions for one SYSTOLIC pressure in mmHg."""
    from quietlimb.cli.interpretation_text import category_lines, check_list_lines, next_lines, organ_lines
    from quietlimb.engine.interpretation.interpret import interpret_systolic
    from quietlimb.engine.values import Estimate
    from quietlimb.exchange.results_json import dump_line, interpretation_object

    if sd is not None and not math.isfinite(sd):
        raise click.BadParameter(f"{sd} is not a number of mmHg", param_hint="--sd")
    pressure: Estimate | float = systolic
    if sd:
        # 1.96 standard deviations on both sides hold 95 % of a normal distribution.
        low, high = systolic - 1.96 * sd, systolic + 1.96 * sd
        pressure = Estimate(value=systolic, low=low, high=high, own_sd=sd, shared_sd=0.0)
    with wrong_use():
        meaning = interpret_systolic(pressure, species=species, method=method, organs=organs)
    if as_json:
        click.echo(dump_line(interpretation_object(meaning, systolic_mmhg=systolic, species=species, sd_mmhg=sd)))
        return
    spread = f", standard deviation {sd:g} mmHg" if sd else ""
    sections = (
        [f"{species}, systolic {systolic:g} mmHg{spread}"],
        category_lines(meaning),
        organ_lines(meaning),
        check_list_lines(meaning),
        next_lines(meaning),
    )
    click.echo("\n\n".join("\n".join(section) for section in sections if section))
