"""Illnesses and drugs in the record that go with high pressure, as sentences. A warning, no diagnosis and no advice."""

from __future__ import annotations

from collections.abc import Mapping

from quietlimb.engine.circumstances import Species
from quietlimb.engine.interpretation.interpretation import InRecord
from quietlimb.engine.standards.causes import DOGS_ALONE, Condition, DrugClass
from quietlimb.words.language import _, in_a_sentence, mark
from quietlimb.words.sources import source_and_standing

CONDITIONS: Mapping[Condition, str] = {
    "kidney-disease": mark("chronic kidney disease"),
    "acute-kidney-injury": mark("acute kidney injury"),
    "protein-loss": mark("loss of protein through the kidneys"),
    "hyperthyroidism": mark("an overactive thyroid"),
    "hyperadrenocorticism": mark("overactive adrenal glands"),
    "diabetes": mark("diabetes mellitus"),
    "phaeochromocytoma": mark("phaeochromocytoma"),
    "hyperaldosteronism": mark("primary hyperaldosteronism"),
    "hypothyroidism": mark("an underactive thyroid"),
    "obesity": mark("obesity"),
}
DRUGS: Mapping[DrugClass, str] = {
    "glucocorticoid": mark("Glucocorticoids"),
    "mineralocorticoid": mark("Mineralocorticoids"),
    "erythropoiesis-stimulating": mark("Drugs that stimulate the making of red blood cells"),
    "phenylpropanolamine": mark("Drugs against leaking of urine that act like adrenaline"),
    "phenylephrine": mark("Eye drops and others that act like adrenaline"),
    "other-sympathomimetic": mark("Drugs that act like adrenaline"),
    "toceranib": mark("Some drugs against tumours"),
    "sodium": mark("Much salt over a long time"),
    "stimulant": mark("Poisoning by stimulants"),
    "5-hydroxytryptophan": mark("5-hydroxytryptophan"),
}
_SPECIES: Mapping[Species, str] = {"cat": mark("cats"), "dog": mark("dogs")}


def record_sentence(found: InRecord, species: Species) -> str:
    """What is printed about an illness or a class of drugs, with its source."""
    source = source_and_standing(found.source, found.standing)
    if found.kind == "drug":
        drug = next(text for code, text in DRUGS.items() if code == found.name)
        if species == "cat" and found.name in DOGS_ALONE:
            return _(
                "In the record: {drug}, named for dogs alone {source}; what they do in cats is not known here."
            ).format(drug=in_a_sentence(_(drug)), source=source)
        return _("In the record: {drug}, which can raise the pressure {source}.").format(
            drug=in_a_sentence(_(drug)), source=source
        )
    illness = _(next(text for code, text in CONDITIONS.items() if code == found.name))
    told = {"illness": illness, "species": _(_SPECIES[species]), "source": source}
    least, largest = found.share
    if largest is None:
        return _("In the record: {illness}; how many {species} with it have high pressure is not known here.").format(
            **told
        )
    percents = {"largest": 100.0 * largest, "least": 100.0 * (least or 0.0)}
    if least is None:
        return _(
            "In the record: {illness}; up to {largest:.0f} % of {species} with it have high pressure {source}."
        ).format(**told, **percents)
    return _(
        "In the record: {illness}; {least:.0f} to {largest:.0f} % of {species} with it have high pressure {source}."
    ).format(**told, **percents)
