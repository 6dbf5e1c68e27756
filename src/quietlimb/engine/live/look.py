"""One look at the deflation so far: what is known of its reading already, and whether more would change it.

The limits are invented: set on 40 simulated recordings of two artery families. There the intervals of values as first
shown held as often as those of the finished recording.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace

from quietlimb.engine.quantiles import median
from quietlimb.engine.reading import Reading
from quietlimb.engine.values import Estimate

STEADY_MMHG, STEADY_LOOKS = 1.0, 3  # so little, over so many looks, is no change
WELL_BELOW_MMHG = 15.0  # under the diastolic pressure the flank is over
# Where these spoil a look, what seems a pulse may be the noise of an empty cuff.
NO_ARTERY_YET = ("weak-pulse", "coarse-steps", "no-envelope", "no-pulse", "few-pulses")
SAME_PERIOD = 0.2  # share by which the pulse's period may differ from look to look

Values = tuple[Estimate | None, Estimate | None, Estimate | None]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Look:
    """A look at the deflation so far.

    at_s       : source time of the newest sample looked at [s]
    level_mmhg : cuff pressure there
    so_far     : `read` of the deflation so far, as if the recording ended there
    reading    : the same with only those values that are known: given by this look and by the one before
    given      : systolic, mean and diastolic pressure of the last looks that were kept without a gap, oldest first
    period_s   : of the pulse, where two looks agree on it; None otherwise
    kept       : how many pulses this look keeps
    counted    : how many pulses this look and the one before keep, both; the newest pulse comes and goes with its end.
                 None count while both show no artery
    """

    at_s: float
    level_mmhg: float
    so_far: Reading
    reading: Reading
    given: tuple[Values, ...]
    period_s: float | None
    kept: int
    counted: int

    @property
    def shows_no_artery(self) -> bool:
        """Whether nothing so far tells these pulses from noise."""
        return self.is_spoiled_by(NO_ARTERY_YET)

    def is_spoiled_by(self, codes: Collection[str]) -> bool:
        """Whether one of these findings spoils what was seen so far."""
        return any(one.severity == "spoils" and one.code in codes for one in self.so_far.findings)

    @property
    def enough(self) -> bool:
        """Whether nothing that still comes would change what is given."""
        diastolic = self.reading.diastolic
        if diastolic is None or len(self.given) < STEADY_LOOKS or self.level_mmhg > diastolic.value - WELL_BELOW_MMHG:
            return False
        return all(_steady(column) for column in zip(*self.given, strict=True))


def look_at(so_far: Reading, *, at_s: float, level_mmhg: float, before: Look | None) -> Look:
    """A look.

    so_far : the reading of the deflation so far
    before : the look before; None for the first
    """
    known = replace(so_far, systolic=None, mean=None, diastolic=None, pulse_rate=None)
    given: tuple[Values, ...] = ()
    period_s = None
    if before is not None:
        old = before.so_far
        known = replace(
            so_far,
            systolic=so_far.systolic if old.systolic is not None else None,
            mean=so_far.mean if old.mean is not None else None,
            diastolic=so_far.diastolic if old.diastolic is not None else None,
            pulse_rate=so_far.pulse_rate if old.pulse_rate is not None else None,
        )
        mine, theirs = _period(so_far), _period(old)
        if mine is not None and theirs is not None and abs(mine - theirs) < SAME_PERIOD * theirs:
            period_s = mine
    kept = _kept(so_far)
    values = (so_far.systolic, so_far.mean, so_far.diastolic)
    if so_far.verdict == "keep" and None not in values:
        given = (*(() if before is None else before.given), values)[-STEADY_LOOKS:]
    look = Look(
        at_s=at_s,
        level_mmhg=level_mmhg,
        so_far=so_far,
        reading=known,
        given=given,
        period_s=period_s,
        kept=kept,
        counted=0 if before is None else min(kept, before.kept),
    )
    if look.shows_no_artery and before is not None and before.shows_no_artery:
        return replace(look, counted=0)
    return look


def _steady(column: tuple[Estimate | None, ...]) -> bool:
    values = [one.value for one in column if one is not None]
    return max(values) - min(values) <= STEADY_MMHG


def _kept(reading: Reading) -> int:
    pulses = None if reading.evidence is None else reading.evidence.pulses
    return 0 if pulses is None else int(pulses.kept.sum())


def _period(reading: Reading) -> float | None:
    """Of the pulses found, the usual one [s]; a reading that is not kept has no pulse rate but may have it."""
    pulses = None if reading.evidence is None else reading.evidence.pulses
    return None if pulses is None else median(pulses.period_s)
