"""Whom to measure as one JSON object; what each member means is written in `schemas/screen.json`."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from quietlimb.engine.circumstances import Species
from quietlimb.engine.interpretation.interpretation import Advice
from quietlimb.engine.standards.rule_set import RuleSet
from quietlimb.engine.version import ENGINE_VERSION
from quietlimb.exchange.json_values import JsonObject, number_or_null
from quietlimb.exchange.results_json import advice_object

SCREEN: Final = "quietlimb/screen/1"


def screen_object(asks: Sequence[Advice], *, species: Species, age_years: float | None, rules: RuleSet) -> JsonObject:
    """What `screen` tells about an animal."""
    return {
        "schema": SCREEN,
        "species": species,
        "age_years": number_or_null(age_years),
        "rule_set": rules.name,
        "rules": rules.key,
        "asks": [advice_object(each) for each in asks],
        "engine": ENGINE_VERSION,
    }
