"""Criteria by which a comparison is judged, as published: each number with its source and how far it was verified.

For animals: the list of the veterinary consensus statements, which asks each of the systolic and diastolic pressure
(and, by later papers, the mean); its shares within 10 and 20 mmHg were seen in [Seliskar2013]. For people, as a
yardstick only: the standard for instruments with a cuff, its successor of 2018, the grades of [BHS1993], the protocol
of [ESH2010], and the standard for continuous instruments. No animal standard asks for these.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from quietlimb.engine.values import Cited, Standing

ReferenceKind = Literal["intra-arterial", "indirect"]
Measure = Literal[
    "bias",
    "sd",
    "sd-all-pairs",
    "sd-of-animal-means",
    "correlation",
    "share-within",
    "two-of-three-within",
    "animals",
    "pairs",
    "most-pairs-of-an-animal",
    "effective-pairs",
    "reference-at-most",
    "reference-at-least",
    "animals-with-two-of-three-within",
    "animals-with-none-within",
    "publication",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Criterion:
    """One requirement.

    key       : within its scheme
    measure   : what is looked at
    sense     : whether it may be at most or must be at least the limit; a bias at most to either side
    limit     : the figure; of a criterion that has a table, its name
    band      : difference that a share lies within, or pressure of the reference that a share lies beyond [mmHg]
    bands     : for two of three: each band with its share
    quantity  : the only quantity it is for; None for all
    reference : the only kind of reference it is for; None for both
    grade     : that it belongs to, in a scheme with grades
    in_ranges : whether it is also judged at low, normal and high reference pressure
    """

    key: str
    measure: Measure
    sense: Literal["at most", "at least"]
    limit: Cited | None
    band: float | None = None
    bands: tuple[tuple[float, Cited], ...] = ()
    quantity: str | None = None
    reference: ReferenceKind | None = None
    grade: str | None = None
    in_ranges: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Scheme:
    """Criteria that belong together.

    made_for : people: a yardstick, no requirement for animals
    grades   : from the best; empty where it only passes or fails. What meets none has `no_grade`
    left_out : codes of what the text asks for and is not judged here
    """

    key: str
    name: str
    source: str
    made_for: Literal["animals", "people"]
    criteria: tuple[Criterion, ...]
    grades: tuple[str, ...] = ()
    no_grade: str | None = None
    left_out: tuple[str, ...] = field(default=())


def _share(percent: float, source: str, place: str, standing: Standing) -> Cited:
    return Cited(percent / 100.0, "share", source, place, standing)


_VET = "criteria for instruments"
VETERINARY = Scheme(
    key="veterinary-consensus",
    name="veterinary consensus 2007, kept in 2018",
    source="ACVIM2007",
    made_for="animals",
    criteria=(
        Criterion(
            key="bias",
            measure="bias",
            sense="at most",
            limit=Cited(10.0, "mmHg", "ACVIM2007", _VET, "from memory"),
            in_ranges=True,
        ),
        Criterion(
            key="sd",
            measure="sd",
            sense="at most",
            limit=Cited(15.0, "mmHg", "AmJVetRes2020", "81:635, quotes the consensus", "as quoted"),
            in_ranges=True,
        ),
        Criterion(
            key="correlation",
            measure="correlation",
            sense="at least",
            limit=Cited(0.9, "r", "ACVIM2007", _VET, "from memory"),
        ),
        Criterion(
            key="within-10",
            measure="share-within",
            sense="at least",
            band=10.0,
            limit=_share(50.0, "Seliskar2013", "Vet Anaesth Analg 40:21-27, quotes the consensus", "as quoted"),
            in_ranges=True,
        ),
        Criterion(
            key="within-20",
            measure="share-within",
            sense="at least",
            band=20.0,
            limit=_share(80.0, "Seliskar2013", "Vet Anaesth Analg 40:21-27, quotes the consensus", "as quoted"),
            in_ranges=True,
        ),
        Criterion(
            key="animals",
            measure="animals",
            sense="at least",
            reference="intra-arterial",
            limit=Cited(8.0, "animals", "ACVIM2007", _VET, "from memory"),
        ),
        Criterion(
            key="animals",
            measure="animals",
            sense="at least",
            reference="indirect",
            limit=Cited(25.0, "animals", "ACVIM2007", _VET, "from memory"),
        ),
        Criterion(
            key="publication",
            measure="publication",
            sense="at least",
            limit=Cited(1.0, "refereed paper", "ACVIM2007", _VET, "from memory"),
        ),
    ),
)

_ISO = "ISO81060part2"


def _spread(
    key: str,
    measure: Literal["reference-at-most", "reference-at-least"],
    pressure: float,
    percent: float,
    quantity: str,
    reference: ReferenceKind,
) -> Criterion:
    seen = reference == "intra-arterial"
    return Criterion(
        key=key,
        measure=measure,
        sense="at least",
        band=pressure,
        quantity=quantity,
        reference=reference,
        limit=_share(
            percent,
            _ISO,
            "6.1.5" if seen else "spread of the reference, without a catheter",
            "published" if seen else "from memory",
        ),
    )


HUMAN_STANDARD = Scheme(
    key="iso-81060-2",
    name="ISO 81060-2",
    source=_ISO,
    made_for="people",
    left_out=("dead-band", "observers"),
    criteria=(
        Criterion(
            key="criterion-1-mean",
            measure="bias",
            sense="at most",
            limit=Cited(5.0, "mmHg", _ISO, "5.2.4.1.2 a and 6.2.6", "published"),
        ),
        Criterion(
            key="criterion-1-sd",
            measure="sd-all-pairs",
            sense="at most",
            limit=Cited(8.0, "mmHg", _ISO, "5.2.4.1.2 a and 6.2.6", "published"),
        ),
        Criterion(key="criterion-2", measure="sd-of-animal-means", sense="at most", limit=None, reference="indirect"),
        Criterion(
            key="animals",
            measure="animals",
            sense="at least",
            reference="indirect",
            limit=Cited(85.0, "subjects", _ISO, "sample size, reference without a catheter", "published"),
        ),
        Criterion(
            key="pairs",
            measure="pairs",
            sense="at least",
            reference="indirect",
            limit=Cited(255.0, "pairs", _ISO, "sample size, reference without a catheter", "published"),
        ),
        Criterion(
            key="animals",
            measure="animals",
            sense="at least",
            reference="intra-arterial",
            limit=Cited(15.0, "subjects", _ISO, "sample size, reference by catheter", "from memory"),
        ),
        Criterion(
            key="pairs",
            measure="pairs",
            sense="at least",
            reference="intra-arterial",
            limit=Cited(150.0, "pairs", _ISO, "sample size, reference by catheter", "from memory"),
        ),
        Criterion(
            key="pairs-of-an-animal",
            measure="most-pairs-of-an-animal",
            sense="at most",
            reference="intra-arterial",
            limit=Cited(10.0, "pairs", _ISO, "sample size, reference by catheter", "from memory"),
        ),
        _spread("low-enough", "reference-at-most", 100.0, 5.0, "systolic", "indirect"),
        _spread("high-enough", "reference-at-least", 160.0, 5.0, "systolic", "indirect"),
        _spread("raised-enough", "reference-at-least", 140.0, 20.0, "systolic", "indirect"),
        _spread("low-enough", "reference-at-most", 60.0, 5.0, "diastolic", "indirect"),
        _spread("high-enough", "reference-at-least", 100.0, 5.0, "diastolic", "indirect"),
        _spread("raised-enough", "reference-at-least", 85.0, 20.0, "diastolic", "indirect"),
        _spread("low-enough", "reference-at-most", 100.0, 10.0, "systolic", "intra-arterial"),
        _spread("high-enough", "reference-at-least", 160.0, 10.0, "systolic", "intra-arterial"),
        _spread("low-enough", "reference-at-most", 70.0, 10.0, "diastolic", "intra-arterial"),
        _spread("high-enough", "reference-at-least", 85.0, 10.0, "diastolic", "intra-arterial"),
    ),
)

UNIVERSAL = Scheme(
    key="universal-2018",
    name="AAMI/ESH/ISO 2018",
    source="Universal2018",
    made_for="people",
    criteria=(
        Criterion(
            key="within-10",
            measure="share-within",
            sense="at least",
            band=10.0,
            limit=_share(85.0, "Universal2018", "probability of a tolerable error", "published"),
        ),
        Criterion(
            key="animals",
            measure="animals",
            sense="at least",
            limit=Cited(85.0, "subjects", "Universal2018", "sample size", "published"),
        ),
    ),
)

_BHS = "BHS1993"
GRADED = Scheme(
    key="bhs-grades",
    name="British Hypertension Society grades",
    source=_BHS,
    made_for="people",
    grades=("A", "B", "C"),
    no_grade="D",
    criteria=tuple(
        Criterion(
            key=f"grade-{grade}-within-{band:g}",
            measure="share-within",
            sense="at least",
            band=band,
            grade=grade,
            limit=_share(percent, _BHS, "grading criteria", "published"),
        )
        for grade, percents in (("A", (60.0, 85.0, 95.0)), ("B", (50.0, 75.0, 90.0)), ("C", (40.0, 65.0, 85.0)))
        for band, percent in zip((5.0, 10.0, 15.0), percents, strict=True)
    ),
)

_ESH = "ESH2010"


def _bands(percents: tuple[float, float, float], standing: Standing) -> tuple[tuple[float, Cited], ...]:
    return tuple(
        (band, _share(percent, _ESH, "part 1", standing))
        for band, percent in zip((5.0, 10.0, 15.0), percents, strict=True)
    )


INTERNATIONAL = Scheme(
    key="esh-2010",
    name="ESH International Protocol 2010",
    source=_ESH,
    made_for="people",
    criteria=(
        Criterion(
            key="two-of-three",
            measure="two-of-three-within",
            sense="at least",
            limit=None,
            bands=_bands((73.0, 87.0, 96.0), "published"),
        ),
        *(
            Criterion(key=f"within-{band:g}", measure="share-within", sense="at least", band=band, limit=limit)
            for band, limit in _bands((65.0, 81.0, 93.0), "from memory")
        ),
        Criterion(
            key="two-of-three-of-an-animal",
            measure="animals-with-two-of-three-within",
            sense="at least",
            band=5.0,
            limit=Cited(24.0, "subjects of 33", _ESH, "part 2", "from memory"),
        ),
        Criterion(
            key="none-of-an-animal",
            measure="animals-with-none-within",
            sense="at most",
            band=5.0,
            limit=Cited(3.0, "subjects of 33", _ESH, "part 2", "from memory"),
        ),
        Criterion(
            key="animals",
            measure="animals",
            sense="at least",
            limit=Cited(33.0, "subjects", _ESH, "sample size", "published"),
        ),
        Criterion(
            key="pairs",
            measure="pairs",
            sense="at least",
            limit=Cited(99.0, "pairs", _ESH, "sample size", "published"),
        ),
    ),
)

_PART_3 = "ISO81060part3"
CONTINUOUS = Scheme(
    key="iso-81060-3",
    name="ISO 81060-3",
    source=_PART_3,
    made_for="people",
    criteria=(
        Criterion(
            key="mean",
            measure="bias",
            sense="at most",
            limit=Cited(6.0, "mmHg", _PART_3, "accuracy", "published"),
        ),
        Criterion(key="sd", measure="sd", sense="at most", limit=Cited(10.0, "mmHg", _PART_3, "accuracy", "published")),
        Criterion(
            key="effective-pairs",
            measure="effective-pairs",
            sense="at least",
            limit=Cited(278.0, "effective readings", _PART_3, "formula 6", "published"),
        ),
    ),
)

SCHEMES: dict[str, Scheme] = {
    each.key: each for each in (VETERINARY, HUMAN_STANDARD, UNIVERSAL, GRADED, INTERNATIONAL, CONTINUOUS)
}
