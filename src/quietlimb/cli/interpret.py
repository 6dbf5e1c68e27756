"""`quietlimb interpret`: what a systolic pressure means."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, cast, get_args

import click

from quietlimb.cli.days import Day
from quietlimb.cli.faults import wrong_use
from quietlimb.cli.numbers import Number, NumberCommand
from quietlimb.cli.options import json_option, organs_option, rules_option, species_option
from quietlimb.engine.circumstances import Consciousness, Place, Species, Technique
from quietlimb.engine.interpretation.interpretation import Organ, OrganState
from quietlimb.engine.standards.causes import CONDITIONS, DRUG_CLASSES, Condition, DrugClass

if TYPE_CHECKING:
    from quietlimb.engine.interpretation.background import Background


def _listed(text: str | None) -> tuple[str, ...] | None:
    """Words with commas between; `none` for nothing, which is more than not told."""
    if text is None:
        return None
    words = tuple("-".join(word.split()).casefold() for word in text.split(",") if word.strip())
    return () if words == ("none",) else words


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
@click.option(
    "--method-sd",
    type=Number(least=0.0, most=100.0),
    default=0.0,
    help="Standard deviation of the method against arterial pressure, mmHg, where a comparison gave it.",
)
@rules_option
@organs_option
@click.option("--mean", type=Number(least=10.0, most=350.0), help="Mean pressure, mmHg: looked at for low pressure.")
@click.option(
    "--diastolic", type=Number(least=5.0, most=350.0), help="Diastolic pressure, mmHg: for a remark by older rule sets."
)
@click.option("--place", type=click.Choice(get_args(Place)), help="Where it was measured.")
@click.option("--sedation", type=click.Choice(get_args(Consciousness)), help="Sedated animals get no category.")
@click.option("--breed", help="For a remark; changes no category.")
@click.option("--conditions", metavar="LIST", help=f"Illnesses in the record, or none: {', '.join(CONDITIONS)}.")
@click.option("--drugs", metavar="LIST", help=f"Kinds of drugs in the record, or none: {', '.join(DRUG_CLASSES)}.")
@click.option("--excited/--calm", default=None, help="How the animal was; not told if left out.")
@click.option("--first-visit", is_flag=True, help="It had never been there before.")
@click.option("--young", is_flag=True, help="It is young and healthy.")
@click.option(
    "--age", type=Number(least=0.0, most=40.0), help="Age in years, for when to measure a normal animal again."
)
@click.option("--weak", is_flag=True, help="It is weak or faint.")
@click.option("--treated", is_flag=True, help="Under treatment against high pressure; a --history tells it too.")
@click.option(
    "--history",
    type=click.Path(exists=True, dir_okay=False),
    help="Earlier sessions, as for `follow`: the status of the animal rests on them and on SYSTOLIC.",
)
@click.option("--on", "on", type=Day(), metavar="DATE", help="The day of SYSTOLIC; needed with --history.")
@json_option
def interpret(
    systolic: float,
    species: Species,
    sd: float | None,
    method: Technique,
    method_sd: float,
    rules: str,
    organs: dict[Organ, OrganState],
    mean: float | None,
    diastolic: float | None,
    place: Place | None,
    sedation: Consciousness | None,
    breed: str | None,
    conditions: str | None,
    drugs: str | None,
    excited: bool | None,
    first_visit: bool,
    young: bool,
    age: float | None,
    weak: bool,
    treated: bool,
    history: str | None,
    on: date | None,
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
    from quietlimb.engine.interpretation.background import Background
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
        pressure = Estimate(value=systolic, low=low, high=high, own_sd=sd, shared_sd=0.0)
    with wrong_use():
        background = Background(
            breed=breed,
            conditions=cast("tuple[Condition, ...] | None", _listed(conditions)),
            drugs=cast("tuple[DrugClass, ...] | None", _listed(drugs)),
            treated=treated,
            weak=weak or None,
            excited=excited,
            first_visit=first_visit or None,
            young=young or None,
            age_years=age,
        )
        if history is not None:
            background = _with_history(background, history, species, on)
        meaning = interpret_systolic(
            pressure,
            species=species,
            method=method,
            method_sd=method_sd,
            rules=rules,
            organs=organs,
            background=background,
            sedation=sedation,
            place=place,
            mean_mmhg=mean,
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


def _with_history(told: Background, path: str, species: Species, on: date | None) -> Background:
    """Earlier sessions and treatment by a history file; `--treated` stands whatever the file tells."""
    from dataclasses import replace

    from quietlimb.cli.earlier_sessions import earlier_sessions, is_moved
    from quietlimb.engine.units import DAYS_PER_YEAR
    from quietlimb.exchange.errors import FileError, one_line
    from quietlimb.exchange.history_csv import read_history

    if on is None:
        raise click.UsageError("--history needs the day of the pressure: give --on, as 2031-02-04")
    try:
        history = read_history(path, species=species)
    except FileError as error:
        raise click.UsageError(str(error)) from None
    sessions = earlier_sessions(history, on)
    day = on.toordinal()
    later = sum(session.day >= day for session in history.sessions)
    if later:
        click.echo(one_line(f"{path}: sessions on {on.isoformat()} or later that are left out: {later}"), err=True)
    if history.organ_damage == "present":
        damage = "it tells organ damage, but not of which organ; it counts only where --organs names the organ"
        click.echo(one_line(f"{path}: {damage}"), err=True)
    last = day - int(sessions[-1].days_ago) if sessions else 0
    born = history.born_day
    return replace(
        told,
        age_years=(day - born) / DAYS_PER_YEAR if told.age_years is None and born is not None else told.age_years,
        at_risk=history.at_risk,
        history=sessions,
        treated=told.treated or history.before(day - 1).treated,
        treatment_moved=is_moved(history.events, last, day),
    )


def _refuse_kpa(systolic: float) -> None:
    """A number so low that kilopascals are more likely than millimetres is asked about, as in files of readings."""
    from quietlimb.engine.units import mmhg_from_kpa
    from quietlimb.exchange.readings_csv import KPA_SUSPECTED_BELOW

    if 0.0 < systolic < KPA_SUSPECTED_BELOW.value:
        raise click.UsageError(
            f"{systolic:g} is under {KPA_SUSPECTED_BELOW.value:g} mmHg: is this kPa? "
            f"Give mmHg; {systolic:g} kPa is {mmhg_from_kpa(systolic):.0f} mmHg"
        )
