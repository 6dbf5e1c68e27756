"""Which cuff for this limb: widths in order of worth, and whether the circumference itself is plausible."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from quietlimb.engine.circumstances import Species
from quietlimb.engine.errors import ParameterError
from quietlimb.engine.standards.cuff_width import TARGET, Direction, Fit, judge_width
from quietlimb.engine.values import Cited

# Half centimetres up to 5, then whole ones; 16 cm is half of the largest plausible circumference of a dog.
DEFAULT_WIDTHS_CM: tuple[float, ...] = (*(k / 2 for k in range(2, 11)), *(float(k) for k in range(6, 17)))

PLAUSIBLE_CIRCUMFERENCE_CM: dict[Species, tuple[Cited, Cited]] = {
    "cat": (
        Cited(3.0, "cm", "practice", "limbs and tails of cats", "common practice"),
        Cited(13.0, "cm", "practice", "limbs and tails of cats", "common practice"),
    ),
    "dog": (
        Cited(4.0, "cm", "practice", "limbs and tails of dogs of any size", "common practice"),
        Cited(32.0, "cm", "practice", "limbs and tails of dogs of any size", "common practice"),
    ),
}

CircumferenceRemark = Literal["limb-unusually-thin", "limb-unusually-thick"]

_FIT_ORDER: dict[Fit, int] = {"fits": 0, "narrow": 1, "wide": 1, "far too narrow": 2, "far too wide": 2}


@dataclass(frozen=True, slots=True, kw_only=True)
class CuffChoice:
    """One cuff for one limb.

    width_cm  : of the inflatable bladder [cm]
    ratio     : width / circumference [share]
    direction : which way a reading with it errs
    """

    width_cm: float
    ratio: float
    fit: Fit
    direction: Direction


def cuff_choices(
    circumference_cm: float, species: Species, widths_cm: Sequence[float] | None = None
) -> tuple[CuffChoice, ...]:
    """Every width judged for this limb, best first.

    Parameters
    ----------
    circumference_cm : at the middle of where the cuff will lie. [cm]
    species          : sets the target, 40 % in dogs and 35 % in cats.
    widths_cm        : bladder widths in the house; by default half centimetres from 1 to 5, then whole ones to 16. [cm]

    Returns
    -------
    tuple of CuffChoice : those that fit first, the widest of them leading, because a slightly wide cuff errs less than
                          a narrow one; then those beyond the accepted range, then those far beyond, each by distance
                          from the target.

    Raises
    ------
    ParameterError : a length that is not above 0 and at most 100 cm; no widths at all.
    """
    widths = DEFAULT_WIDTHS_CM if widths_cm is None else tuple(widths_cm)
    if not widths:
        raise ParameterError("no-cuffs", "no cuff width was given", "give at least one bladder width in centimetres")
    choices = []
    for width in sorted(set(widths)):
        judged = judge_width(width, circumference_cm, species)
        choices.append(CuffChoice(width_cm=width, ratio=judged.ratio, fit=judged.fit, direction=judged.direction))
    target = TARGET[species].value

    def worth(choice: CuffChoice) -> tuple[int, float, float]:
        distance = 0.0 if choice.fit == "fits" else abs(choice.ratio - target)
        return _FIT_ORDER[choice.fit], distance, -choice.width_cm

    return tuple(sorted(choices, key=worth))


def circumference_remark(circumference_cm: float, species: Species) -> CircumferenceRemark | None:
    """What to ask about when cats, or dogs, have no limb or tail of this circumference; None when they have."""
    thinnest, thickest = (limit.value for limit in PLAUSIBLE_CIRCUMFERENCE_CM[species])
    if circumference_cm < thinnest:
        return "limb-unusually-thin"
    return "limb-unusually-thick" if circumference_cm > thickest else None
