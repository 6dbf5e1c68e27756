"""The charted pressure beside the guideline average: how far they differ, in which categories they fall, and why.

    guideline - charted = mean over the readings that the guideline keeps of (pressure then - pressure at the end)
                        + mean over them of (reading - pressure then)

The first part is a fall or a rise that was averaged in. The second is split into readings that the series speaks
against, and ordinary scatter, which an average of few readings hears otherwise than a weighing. The parts add up.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from quietlimb.engine.session.charted import ChartedPressure
from quietlimb.engine.standards.rule_sets import DEFAULT, rule_set

TOLD_FROM_MMHG = 0.05
Cause = Literal["fall-averaged-in", "rise-averaged-in", "far-readings-averaged-in", "scatter"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One part of the difference: what, by how much [mmHg], and from which readings (1-based ordinals)."""

    cause: Cause
    mmhg: float
    readings: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class TwoValues:
    """Charted and guideline systolic pressure side by side.

    difference_mmhg     : guideline minus charted
    charted_category, guideline_category : by the unrounded values; None where no category may be named, as of an
                          average of readings that were not consistent
    parts               : of the difference, the largest first; they add up to it
    consistency         : the guideline's rule with the definition of variability that was chosen, in words and figures
    consistent, enough  : whether the guideline's own conditions were met
    """

    charted_mmhg: float
    guideline_mmhg: float
    difference_mmhg: float
    charted_category: str | None
    guideline_category: str | None
    parts: tuple[Part, ...]
    consistency: str
    consistent: bool
    enough: bool

    @property
    def to_choose(self) -> bool:
        """Whether there is something to choose: the two have categories, and different ones."""
        return self.guideline_category is not None and self._apart

    @property
    def to_explain(self) -> bool:
        """Whether the categories are not the same and the difference shows at one decimal; a boundary may lie between
        closer ones."""
        return self._apart and any(abs(part.mmhg) >= TOLD_FROM_MMHG for part in self.parts)

    @property
    def _apart(self) -> bool:
        return self.charted_category != self.guideline_category


def two_values(charted: ChartedPressure, *, rules: str = DEFAULT) -> TwoValues | None:
    """Both values and what sets them apart; None where either is missing."""
    guideline = charted.guideline
    if charted.systolic is None or guideline is None or guideline.systolic is None:
        return None
    chosen = rule_set(rules, charted.series.circumstances.species)
    value, kept = charted.systolic.value, guideline.kept
    has_category = charted.gets_category and not guideline.varies_too_much
    at_minute = np.array([charted.readings[k - 1].systolic_expected for k in kept], dtype=np.float64)
    error = charted.series.systolic[[k - 1 for k in kept]] - at_minute
    far = np.array([charted.readings[k - 1].systolic_is_far for k in kept], dtype=bool)
    moved = float(np.mean(at_minute - value))
    parts = [
        Part(cause="fall-averaged-in" if moved >= 0.0 else "rise-averaged-in", mmhg=moved, readings=kept),
        Part(
            cause="far-readings-averaged-in",
            mmhg=float(error[far].sum()) / len(kept),
            readings=tuple(k for k, is_far in zip(kept, far, strict=True) if is_far),
        ),
        Part(
            cause="scatter",
            mmhg=float(error[~far].sum()) / len(kept),
            readings=tuple(k for k, is_far in zip(kept, far, strict=True) if not is_far),
        ),
    ]
    return TwoValues(
        charted_mmhg=value,
        guideline_mmhg=guideline.systolic,
        difference_mmhg=guideline.systolic - value,
        charted_category=chosen.category_of(value) if charted.gets_category else None,
        guideline_category=chosen.category_of(guideline.systolic) if has_category else None,
        parts=tuple(sorted((part for part in parts if part.readings), key=lambda part: -abs(part.mmhg))),
        consistency=guideline.rule,
        consistent=guideline.consistent,
        enough=guideline.enough,
    )
