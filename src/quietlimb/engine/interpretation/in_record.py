"""Illnesses and drugs in the record that go with high pressure, each with what is printed about it."""

from __future__ import annotations

from quietlimb.engine.circumstances import Species
from quietlimb.engine.interpretation.background import Background
from quietlimb.engine.interpretation.interpretation import InRecord
from quietlimb.engine.standards.acvim_2018 import SOURCE
from quietlimb.engine.standards.causes import HYPERTENSIVE_SHARE, Condition, DrugClass, drug_standing


def in_record(species: Species, background: Background) -> tuple[InRecord, ...]:
    """What of the record is to be weighed, illnesses first, in the order told."""
    conditions = tuple(_condition(species, each) for each in background.conditions or ())
    return (*conditions, *(_drug(each) for each in background.drugs or ()))


def _condition(species: Species, condition: Condition) -> InRecord:
    found = HYPERTENSIVE_SHARE.get((condition, species))
    if found is None:
        return InRecord(kind="condition", name=condition, share=(None, None), source=SOURCE, standing="from memory")
    least, largest = found
    return InRecord(
        kind="condition",
        name=condition,
        share=(None if least is None else least.value, largest.value),
        source=largest.source,
        standing=largest.standing,
    )


def _drug(drug: DrugClass) -> InRecord:
    return InRecord(kind="drug", name=drug, share=(None, None), source=SOURCE, standing=drug_standing(drug))
