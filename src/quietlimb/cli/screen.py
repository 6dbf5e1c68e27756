"""`quietlimb screen`: who asks for the pressure of an animal that was not measured yet."""

from __future__ import annotations

from typing import cast

import click

from quietlimb.cli.animal import conditions_option, drugs_option, listed, young_option
from quietlimb.cli.faults import wrong_use
from quietlimb.cli.numbers import Number
from quietlimb.cli.options import json_option, rules_option, species_option
from quietlimb.engine.circumstances import Species
from quietlimb.engine.interpretation.background import OLDEST_YEARS, Background
from quietlimb.engine.standards.causes import Condition, DrugClass


@click.command(short_help="Whom to measure at all, and how often.")
@species_option(required=True, says="The animal.")
@click.option("--age", type=Number(least=0.0, most=OLDEST_YEARS), help="Age in years.")
@conditions_option
@drugs_option
@click.option("--signs", is_flag=True, help="There is a sign of damage in eyes, brain, heart or kidneys.")
@click.option("--before-anaesthesia", is_flag=True, help="It is to be anaesthetised, and unwell or old.")
@young_option
@rules_option
@json_option
def screen(
    species: Species,
    age: float | None,
    conditions: str | None,
    drugs: str | None,
    signs: bool,
    before_anaesthesia: bool,
    young: bool,
    rules: str,
    as_json: bool,
) -> None:
    """Tell who asks for the blood pressure of an animal that was not measured yet, and how often from then on."""
    from quietlimb.cli.layout import bullets, wrapped
    from quietlimb.engine.interpretation.screen import screen as screen_animal
    from quietlimb.engine.standards.rule_sets import rule_set
    from quietlimb.exchange.json_values import dump_line
    from quietlimb.exchange.screen_json import screen_object
    from quietlimb.words import advice as words

    with wrong_use():
        chosen = rule_set(rules, species)
        background = Background(
            conditions=cast("tuple[Condition, ...] | None", listed(conditions)),
            drugs=cast("tuple[DrugClass, ...] | None", listed(drugs)),
            age_years=age,
            young=young or None,
        )
    found = screen_animal(
        species, rules=rules, background=background, signs=signs, before_anaesthesia=before_anaesthesia
    )
    if as_json:
        click.echo(dump_line(screen_object(found, species=species, age_years=age, rules=chosen)))
        return
    who = species if age is None else f"{species}, {age:g} years"
    lines = [
        f"{who}: who asks for its blood pressure ({chosen.name})",
        *bullets(f"{words.sentence(each)} {words.source_line(each)}" for each in found),
        *wrapped("The veterinarian decides whom to measure."),
    ]
    click.echo("\n".join(lines))
