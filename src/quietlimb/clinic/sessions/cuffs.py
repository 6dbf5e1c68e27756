"""The cuffs of a practice for one limb: those that fit first, the others with the direction of their error in words."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from django.utils.translation import gettext as _

from quietlimb.clinic.equipment.models import Cuff
from quietlimb.engine.circumstances import Species
from quietlimb.engine.standards.cuff_width import (
    LARGEST_CM,
    NARROWEST_ACCEPTED,
    STRONG_WARNING_ABOVE,
    STRONG_WARNING_BELOW,
    TARGET,
    WIDEST_ACCEPTED,
    judge_width,
)
from quietlimb.words.cuffs import fit_words
from quietlimb.words.numerals import decimals_beside

# No share is rounded across one of these: 29.8 % is not shown as 30 % that does not fit.
EDGES = [
    100.0 * edge.value for edge in (STRONG_WARNING_BELOW, NARROWEST_ACCEPTED, WIDEST_ACCEPTED, STRONG_WARNING_ABOVE)
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """A cuff on a limb; `words` say its name, width, share of the limb, and how it fits or which way it errs."""

    cuff: Cuff
    fits: bool
    words: str


def judged_cuffs(cuffs: Iterable[Cuff], circumference_cm: float, species: Species) -> list[Judged]:
    """Cuffs that fit, then the others, each nearest to the target first. The marks on a cuff are not asked."""

    def off(cuff: Cuff) -> float:
        return abs(cuff.width_cm / circumference_cm - TARGET[species].value)

    found = []
    for cuff in sorted(cuffs, key=lambda each: (off(each), each.name)):
        judged = judge_width(cuff.width_cm, circumference_cm, species)
        words = _("{name}, {width:g} cm, {share} % of the limb, {fit}").format(
            name=cuff.name, width=cuff.width_cm, share=_share(judged.ratio), fit=fit_words(judged.fit)
        )
        found.append(Judged(cuff=cuff, fits=judged.fit == "fits", words=words))
    return sorted(found, key=lambda each: not each.fits)


def _share(ratio: float) -> str:
    share = 100.0 * ratio
    return f"{share:.{decimals_beside(share, EDGES)}f}"


def choices_of(
    cuffs: Iterable[Cuff], circumference_cm: float | None, species: Species, overdue: Mapping[object, str]
) -> list[tuple[str, str | list[tuple[str, str]]]]:
    """The choices of a form, in two groups where the circumference is told; else by width.

    overdue : what is said of those whose check is, by key; it warns, and neither bars nor moves them
    """

    def warned(cuff: Cuff, words: str) -> tuple[str, str]:
        return str(cuff.pk), f"{words} ({overdue[cuff.pk]})" if cuff.pk in overdue else words

    nothing: tuple[str, str | list[tuple[str, str]]] = ("", "---------")
    if circumference_cm is None:
        return [nothing, *(warned(each, _("{0.name}, {0.width_cm:g} cm").format(each)) for each in cuffs)]
    judged = judged_cuffs(cuffs, circumference_cm, species)
    groups = ((_("Fit this limb"), True), (_("Do not fit"), False))
    told = [(name, [warned(each.cuff, each.words) for each in judged if each.fits == fits]) for name, fits in groups]
    return [nothing, *(group for group in told if group[1])]


def circumference_of(told: object) -> float | None:
    """A circumference as it is typed, with point or comma [cm]; None where it is none yet, or not possible."""
    try:
        found = float(str(told).strip().replace(",", "."))
    except ValueError:
        return None
    return found if math.isfinite(found) and 0.0 < found <= LARGEST_CM else None
