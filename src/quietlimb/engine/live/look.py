"""One look at the deflation so far: what is known of its reading already, and whether more would change it."""

from __future__ import annotations

from dataclasses import dataclass

from quietlimb.engine.reading import Reading
from quietlimb.engine.values import Estimate

STEADY_MMHG, STEADY_LOOKS, BELOW_DIASTOLIC_MMHG = 1.0, 3, 10.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Look:
    """A look.

    at_s       : source time of the newest sample looked at [s]
    level_mmhg : cuff pressure there
    whole      : `read` of the deflation so far, as it is
    reading    : the same with only those values that are known
    steady     : looks one after the other, to this one, in which no value moved
    """

    at_s: float
    level_mmhg: float
    whole: Reading
    reading: Reading
    steady: int

    @property
    def enough(self) -> bool:
        low = self.reading.diastolic
        return self.steady >= STEADY_LOOKS and low is not None and self.level_mmhg < low.value - BELOW_DIASTOLIC_MMHG


def look_at(whole: Reading, now_s: float, level_mmhg: float, before: Look | None) -> Look:
    steady = 0
    if whole.verdict == "keep" and None not in _values(whole):
        steady = 1
        if before is not None and _unmoved(whole, before.whole):
            steady = before.steady + 1
    return Look(at_s=now_s, level_mmhg=level_mmhg, whole=whole, reading=whole, steady=steady)


def _values(reading: Reading) -> tuple[Estimate | None, ...]:
    return reading.systolic, reading.mean, reading.diastolic


def _unmoved(now: Reading, before: Reading) -> bool:
    return all(
        a is not None and b is not None and abs(a.value - b.value) <= STEADY_MMHG
        for a, b in zip(_values(now), _values(before), strict=True)
    )
