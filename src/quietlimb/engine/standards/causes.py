"""What goes with high pressure in cats and dogs: conditions, and classes of drugs and poisons. A warning, no diagnosis.

Conditions: shares of animals with high pressure, the widest range at hand. The table of the ACVIM statement of 2018 was
not seen, so its figures are `from memory`; cats with kidney disease: 19.4 % (Syme et al. 2002) to 65 % were seen. A
condition without figures goes with high pressure all the same, or rarely, as its note says.

Drugs: table 4 of the statement was seen. Classes recalled only are marked so.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal, get_args

from quietlimb.engine.circumstances import Species
from quietlimb.engine.values import Cited, Standing

Condition = Literal[
    "kidney-disease",
    "acute-kidney-injury",
    "protein-loss",
    "hyperthyroidism",
    "hyperadrenocorticism",
    "diabetes",
    "phaeochromocytoma",
    "hyperaldosteronism",
    "hypothyroidism",
    "obesity",
]
DrugClass = Literal[
    "glucocorticoid",
    "mineralocorticoid",
    "erythropoiesis-stimulating",
    "phenylpropanolamine",
    "phenylephrine",
    "other-sympathomimetic",
    "toceranib",
    "sodium",
    "stimulant",
    "5-hydroxytryptophan",
]
CONDITIONS: tuple[Condition, ...] = get_args(Condition)
DRUG_CLASSES: tuple[DrugClass, ...] = get_args(DrugClass)

_TABLE = "table of diseases"
# (condition, species) -> least and largest share in print, the least None where only "up to" is printed; a condition
# without figures for a species is left out
HYPERTENSIVE_SHARE: Mapping[tuple[Condition, Species], tuple[Cited | None, Cited]] = {
    ("kidney-disease", "dog"): (
        Cited(0.09, "share", "ACVIM2018", _TABLE, "from memory"),
        Cited(0.93, "share", "ACVIM2018", _TABLE, "from memory"),
    ),
    ("kidney-disease", "cat"): (
        Cited(0.194, "share", "Syme2002", "JAVMA 220:1799-1804, 103 cats", "published"),
        Cited(0.65, "share", "Bijsmans2013", "range that it quotes", "published"),
    ),
    ("acute-kidney-injury", "dog"): (
        Cited(0.15, "share", "ACVIM2018", _TABLE, "from memory"),
        Cited(0.87, "share", "ACVIM2018", _TABLE, "from memory"),
    ),
    ("protein-loss", "dog"): (None, Cited(0.80, "share", "ACVIM2018", "kidneys that lose protein", "from memory")),
    ("hyperthyroidism", "cat"): (
        Cited(0.05, "share", "ACVIM2018", _TABLE, "from memory"),
        Cited(0.87, "share", "ACVIM2018", _TABLE, "from memory"),
    ),
    ("hyperadrenocorticism", "dog"): (
        Cited(0.20, "share", "ACVIM2018", _TABLE, "from memory"),
        Cited(0.80, "share", "ACVIM2018", _TABLE, "from memory"),
    ),
    ("diabetes", "dog"): (
        Cited(0.24, "share", "ACVIM2018", _TABLE, "from memory"),
        Cited(0.67, "share", "ACVIM2018", _TABLE, "from memory"),
    ),
    ("diabetes", "cat"): (None, Cited(0.15, "share", "ACVIM2018", _TABLE, "from memory")),
    ("phaeochromocytoma", "dog"): (
        Cited(0.43, "share", "ACVIM2018", _TABLE, "from memory"),
        Cited(0.86, "share", "ACVIM2018", _TABLE, "from memory"),
    ),
    ("hyperaldosteronism", "cat"): (
        Cited(0.50, "share", "ACVIM2018", _TABLE, "from memory"),
        Cited(1.00, "share", "ACVIM2018", _TABLE, "from memory"),
    ),
}

# Classes of drugs for which the table names dogs alone; the others are for both species, or it is not told.
DOGS_ALONE: frozenset[DrugClass] = frozenset({"glucocorticoid", "mineralocorticoid", "phenylpropanolamine"})

# Table 4 was seen for these; the rest is recalled.
_SEEN = frozenset(
    {"glucocorticoid", "mineralocorticoid", "erythropoiesis-stimulating", "phenylpropanolamine", "phenylephrine"}
)


def drug_standing(drug: DrugClass) -> Standing:
    """How far it was verified that this class can raise the pressure."""
    return "published" if drug in _SEEN else "from memory"
