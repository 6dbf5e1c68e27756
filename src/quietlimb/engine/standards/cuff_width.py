"""Width of the cuff as a share of the limb circumference, cats and dogs.

The accepted 30 to 40 % is recalled from the ACVIM statement of 2018 and was used in the 108-dog study that was read
(Top Companion Anim Med 2021;42:100492). A clinical review of 2022 gives the targets 40 % for dogs and 30 % for cats; we
aim at 35 % in cats, the middle of the accepted range. A clinical column that quotes a textbook wants the ratio over
25 % and under 50 %; beyond that we warn strongly, and refuse nothing: it may be the only cuff in the house. One study
of dogs found 40 to 60 % most accurate (Sawyer et al. 1991): the sources disagree.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from quietlimb.engine.circumstances import Circumstances, Species
from quietlimb.engine.errors import ParameterError
from quietlimb.engine.values import Cited

Fit = Literal["fits", "narrow", "far too narrow", "wide", "far too wide"]
Direction = Literal["none", "reads high", "reads low"]

NARROWEST_ACCEPTED = Cited(0.30, "share", "ACVIM2018", "protocol, cuff width", "from memory")
WIDEST_ACCEPTED = Cited(0.40, "share", "ACVIM2018", "protocol, cuff width", "from memory")
TARGET: dict[Species, Cited] = {
    "dog": Cited(0.40, "share", "ClinicalReview2022", "cuff width", "published"),
    "cat": Cited(0.35, "share", "ACVIM2018", "middle of the accepted range", "derived"),
}
STRONG_WARNING_BELOW = Cited(0.25, "share", "StepienColumn", "clinical column quoting a textbook", "as quoted")
STRONG_WARNING_ABOVE = Cited(0.50, "share", "StepienColumn", "clinical column quoting a textbook", "as quoted")
# So that 3.0 cm on 10.0 cm counts as 30 %, whatever the last binary digit.
TOLERANCE = Cited(1e-9, "share", "Quietlimb", "rounding of binary fractions", "invented")

# What a session with another cuff may stand off, the same each time in one animal.
OTHER_CUFF_SD = Cited(6.0, "mmHg", "Quietlimb", "another cuff", "invented")

LARGEST_CM = 100.0


@dataclass(frozen=True, slots=True, kw_only=True)
class WidthJudgement:
    """Cuff width over limb circumference, how it fits, and which way the reading errs.

    ratio : width / circumference [share]
    """

    ratio: float
    fit: Fit
    direction: Direction


def _centimetres(value: float, name: str) -> float:
    if not (math.isfinite(value) and 0.0 < value <= LARGEST_CM):
        raise ParameterError(
            "impossible-length", f"{name} is {value:g} cm", f"give centimetres above 0 and up to {LARGEST_CM:g}"
        )
    return value


def judge_width(width_cm: float, circumference_cm: float, species: Species) -> WidthJudgement:
    """How a cuff fits a limb.

    Parameters
    ----------
    width_cm         : width of the inflatable bladder, above 0. [cm]
    circumference_cm : of the limb at the middle of the cuff, above 0. [cm]
    species          : the limits are the same for both; named because the rule may come to differ.

    Returns
    -------
    WidthJudgement : `fits` from 30 to 40 %, `narrow` from 25 %, `wide` up to 50 %, limits included; a narrow cuff reads
                     high, a wide one reads low.

    Raises
    ------
    ParameterError : a length that is not above 0 and at most 100 cm, or an unknown species.
    """
    if species not in TARGET:
        raise ParameterError("unknown-species", f"species is {species!r}", f"use one of: {', '.join(TARGET)}")
    ratio = _centimetres(width_cm, "cuff width") / _centimetres(circumference_cm, "limb circumference")
    tolerance = TOLERANCE.value
    if ratio < STRONG_WARNING_BELOW.value - tolerance:
        return WidthJudgement(ratio=ratio, fit="far too narrow", direction="reads high")
    if ratio < NARROWEST_ACCEPTED.value - tolerance:
        return WidthJudgement(ratio=ratio, fit="narrow", direction="reads high")
    if ratio <= WIDEST_ACCEPTED.value + tolerance:
        return WidthJudgement(ratio=ratio, fit="fits", direction="none")
    if ratio <= STRONG_WARNING_ABOVE.value + tolerance:
        return WidthJudgement(ratio=ratio, fit="wide", direction="reads low")
    return WidthJudgement(ratio=ratio, fit="far too wide", direction="reads low")


def cuffs_compared(around: Sequence[Circumstances]) -> list[str | None]:
    """What is compared of the cuff of each session, None where none is told; two that are equal count as one cuff.

    How the width fits the limb, where every session that tells of a cuff tells width and circumference; the width,
    where every one tells that; otherwise the names.
    """
    told = [each for each in around if each.cuff is not None or each.cuff_width_cm is not None]
    fits = [_fit(each) for each in around]
    if all(_fit(each) is not None for each in told):
        return [*fits]
    widths = [None if each.cuff_width_cm is None else f"{each.cuff_width_cm:g} cm wide" for each in around]
    if all(each.cuff_width_cm is not None for each in told):
        return [*widths]
    names = [None if each.cuff is None else " ".join(each.cuff.casefold().split()) for each in around]
    return [name or width for name, width in zip(names, widths, strict=True)]


def _fit(around: Circumstances) -> Fit | None:
    if around.cuff_width_cm is None or around.limb_circumference_cm is None:
        return None
    return judge_width(around.cuff_width_cm, around.limb_circumference_cm, around.species).fit
