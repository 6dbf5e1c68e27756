"""`quietlimb interpret`: what a systolic pressure means."""

from __future__ import annotations

from typing import get_args

import click

from quietlimb.cli.animal import NO_DAY, AnimalTold, animal_options
from quietlimb.cli.faults import Batch, wrong_use
from quietlimb.cli.numbers import Number, NumberCommand
from quietlimb.cli.options import json_option, organs_option, rules_option, species_option
from quietlimb.engine.circumstances import Consciousness, Place, Species, Technique
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
@rules_option
@organs_option
@click.option("--mean", type=Number(least=10.0, most=350.0), help="Mean pressure, mmHg: looked at for low pressure.")
@click.option(
    "--diastolic", type=Number(least=5.0, most=350.0), help="Diastolic pressure, mmHg: for a remark by older rule sets."
)
@click.option("--place", type=click.Choice(get_args(Place)), help="Where it was measured.")
@click.option("--sedation", type=click.Choice(get_args(Consciousness)), help="Sedated animals get no category.")
@animal_options
@json_option
def interpret(
    systolic: float,
    species: Species,
    sd: float | None,
    method: Technique,
    rules: str,
    organs: dict[Organ, OrganState],
    mean: float | None,
    diastolic: float | None,
    place: Place | None,
    sedation: Consciousness | None,
    animal: AnimalTold,
    as_json: bool,
) -> None:
    """Tell category, status, organ check list, next steps and cautions for one SYSTOLIC pressure in mmHg."""
    from quietlimb.cli.interpretation_text import (
        animal_lines,
        category_lines,
        check_list_lines,
        low_pressure_lines,
        next_lines,
        organ_lines,
        other_lines,
        record_lines,
        would_change_lines,
    )
    from quietlimb.cli.layout import paragraphs, wrapped
    from quietlimb.engine.interpretation.interpret import interpret_systolic
    from quietlimb.engine.standards.day_to_day import WITHIN_SESSION_SD
    from quietlimb.engine.values import TWO_SIDED_95, Estimate
    from quietlimb.exchange.json_values import dump_line
    from quietlimb.exchange.results_json import interpretation_object
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
        low, high = systolic - TWO_SIDED_95 * sd, systolic + TWO_SIDED_95 * sd
        pressure = Estimate(value=systolic, low=low, high=high, own_sd=sd, shared_sd=None)
    if animal.history is not None and animal.on is None:
        raise click.UsageError(f"{NO_DAY}; give --on, as 2031-02-04")
    batch = Batch()
    with batch.file(animal.history or ""):
        background, day_to_day_sd = animal.background_of(species, method)
    batch.end()
    with wrong_use():
        meaning = interpret_systolic(
            pressure,
            species=species,
            method=method,
            method_sd=animal.method_sd,
            rules=rules,
            organs=organs,
            background=background,
            day_to_day_sd=day_to_day_sd,
            situational_likely=animal.situational,
            sedation=sedation,
            place=place,
            mean_mmhg=mean,
            low_mean_below=animal.low_mean,
            diastolic_mmhg=diastolic,
        )
    if as_json:
        click.echo(dump_line(interpretation_object(meaning, systolic_mmhg=systolic, species=species, sd_mmhg=sd)))
        return
    answer = f"{species}, systolic {systolic:g} mmHg: {brief_heading(meaning)}"
    lines = paragraphs(
        [answer, *low_pressure_lines(meaning), *wrapped(spread)],
        category_lines(meaning),
        animal_lines(meaning),
        record_lines(meaning, species),
        organ_lines(meaning),
        check_list_lines(meaning, species),
        other_lines(meaning),
        would_change_lines(meaning),
        next_lines(meaning),
    )
    click.echo("\n".join(lines))


def _refuse_kpa(systolic: float) -> None:
    """A number so low that kilopascals are more likely than millimetres is asked about, as in files of readings."""
    from quietlimb.engine.units import mmhg_from_kpa
    from quietlimb.exchange.readings_csv import KPA_SUSPECTED_BELOW

    if 0.0 < systolic < KPA_SUSPECTED_BELOW.value:
        raise click.UsageError(
            f"{systolic:g} is under {KPA_SUSPECTED_BELOW.value:g} mmHg: is this kPa? "
            f"Give mmHg; {systolic:g} kPa is {mmhg_from_kpa(systolic):.0f} mmHg"
        )
