"""How a cuff fits, in readable words."""

from __future__ import annotations

from collections.abc import Mapping

from quietlimb.words.language import _, mark

FITS: Mapping[str, str] = {
    "fits": mark("fits"),
    "narrow": mark("slightly narrow: may read high"),
    "far too narrow": mark("far too narrow: expect a high reading"),
    "wide": mark("slightly wide: may read low"),
    "far too wide": mark("far too wide: expect a low reading"),
}

REMARKS: Mapping[str, str] = {
    "limb-unusually-thin": mark(
        "{circumference_cm:g} cm is thin for the limb or tail of a {species}. Is it in centimetres, and measured "
        "around?"
    ),
    "limb-unusually-thick": mark(
        "{circumference_cm:g} cm is thick for the limb or tail of a {species}. Is it in centimetres?"
    ),
}

_SPECIES: Mapping[str, str] = {"cat": mark("cat"), "dog": mark("dog")}

HOW_TO_MEASURE = mark(
    "Measure around the limb at the middle of where the cuff will lie, hair flat, tape not pulled tight. The width "
    "that counts is that of the inflatable part. Keep the same cuff for the same animal."
)


def fit_words(fit: str) -> str:
    """How a cuff fits and which way it errs: `slightly wide: may read low`."""
    return _(FITS[fit])


def remark_sentence(remark: str, *, circumference_cm: float, species: str) -> str:
    """The question that an implausible circumference raises."""
    return _(REMARKS[remark]).format(circumference_cm=circumference_cm, species=_(_SPECIES[species]))


def how_to_measure() -> str:
    """How to measure the limb for a cuff."""
    return _(HOW_TO_MEASURE)
