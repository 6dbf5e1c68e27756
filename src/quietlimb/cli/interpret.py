"""`quietlimb interpret`: what a systolic pressure means."""

from __future__ import annotations

from typing import get_args

import click

from quietlimb.cli.faults import wrong_use
from quietlimb.cli.numbers import Number, NumberCommand
from quietlimb.cli.options import json_option, organs_option, species_option
from quietlimb.engine.circumstances import Species, Technique
from quietlimb.engine.interpretation.interpretation import Organ, OrganState


@click.command(cls=NumberCommand, short_help="What one systolic pressure means.")
@click.argument("systolic", type=Number(), metavar="SYSTOLIC")
@species_option(required=True, says="The animal.")
@click.option(
    "--sd",
    type=Number(least=0.0, most=100.0),
    help="Standard deviation of SYSTOLIC in mmHg, 0 if exact; that of one reading by --method if left out.",
)
@click.option(
    "--method",
    type=click.Choice(get_args(Technique)),
    default="oscillometric",
    show_default=True,
    help="How it was measured; sets the usual change from reading to reading and from day to day.",
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
    from quietlimb.cli.interpretation_text import (
        category_lines,
        check_list_lines,
        low_pressure_lines,
        next_lines,
        organ_lines,
    )
    from quietlimb.cli.layout import wrapped
    from quietlimb.engine.interpretation.interpret import interpret_systolic
    from quietlimb.engine.standards.day_to_day import WITHIN_SESSION_SD
    from quietlimb.engine.values import Estimate
    from quietlimb.exchange.results_json import dump_line, interpretation_object
    from quietlimb.words.categories import brief_heading
    from quietlimb.words.sources import source_and_standing

    _refuse_kpa(systolic)
    usual = WITHIN_SESSION_SD[species, method]
    if sd is not None:
        spread = f"SD as given: {sd:g} mmHg." if sd else "Taken as exact, as given."
    else:
        sd = usual.value
        source = source_and_standing(usual.source, usual.standing)
        spread = f"SD of one reading taken as {sd:.0f} mmHg, {usual.place} {source}; --sd gives another."
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
    answer = f"{species}, systolic {systolic:g} mmHg: {brief_heading(meaning)}"
    sections = (
        [answer, *low_pressure_lines(meaning), *wrapped(spread)],
        category_lines(meaning),
        organ_lines(meaning),
        check_list_lines(meaning),
        next_lines(meaning),
    )
    click.echo("\n\n".join("\n".join(section) for section in sections if section))


def _refuse_kpa(systolic: float) -> None:
    """A number so low that kilopascals are more likely than millimetres is asked about, as in files of readings."""
    from quietlimb.engine.units import mmhg_from_kpa
    from quietlimb.exchange.readings_csv import KPA_SUSPECTED_BELOW

    if 0.0 < systolic < KPA_SUSPECTED_BELOW.value:
        raise click.UsageError(
            f"{systolic:g} is under {KPA_SUSPECTED_BELOW.value:g} mmHg: is this kPa? "
            f"Give mmHg; {systolic:g} kPa is {mmhg_from_kpa(systolic):.0f} mmHg"
        )
