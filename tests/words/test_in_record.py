"""Illnesses and drugs in the record, as sentences."""

from __future__ import annotations

from itertools import product

import pytest

from quietlimb.engine.interpretation.background import Background
from quietlimb.engine.interpretation.in_record import in_record
from quietlimb.engine.standards.causes import CONDITIONS, DRUG_CLASSES
from quietlimb.words import in_record as words
from words.test_no_doses import objections


def test_every_illness_and_class_has_a_name() -> None:
    """The tables of the words are those of the standards.

    Oracle: by construction.
    """
    assert tuple(words.CONDITIONS) == CONDITIONS
    assert tuple(words.DRUGS) == DRUG_CLASSES


@pytest.mark.parametrize("species", ["cat", "dog"])
def test_whatever_is_in_the_record_is_told_without_a_dose(species) -> None:
    """One sentence each, no placeholder, no dose, no drug that treats.

    Oracle: by construction, what the project promises.
    """
    found = in_record(species, Background(conditions=CONDITIONS, drugs=DRUG_CLASSES))
    assert len(found) == len(CONDITIONS) + len(DRUG_CLASSES)
    for each in found:
        told = words.record_sentence(each, species)
        assert told.startswith("In the record: ")
        assert told.endswith(".")
        assert "{" not in told
        assert objections(told) == []


@pytest.mark.parametrize(
    ("species", "condition", "words_in_it"),
    [
        ("cat", "kidney-disease", "19 to 65 % of cats"),
        ("dog", "kidney-disease", "9 to 93 % of dogs"),
        ("dog", "protein-loss", "up to 80 % of dogs"),
        ("cat", "diabetes", "up to 15 % of cats"),
        ("cat", "obesity", "is not known here"),
    ],
)
def test_shares_are_told_as_printed(species, condition, words_in_it) -> None:
    """From the least to the largest, up to the largest, or that nothing is known.

    Oracle: published, Syme 2002 and Bijsmans 2013; from memory, ACVIM 2018.
    """
    (found,) = in_record(species, Background(conditions=(condition,)))
    assert words_in_it in words.record_sentence(found, species)


def test_an_animal_with_an_empty_record_has_nothing_to_tell() -> None:
    """Not told, and told as none.

    Oracle: by construction.
    """
    for told, species in product(((), None), ("cat", "dog")):
        assert in_record(species, Background(conditions=told, drugs=told)) == ()


@pytest.mark.parametrize(
    ("species", "drug", "alone"), [("cat", "glucocorticoid", True), ("dog", "glucocorticoid", False)]
)
def test_a_drug_named_for_dogs_is_not_told_of_cats(species, drug, alone) -> None:
    """Three classes stand in the table for dogs only.

    Oracle: published, ACVIM 2018 table 4.
    """
    (found,) = in_record(species, Background(drugs=(drug,)))
    assert ("for dogs alone" in words.record_sentence(found, species)) is alone
