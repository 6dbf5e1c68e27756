"""Lines of treatment that stand in print without categories: two series of cats, and a review of 1997.

They are told beside the chosen rule set where they would say otherwise; they cannot be chosen.
    Bijsmans et al. 2013 (abstract) : cats, 170 mmHg and over at two visits running, or 160 with lesions of the fundus.
    Syme et al. 2002, JAVMA 220:1799-1804 : cats, more than 175 mmHg twice, or with lesions; which ones is not told.
    Henik 1997, Vet Clin N Am 27:1355-1372 : cats consistently over 170, dogs over 180; historic.
"Consistently" is taken as two sessions.
"""

from __future__ import annotations

from dataclasses import dataclass

from quietlimb.engine.circumstances import Species
from quietlimb.engine.standards.rule_set import TreatmentLine
from quietlimb.engine.values import Cited


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintedTreatment:
    """One text's lines of treatment for one species."""

    name: str
    source: str
    species: Species
    lines: tuple[TreatmentLine, ...]


BIJSMANS_2013 = PrintedTreatment(
    name="Bijsmans 2013",
    source="Bijsmans2013",
    species="cat",
    lines=(
        TreatmentLine(
            from_mmhg=Cited(160.0, "mmHg", "Bijsmans2013", "abstract", "published"),
            sessions=Cited(1.0, "sessions", "Bijsmans2013", "abstract", "published"),
            organs="eyes",
        ),
        TreatmentLine(
            from_mmhg=Cited(170.0, "mmHg", "Bijsmans2013", "abstract", "published"),
            sessions=Cited(2.0, "sessions", "Bijsmans2013", "abstract", "published"),
            organs="none",
        ),
    ),
)
SYME_2002 = PrintedTreatment(
    name="Syme 2002",
    source="Syme2002",
    species="cat",
    lines=(
        TreatmentLine(
            from_mmhg=Cited(175.0, "mmHg", "Syme2002", "methods", "published"),
            sessions=Cited(1.0, "sessions", "Syme2002", "methods", "published"),
            organs="eyes or brain",
            above=True,
        ),
        TreatmentLine(
            from_mmhg=Cited(175.0, "mmHg", "Syme2002", "methods", "published"),
            sessions=Cited(2.0, "sessions", "Syme2002", "methods", "published"),
            organs="none",
            above=True,
        ),
    ),
)
HENIK_1997_CAT = PrintedTreatment(
    name="Henik 1997",
    source="Henik1997",
    species="cat",
    lines=(
        TreatmentLine(
            from_mmhg=Cited(170.0, "mmHg", "Henik1997", "cats, consistently over 170/100", "published"),
            sessions=Cited(2.0, "sessions", "Quietlimb", "what consistently is taken for", "invented"),
            organs="none",
            above=True,
        ),
    ),
)
HENIK_1997_DOG = PrintedTreatment(
    name="Henik 1997",
    source="Henik1997",
    species="dog",
    lines=(
        TreatmentLine(
            from_mmhg=Cited(180.0, "mmHg", "Henik1997", "dogs, over 180/100", "published"),
            sessions=Cited(2.0, "sessions", "Quietlimb", "what consistently is taken for", "invented"),
            organs="none",
            above=True,
        ),
    ),
)
PRINTED_TREATMENT = (BIJSMANS_2013, SYME_2002, HENIK_1997_CAT, HENIK_1997_DOG)
