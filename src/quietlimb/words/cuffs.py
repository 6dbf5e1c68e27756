"""How a cuff fits, in readable words."""

from __future__ import annotations

from collections.abc import Mapping

from quietlimb.engine.circumstances import Species
from quietlimb.engine.standards.cuff_width import (
    NARROWEST_ACCEPTED,
    STRONG_WARNING_ABOVE,
    STRONG_WARNING_BELOW,
    TARGET,
    WIDEST_ACCEPTED,
)
from quietlimb.words.language import _, mark
from quietlimb.words.sources import source_and_standing

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


def judged_by(species: Species) -> str:
    """The shares of the limb by which a cuff is judged, each with its source and how far it was checked."""
    target = TARGET[species]
    return _(
        "Judged by the width as a share of the limb: best {target:.0f} % in a {species} {target_source}; accepted "
        "{narrowest:.0f} to {widest:.0f} % {accepted_source}; far off under {below:.0f} % and over {above:.0f} % "
        "{far_source}."
    ).format(
        target=100.0 * target.value,
        species=_(_SPECIES[species]),
        target_source=source_and_standing(target.source, target.standing),
        narrowest=100.0 * NARROWEST_ACCEPTED.value,
        widest=100.0 * WIDEST_ACCEPTED.value,
        accepted_source=source_and_standing(WIDEST_ACCEPTED.source, WIDEST_ACCEPTED.standing),
        below=100.0 * STRONG_WARNING_BELOW.value,
        above=100.0 * STRONG_WARNING_ABOVE.value,
        far_source=source_and_standing(STRONG_WARNING_ABOVE.source, STRONG_WARNING_ABOVE.standing),
    )


def how_to_measure() -> str:
    """How to measure the limb for a cuff."""
    return _(HOW_TO_MEASURE)
