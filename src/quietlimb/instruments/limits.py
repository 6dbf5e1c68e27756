"""By what an instrument or a cuff is judged: limits to choose from, each a cited figure.

The standards are made for people and none is a veterinary requirement: they are yardsticks. Their texts were not at
hand, so their figures are from memory and must be checked in the purchased standard.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final, TypeVar

from quietlimb.engine.errors import ParameterError
from quietlimb.engine.values import Cited

NON_AUTOMATED = "ISO81060Part1"
AUTOMATED = "IEC80601"
OIML_NON_AUTOMATED = "OIMLR16Part1"
OIML_AUTOMATED = "OIMLR16Part2"


@dataclass(frozen=True, slots=True, kw_only=True)
class PressureLimit:
    """Largest error of a pressure shown, to either side: a fixed one, or a share of the reading where that is larger.

    code  : by which it is chosen
    most  : [mmHg]
    share : of the reference pressure [share]; None where the limit is the same at every pressure
    """

    code: str
    most: Cited
    share: Cited | None = None

    def at(self, reference_mmhg: float) -> Cited:
        """The limit at this pressure. [mmHg]"""
        if self.share is None or self.share.value * reference_mmhg <= self.most.value:
            return self.most
        share = self.share
        place = f"{share.place}, {100.0 * share.value:g} % of {reference_mmhg:g} mmHg"
        return Cited(share.value * reference_mmhg, "mmHg", share.source, place, share.standing)


@dataclass(frozen=True, slots=True, kw_only=True)
class LeakLimit:
    """Largest fall of the pressure in a closed cuff. [mmHg/min]"""

    code: str
    most: Cited


@dataclass(frozen=True, slots=True, kw_only=True)
class ExhaustLimit:
    """Longest time in which the opened valve lets the pressure fall from one pressure to another.

    start, end : [mmHg]
    most       : [s]
    """

    code: str
    start: Cited
    end: Cited
    most: Cited


@dataclass(frozen=True, slots=True, kw_only=True)
class BleedLimit:
    """Slowest and fastest fall [mmHg/s] that the bleed valve must hold between two pressures [mmHg]."""

    code: str
    start: Cited
    end: Cited
    least: Cited
    most: Cited


_ERROR, _LEAK, _EXHAUST, _BLEED = "cuff pressure error", "air leak", "rapid exhaust", "bleed valve"

STATIC_LIMITS: Final[Mapping[str, PressureLimit]] = {
    limit.code: limit
    for limit in (
        PressureLimit(code="non-automated", most=Cited(3.0, "mmHg", NON_AUTOMATED, _ERROR, "from memory")),
        PressureLimit(
            code="automated",
            most=Cited(3.0, "mmHg", AUTOMATED, _ERROR, "from memory"),
            share=Cited(0.02, "share", AUTOMATED, _ERROR, "from memory"),
        ),
        PressureLimit(code="first-verification", most=Cited(3.0, "mmHg", OIML_NON_AUTOMATED, _ERROR, "from memory")),
        PressureLimit(code="in-use", most=Cited(4.0, "mmHg", OIML_NON_AUTOMATED, _ERROR, "from memory")),
    )
}
DISPLAY_LIMITS: Final[Mapping[str, PressureLimit]] = {
    "house-rule": PressureLimit(
        code="house-rule", most=Cited(5.0, "mmHg", "practice", "display against hand-held gauge", "common practice")
    )
}
# Difference of the falling from the rising course, of a dial.
HYSTERESIS: Final = Cited(4.0, "mmHg", NON_AUTOMATED, "hysteresis of a dial", "from memory")

LEAK_LIMITS: Final[Mapping[str, LeakLimit]] = {
    limit.code: limit
    for limit in (
        LeakLimit(code="non-automated", most=Cited(4.0, "mmHg/min", NON_AUTOMATED, _LEAK, "from memory")),
        LeakLimit(code="automated", most=Cited(6.0, "mmHg/min", OIML_AUTOMATED, _LEAK, "from memory")),
    )
}
EXHAUST_LIMITS: Final[Mapping[str, ExhaustLimit]] = {
    limit.code: limit
    for limit in (
        ExhaustLimit(
            code="adult",
            start=Cited(260.0, "mmHg", NON_AUTOMATED, _EXHAUST, "from memory"),
            end=Cited(15.0, "mmHg", NON_AUTOMATED, _EXHAUST, "from memory"),
            most=Cited(10.0, "s", NON_AUTOMATED, _EXHAUST, "from memory"),
        ),
        ExhaustLimit(
            code="neonatal",
            start=Cited(150.0, "mmHg", NON_AUTOMATED, _EXHAUST, "from memory"),
            end=Cited(5.0, "mmHg", NON_AUTOMATED, _EXHAUST, "from memory"),
            most=Cited(5.0, "s", NON_AUTOMATED, _EXHAUST, "from memory"),
        ),
    )
}
BLEED_LIMITS: Final[Mapping[str, BleedLimit]] = {
    "non-automated": BleedLimit(
        code="non-automated",
        start=Cited(250.0, "mmHg", NON_AUTOMATED, _BLEED, "from memory"),
        end=Cited(50.0, "mmHg", NON_AUTOMATED, _BLEED, "from memory"),
        least=Cited(2.0, "mmHg/s", NON_AUTOMATED, _BLEED, "from memory"),
        most=Cited(3.0, "mmHg/s", NON_AUTOMATED, _BLEED, "from memory"),
    )
}


Limit = TypeVar("Limit")


def chosen(limits: Mapping[str, Limit], code: str) -> Limit:
    """The limit of this code.

    Raises
    ------
    ParameterError : `unknown-limit`; there is none of that code.
    """
    if code not in limits:
        raise ParameterError("unknown-limit", f"there is no limit {code!r}", f"choose one of {', '.join(limits)}")
    return limits[code]
